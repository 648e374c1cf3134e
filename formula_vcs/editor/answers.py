"""What an editor asks of one place: what stands there, what could, where it leads, what would mend it."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any, Final, NamedTuple

from formula_vcs.editor.caret import ROW, Caret, caret, word_at
from formula_vcs.editor.desk import Desk
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.cost import choose
from formula_vcs.law.compliance import compliance_of
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.reports.sheets import limits
from formula_vcs.rules.accepted import accept_lines
from formula_vcs.setup.schemas import NAMES, schema_text
from formula_vcs.toml import syntax
from formula_vcs.words.escape import markdown
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.numbers import shown
from formula_vcs.workspace.snapshot import Refused, Snapshot, kind_of

_NEAREST: Final = late_pattern(r"did you mean '([^']{1,200})'")
_WRONG: Final = late_pattern(r"'([^']{1,200})'")
_QUANTITY: Final = late_pattern(r"^[\"'][^\"']*\d\s*(\S*)$")
_NUMBER: Final = late_pattern(r"\d+(?:\.\d+)?")
_CHARGES: Final = 4  # parts of the path of a charge
_MOST_INCI: Final = 12
_MOST_USES: Final = 5000
# what a key names: the kind of file that it leads to
_LEADS: Final = {"mixer": "equipment", "into": "equipment", "from": "equipment", "balance": "equipment"}


class Offer(NamedTuple):
    """A word that could stand here: what it is, what it means, and from where to where of the line it goes."""

    word: str
    kind: str
    about: str
    start: int
    end: int


class Spot(NamedTuple):
    """A place of a file: line and column from 0, in characters."""

    path: str
    line: int
    column: int
    end: int


class Hint(NamedTuple):
    """A number that follows from the file, behind the end of a line (from 0)."""

    line: int
    label: str
    about: str


class QuickFix(NamedTuple):
    """One change that would take a finding away: lines from 0, columns in characters; ``sure`` is the likely one."""

    title: str
    line: int
    start: int
    end: int
    text: str
    sure: bool


# Hover


def hover(desk: Desk, path: str, line: int, column: int, day: datetime.date) -> str:
    """Say in Markdown what stands at a position, nothing where there is nothing to say."""
    here = caret(desk.text(path), line, column)
    name = _ingredient_at(here)
    with desk.snapshot() as snapshot:
        if name:
            own = snapshot.ingredient(name)
            return "" if own is None else "\n\n".join(_card(own, desk.formula(path), day))
        device = snapshot.equipment(here.word) if here.word in snapshot.ids("equipment") else None
        if device is not None:
            return f"**{markdown(device.title)}** (`{here.word}`): {markdown(device.kind)}"
    node = _node(kind_of(path), here.path)
    takes = node.get("description", "")
    return f"`{'.'.join(here.path)}` takes {markdown(takes)}" if takes and here.key else ""


def _ingredient_at(here: Caret) -> str:
    """Name the ingredient that a position is about: the key of a charge, or a word of a step."""
    if here.table[:1] == ("phase",) and here.table[2:3] == ("charge",):
        return here.table[3] if len(here.table) == _CHARGES else here.key[0] if here.key else ""
    if here.key[:1] in (("add",), ("adjust",), ("ingredient",)) and here.in_value:
        return here.word.rpartition("/")[2]
    return ""


def _card(own: Ingredient, formula: Formula | None, day: datetime.date) -> Iterator[str]:
    supplier = own.get("supplier")
    yield f"**{markdown(own.title)}**" + (f", {markdown(supplier)}" if supplier else "")
    sums = None if formula is None else Breakdown(formula)
    share = None if sums is None else sums.composition.by_ingredient().get(own.id)
    if share is not None:
        yield f"{shown(share, 2, 4)} % of the recipe"
    if own.recipe:
        yield f"made by the recipe `{own.recipe}`"
    held = own.held
    listed = [f"{markdown(inci)} {shown(one.middle, 0, 4)} %" for inci, one in list(held.items())[:_MOST_INCI]]
    if listed:
        yield "INCI: " + ", ".join(listed) + (" ..." if len(held) > _MOST_INCI else "")
    price = choose(own, day, None)
    yield (
        f"Price: {price}"
        if isinstance(price, str)
        else f"Price: {shown(price.per_kg, 2, 4)} {price.currency}/kg on {day}"
    )
    if formula is not None and sums is not None:
        yield from _limits(own, sums, day)


def _limits(own: Ingredient, sums: Breakdown, day: datetime.date) -> Iterator[str]:
    names = {inci.casefold() for inci in own.held}
    for use in limits(compliance_of(sums), day):
        called = [sums.names[key][0] if key in sums.names else key for key in use.keys]
        if names & {name.casefold() for name in called}:
            used, allowed = shown(use.amount.used, 2, 4), shown(use.allowed, 2, 4)
            yield f"Limit: {markdown(' + '.join(called))} {used} of {allowed} % ({markdown(use.row.source)})"


# The schema of the place


@cache
def _schema(kind: str) -> Mapping[str, Any]:
    name = next((name for name, known in NAMES.items() if known == kind), None)
    found: dict[str, Any] = {} if name is None else json.loads(schema_text(name))
    return found


def _node(kind: str, path: Sequence[str]) -> Mapping[str, Any]:
    """Give what the schema says of a path; nothing where it knows none."""
    node: Mapping[str, Any] = _schema(kind)
    for part in path:
        if part == ROW:
            node = node.get("items", {})
            continue
        own = node.get("properties", {}).get(part)
        other = node.get("additionalProperties")
        node = own if own is not None else other if isinstance(other, dict) else {}
    return node


# Completion


def offers(desk: Desk, path: str, line: int, column: int) -> list[Offer]:
    """Give the words that could stand at a position."""
    text = desk.text(path)
    lines = text.split("\n")
    here = caret(text, line, column)
    kind = kind_of(path)
    with desk.snapshot() as snapshot:
        if here.in_value and not (here.in_table and not here.inner):
            return list(_values(snapshot, kind, here, text, (lines[line], column)))
        return list(_keys(snapshot, kind, here, column))


def _keys(snapshot: Snapshot, kind: str, here: Caret, column: int) -> Iterator[Offer]:
    start, end = (here.start, here.end) if here.word else (column, column)
    base = (*here.table, *here.key) if here.in_table else here.table
    if base[:1] == ("phase",) and base[2:] == ("charge",):
        for name in snapshot.ids("ingredients"):
            own = snapshot.ingredient(name)
            yield Offer(name, "ingredient", "" if own is None else own.title, start, end)
        return
    for key, node in _node(kind, base).get("properties", {}).items():
        yield Offer(key, "key", node.get("description", ""), start, end)


def _values(snapshot: Snapshot, kind: str, here: Caret, text: str, place: tuple[str, int]) -> Iterator[Offer]:
    before, column = place[0][: place[1]], place[1]
    node = _node(kind, here.path)
    quoted = before.count('"') % 2 == 1
    start, end = (here.start, here.end) if here.word or quoted else (column, column)
    last = here.path[-1] if here.path else ""
    amount = _QUANTITY.match(before[before.rfind('"') :]) if quoted else None
    if amount:
        unit = amount[1]
        yield from (
            Offer(name, "unit", dimension, column - len(unit), column) for name, dimension in _units(node, unit)
        )
        return
    words: dict[str, str] = dict.fromkeys((*node.get("enum", ()), *_listed(node)), "")
    if "boolean" in _types(node):
        yield from (
            Offer(word, "value", "", *((column, column) if not here.word else (start, end)))
            for word in ("true", "false")
        )
    words |= _names(snapshot, kind, here, last, text)
    yield from (Offer(f'"{word}"', "value", about, start, end) for word, about in words.items())
    for sample in re.findall(r'e\.g\. ("[^"]+")', node.get("description", "")):
        yield Offer(sample, "form", node["description"], start, end)


def _listed(node: Mapping[str, Any]) -> Iterator[str]:
    for inside in (node, node.get("items", {})):
        for one in inside.get("anyOf", ()):
            yield from one.get("enum", ())
        if inside is not node:
            yield from inside.get("enum", ())


def _types(node: Mapping[str, Any]) -> Sequence[str]:
    found = node.get("type", ())
    return [found] if isinstance(found, str) else found


def _names(snapshot: Snapshot, kind: str, here: Caret, last: str, text: str) -> dict[str, str]:
    """Give the names that a value may be: phases and charges, vessels and machines, recipes, ingredients, markets."""
    if last in ("mixer", "balance", "equipment"):
        return {name: _titled(snapshot, name) for name in snapshot.ids("equipment")}
    if kind == "recipe" and last in ("into", "from"):
        own = dict.fromkeys(re.findall(r'^\s*into\s*=\s*"([^"\n]+)"', text, re.MULTILINE), "a vessel of this recipe")
        return {**own, **{name: _titled(snapshot, name) for name in snapshot.ids("equipment")}}
    if kind == "recipe" and last in ("add", "what", "adjust"):
        phases = dict.fromkeys(re.findall(r"^\s*\[phase\.([\w-]+)", text, re.MULTILINE), "a phase")
        charges = {
            f"{phase}/{name}": "a charge"
            for phase, body in re.findall(
                r"^\s*\[phase\.([\w-]+)\.charge\]\n(.*?)(?=^\s*\[|\Z)", text, re.MULTILINE | re.DOTALL
            )
            for name in re.findall(r"^\s*([\w-]+)\s*=", body, re.MULTILINE)
        }
        return {**phases, **charges}
    if last == "recipe":
        return dict.fromkeys(snapshot.ids("recipe"), "a recipe")
    if last in ("ingredient", "shear_with", "wet_with", "after", "before"):
        return dict.fromkeys(snapshot.ids("ingredients"), "an ingredient")
    del here
    return {}


def _titled(snapshot: Snapshot, name: str) -> str:
    device = snapshot.equipment(name)
    return "" if device is None else device.title


def _units(node: Mapping[str, Any], begun: str) -> Iterator[tuple[str, str]]:
    """Give the units of the dimensions that a key takes; of all, where it takes any."""
    from formula_vcs.units.unit_table import TABLE

    takes = node.get("description", "")
    for name, (_, _, _, _, dimension) in TABLE.items():
        if (dimension in takes or "a quantity" in takes) and not dimension.startswith("[") and name.startswith(begun):
            yield name, dimension


# Places


def definition(desk: Desk, path: str, line: int, column: int) -> Spot | None:
    """Find the file, or the line, that a word leads to."""
    here = caret(desk.text(path), line, column)
    name = _ingredient_at(here)
    with desk.snapshot() as snapshot:
        if name and name in snapshot.ids("ingredients"):
            return Spot(snapshot.ids("ingredients")[name], 0, 0, 0)
        last = here.path[-1] if here.path else ""
        if last in ("recipe", "rebuilds") and here.word in snapshot.ids("recipe"):
            return Spot(snapshot.ids("recipe")[here.word], 0, 0, 0)
        if last in ("ingredient", "shear_with", "wet_with", "after", "before") and here.word in snapshot.ids(
            "ingredients"
        ):
            return Spot(snapshot.ids("ingredients")[here.word], 0, 0, 0)
        if here.word in snapshot.ids("equipment"):
            return Spot(snapshot.ids("equipment")[here.word], 0, 0, 0)
    if last in ("add", "what"):
        found = syntax.positions(desk.text(path)).key(("phase", here.word))
        return None if found is None else Spot(path, found[0] - 1, found[1] - 1, found[1] - 1 + len(here.word))
    return None


def uses(desk: Desk, path: str, line: int, column: int) -> list[Spot]:
    """Find where an ingredient is charged: the one at a position, or the one whose file this is."""
    here = caret(desk.text(path), line, column)
    name = path.rpartition("/")[2].removesuffix(".toml") if kind_of(path) == "ingredients" else _ingredient_at(here)
    return list(_uses(desk, name)) if name else []


def _uses(desk: Desk, name: str) -> Iterator[Spot]:
    wanted = name.encode()
    found = 0
    with desk.snapshot() as snapshot:
        for path in snapshot.ids("recipe").values():
            data = snapshot.source.read(path)
            if isinstance(data, Refused) or wanted not in data:
                continue
            positions = syntax.positions(data.decode("utf-8", "replace"))
            for fact in positions.paths():
                if len(fact) == _CHARGES and fact[0] == "phase" and fact[2:] == ("charge", name):
                    spot = positions.key(fact)
                    if spot is not None and found < _MOST_USES:
                        found += 1
                        yield Spot(path, spot[0] - 1, spot[1] - 1, spot[1] - 1 + len(name))


def hints(desk: Desk, path: str) -> list[Hint]:
    """Give what the balance comes to, and the total, at their lines."""
    formula = desk.formula(path)
    if formula is None:
        return []
    positions = syntax.positions(desk.text(path))
    composed = Breakdown(formula).composition
    found: list[Hint] = []
    for charge in composed.balances:
        spot, pct = positions.key(charge.path), composed.pct(charge.key)
        if spot is not None and pct is not None:
            found.append(Hint(spot[0] - 1, f"= {shown(pct, 2, 4)} %", "what is left for the balance"))
    phases = (fact for fact in positions.paths() if fact[0] == "phase" and len(fact) > 1)
    first = min((spot for fact in phases if (spot := positions.key(fact)) is not None), default=None)
    if first is not None and not composed.is_open:
        words = f"total {shown(composed.total, 2, 4)} {composed.measure}"
        found.append(Hint(first[0] - 1, words, "the sum of all charges"))
    return found


# Mends


def fixes(desk: Desk, path: str, finding: Finding, day: datetime.date) -> Iterator[QuickFix]:
    """Give what would mend a finding: the nearest name, a number, a charge, the lines that accept it."""
    lines = desk.text(path).split("\n")
    if not 0 < finding.line <= len(lines):
        return
    yield from _renamed(lines, finding)
    yield from _charged(desk, lines, finding)
    yield from _mended(desk, path, finding, day)
    accepting = accept_lines(finding)
    if accepting is not None and kind_of(path) == "recipe":
        last = len(lines) - 1
        lead = "\n" if not lines[-1] else "\n\n"
        yield QuickFix("Accept this finding (say why)", last, len(lines[-1]), len(lines[-1]), lead + accepting, False)


def _renamed(lines: list[str], finding: Finding) -> Iterator[QuickFix]:
    near = _NEAREST.search(finding.message)
    if near is None:
        return
    # "'shear': 'lo' is not known": the name that is wrong stands last before the nearest one
    wrong = reversed(_WRONG.findall(finding.message[: near.start()]))
    line = lines[finding.line - 1]
    for name in wrong:
        at = line.find(name, max(0, finding.column - 1))
        if at < 0:
            at = line.find(name)
        if at >= 0 and name != near[1]:
            yield QuickFix(f"Change to '{near[1]}'", finding.line - 1, at, at + len(name), near[1], True)
            return


def _charged(desk: Desk, lines: list[str], finding: Finding) -> Iterator[QuickFix]:
    """Add what a step names to its phase, with its amount left open: no number is guessed."""
    start, end = word_at(lines[finding.line - 1], finding.column - 1)
    named = [lines[finding.line - 1][start:end].strip("\"'"), *_WRONG.findall(finding.message)]
    with desk.snapshot() as snapshot:
        known = snapshot.ids("ingredients")
        for phase, _, name in (word.partition("/") for word in named):
            heading = re.compile(rf"^\s*\[phase\.{re.escape(phase)}\.charge\]") if phase and name in known else None
            at = next((n for n, line in enumerate(lines) if heading is not None and heading.match(line)), None)
            if at is not None and not any(re.match(rf"\s*{re.escape(name)}\s*=", line) for line in lines[at:]):
                length = len(lines[at])
                yield QuickFix(
                    f"Add '{name}' to phase {phase}, its amount open", at, length, length, f'\n{name} = "q.s."', True
                )
                return


def _mended(desk: Desk, path: str, finding: Finding, day: datetime.date) -> Iterator[QuickFix]:
    """Write the nearest number that mends it, where that is one number in the text."""
    formula = desk.formula(path)
    if formula is None or finding.severity == "note" or finding.recipe is None:
        return
    from formula_vcs.mending.mend import mended

    text = desk.text(path)
    positions = syntax.positions(text)
    for one in mended([finding], formula, day):
        mend = one.mend
        if mend is None or mend.end != "amount":
            continue
        span = positions.value_span((*mend.path, "pct")) or positions.value_span(mend.path)
        if span is not None and span.start_line == span.end_line and _NUMBER.fullmatch(text[span.start : span.end]):
            start = span.start - (text.rfind("\n", 0, span.start) + 1)
            yield QuickFix(
                f"Mend it: {mend.words}", span.start_line - 1, start, start + span.end - span.start, mend.value, True
            )
