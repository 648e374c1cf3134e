"""Changes of ingredient data and of the workspace's defaults, under a recipe that was not touched."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from formula_vcs.chemistry.pair_rows import house_pairs, shipped
from formula_vcs.diff.change import GONE, Change, Put, Whole
from formula_vcs.diff.change_words import ARROW, from_to, plain
from formula_vcs.diff.record_edits import describe
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.substance_parts import parts_of
from formula_vcs.law.compliance import compliance_of
from formula_vcs.law.duty_table import KIND, house_duties, house_kinds
from formula_vcs.model.amount import Price
from formula_vcs.model.approval import approval_rows
from formula_vcs.model.evidence import PROOF, title
from formula_vcs.model.facts import Facts, Path, Unread, spelled
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import ORIGIN_INDICES, Ingredient
from formula_vcs.model.quantity import Rate
from formula_vcs.model.values import replace
from formula_vcs.model.workspace import Workspace
from formula_vcs.words.numbers import signed

# --- Changes of ingredient data and of the workspace's defaults, under a recipe that was not touched


# of a house rule, a pair that does not go together, a row of its table of duties or a kind of evidence, among the
# workspace's facts: the file's name, and then its id
ROWS: Final = ("rule", "pair", "duty", "kind")
_ROW_SIZE: Final = 4


def ingredient_changes(old: Ingredient, new: Ingredient) -> list[Change]:
    """One change a fact; the price list is one fact."""
    owner = f"ingredient:{old.id}"
    if not (old.readable and new.readable) and old.readable != new.readable:
        words = f"'{old.id}': its file {'does not parse any more' if old.readable else 'parses again'}"
        return [Change("ingredient", f"ingredient/{old.id}", None, None, words, (Whole(owner, new),))]
    return [_fact(owner, old.id, path, was, now) for path, was, now in differing(old.facts, new.facts)]


def workspace_changes(old: Workspace, new: Workspace) -> list[Change]:
    """One change a default that recipes rest on, or a fact of a house rule; a rule that came or went is one."""
    found = differing(old.facts, new.facts)
    rated = [fact for fact in found if fact[0][0] == "rate"]
    if any(isinstance(value, Unread) for _, *values in rated for value in values):
        rated = []  # each by itself, with what stands there
    asked = [fact for fact in found if fact[0][0] == "approval"]
    if any(isinstance(value, Unread) for _, *values in asked for value in values):
        asked = []
    found = [fact for fact in found if fact not in rated and fact not in asked]
    rows = {path: came for kind in ROWS for path, came in whole_rows(old.facts, new.facts, ("rules", "", kind)).items()}
    changes = [
        _rule(path, was, now) if path[0] == "rules" else _fact("workspace", "workspace", path, was, now)
        for path, was, now in found
        if path[:_ROW_SIZE] not in rows
    ]
    parts: dict[Path, dict[Path, tuple[Any, Any]]] = {row: {} for row in rows}
    for path, was, now in found:
        if path[:_ROW_SIZE] in parts:
            parts[path[:_ROW_SIZE]][path] = (was, now)
    changes += [_whole_rule(row, parts[row], came=came) for row, came in rows.items()]
    changes += [_approval_change(old, new, asked)] if asked else []
    return [*changes, _rate_change(old, new, rated)] if rated else changes


def _approval_change(old: Workspace, new: Workspace, facts: list[tuple[Path, Any, Any]]) -> Change:
    """The change of what needs approvals as one: a row that came in front of others only renumbers them."""
    sides = ["; ".join(map(str, approval_rows(side.facts))) or None for side in (old, new)]
    edits = tuple(Put("workspace", path, now) for path, _, now in facts)
    words = f"{sides[0] or 'nothing'} {ARROW} {sides[1] or 'nothing'}" if sides[0] != sides[1] else "note or order"
    return Change("header", "workspace/approval", sides[0], sides[1], f"what needs approval: {words}", edits)


def _rate_change(old: Workspace, new: Workspace, facts: list[tuple[Path, Any, Any]]) -> Change:
    """The change of the rates of exchange as one: a row that came in front of others only renumbers them."""
    went = [rate for rate in old.rates if rate not in new.rates]
    came = [rate for rate in new.rates if rate not in old.rates]
    parts: list[str] = []
    for rate in came:
        same = [one for one in old.rates if (one.of, one.worth.currency) == (rate.of, rate.worth.currency)]
        before = max((one for one in same if one.day <= rate.day), key=lambda one: one.day, default=None)
        parts.append(_moved_rate(before, rate))
        went = [one for one in went if one is not before]
    parts += [f"\u2212 {rate}" for rate in went]
    edits = tuple(Put("workspace", path, now) for path, _, now in facts)
    stated = ["; ".join(map(str, side.rates)) or None for side in (old, new)]
    words = "; ".join(parts) or "source, note or order"
    return Change("price", "workspace/rate", stated[0], stated[1], f"workspace, rate: {words}", edits)


def _moved_rate(old: Rate | None, new: Rate) -> str:
    """Say a rate that came: ``1 USD = 0.862 → 0.871 EUR (+1.0 %) from 2026-06-01``."""
    if old is None:
        return f"+ {new}"
    by = signed((new.worth.base / old.worth.base - 1) * 100, 1, 1)
    when = f"on {new.day}" if old.day == new.day else f"from {new.day}"
    return f"1 {new.of} = {old.worth.value:f} {ARROW} {new.worth} ({by} %) {when}"


def whole_rows(old: Facts, new: Facts, row: Path) -> dict[Path, bool]:
    """The rows of house rules that stand on one side only, and whether they came; ``row`` is their path's form.

    A part of a rule means nothing, so such a row is one change.
    """
    here, there = (
        dict.fromkeys(
            path[: len(row) + 1]
            for path in facts
            if len(path) > len(row) + 1 and all(part in ("", own) for part, own in zip(row, path, strict=False))
        )
        for facts in (old, new)
    )
    return {path: path in there for path in (*here, *there) if (path in here) != (path in there)}


def rule_words(facts: Facts, row: Path, *, came: bool) -> str:
    """Say a house rule that came or went, with what it states."""
    stated = "; ".join(
        f"{' '.join(path[len(row) :]).replace('_', ' ')} {plain(value)}"
        for path, value in facts.items()
        if path[: len(row)] == row and len(path) > len(row)
    )
    return f"house {row[-2]} {row[-1]}: {'new' if came else 'removed'} ({stated})"


def _whole_rule(row: Path, parts: Mapping[Path, tuple[Any, Any]], *, came: bool) -> Change:
    """The change of a house rule that came or went as a whole."""
    own = {path: now if came else was for path, (was, now) in parts.items()}
    edits = tuple(Put("workspace", path, value if came else GONE) for path, value in own.items())
    text = rule_words(own, row, came=came)
    before, after = (None, row[-1]) if came else (row[-1], None)
    return Change("other", f"rule/{spelled(row[1:])}", before, after, text, edits)


def _rule(path: Path, was: Any, now: Any) -> Change:
    """The change of one fact of a house rule; its place is the one in its own file."""
    found = _fact("workspace", "workspace", path, was, now)
    row = path[3] if len(path) > 3 else path[1]
    words = " ".join(path[4:] or path[2:]).replace("_", " ")
    old, new = (None if value is GONE else value for value in (was, now))
    text = f"house {path[2] if path[2] in ROWS else 'rule'} {row}, {describe((words,), old, new)}"
    return replace(found, kind="other", where=f"rule/{spelled(path[1:])}", text=text)


def differing(old: Facts, new: Facts) -> list[tuple[Path, Any, Any]]:
    """The facts that differ, GONE where one side has none."""
    if old == new:
        return []
    return [
        (path, old.get(path, GONE), new.get(path, GONE))
        for path in dict.fromkeys((*old, *new))
        if old.get(path, GONE) != new.get(path, GONE)
    ]


def _fact(owner: str, name: str, path: Path, was: Any, now: Any) -> Change:
    old, new = (None if value is GONE else value for value in (was, now))
    where = f"{owner.replace(':', '/')}/{spelled(path)}"
    edits = (Put(owner, path, now),)
    before, after = (None if value is None else plain(value) for value in (old, new))
    kind = "header" if owner == "workspace" else "ingredient"
    unread = isinstance(old, Unread) or isinstance(new, Unread)
    if path == ("price",) and not unread:
        return Change("price", where, before, after, f"{name}, price: {price_words(old or (), new or ())}", edits)
    if unread or isinstance(old, dict | list):
        return Change(kind, where, before, after, f"{name}, {describe(path, old, new)}", edits)
    label = f"{path[-1]} index" if path[0] == "origin" and path[-1] in ORIGIN_INDICES else " ".join(path)
    label = label.replace("_", " ")
    return Change(kind, where, before, after, f"{name}, {label}: {from_to(old, new)}", edits)


def price_words(old: tuple[Price, ...], new: tuple[Price, ...]) -> str:
    """Say a price list by what differs: the same quantity and day at another price, new lines, lines that went."""
    was, now = frozenset(old), frozenset(new)
    went = [price for price in old if price not in now]
    came = [price for price in new if price not in was]
    if len(went) == len(came) == 1 and (went[0].least, went[0].since) != (came[0].least, came[0].since):
        return f"{went[0]} {ARROW} {came[0]}{_by(went[0], came[0])}"
    parts: list[str] = []
    if not went:
        earlier = _latest(old)
        replaced = {price: before for price in came if (before := _replaced(price, earlier)) is not None}
        parts += [_moved(before, price) for price, before in replaced.items()]
        came = [price for price in came if price not in replaced]
    gone = {(price.least, price.since): price for price in went}
    moved = {price: gone[price.least, price.since] for price in came if (price.least, price.since) in gone}
    parts += [_moved(before, price) for price, before in moved.items()]
    left = frozenset(moved.values())
    parts += [f"+ {price}" for price in came if price not in moved]
    return "; ".join(parts + [f"\u2212 {price}" for price in went if price not in left])


def _latest(prices: tuple[Price, ...]) -> dict[object, Price]:
    """The price of each quantity that is in force last."""
    return {price.least: price for price in sorted(prices, key=_begins)}


def _begins(price: Price) -> datetime.date:
    return price.since if isinstance(price.since, datetime.date) else datetime.date.min


def _replaced(price: Price, latest: dict[object, Price]) -> Price | None:
    """The price that was in force for the quantity when a new one begins; None where it begins no later."""
    before = latest.get(price.least)
    if before is None or not isinstance(price.since, datetime.date):
        return None
    return before if _begins(before) < price.since else None


def _moved(old: Price, new: Price) -> str:
    """Say a price that takes the place of another: ``7.20 → 6.85 EUR/kg (−4.9 %) from 2026-06-01``."""
    was = f"{old.cost.value:f}" if old.cost.unit == new.cost.unit else str(old.cost)
    return f"{was} {ARROW} {new.cost}{_by(old, new)}{_conditions(new)}"


def _by(old: Price, new: Price) -> str:
    """Say a price's move in % of the old one; nothing where the two are not comparable."""
    if not old.cost.comparable(new.cost) or not old.cost.base or old.cost.base == new.cost.base:
        return ""
    return f" ({signed((new.cost.base / old.cost.base - 1) * 100, 1, 1)} %)"


def _conditions(price: Price) -> str:
    """Say from when and from which quantity on a price holds."""
    since = f" from {price.since}" if price.since is not None else ""
    return f"{since}{f', {price.least} and more' if price.least is not None else ''}"


# --- What changed in a file of evidence, proof by proof: by what each proves, not by its place in the file


Named = tuple[str, str]
_Rows = Mapping[Named, tuple[str, dict[str, Any]]]
_TOLD: Final = ("passed", "until", "market", "scheme", "value", "claim")


def proof_changes(path: str, prefix: str, lead: str, old: Facts, new: Facts) -> list[Change] | None:
    """The changes of the proofs, a removed and an added one in one line each; ``lead`` begins every line.

    None where two proofs of one side cannot be told apart by kind and report: then only their place tells them.
    """
    before, after = _rows(old), _rows(new)
    if before is None or after is None:
        return None
    return list(_changes(f"file:{path}", prefix, lead, before, after))


def _changes(owner: str, prefix: str, lead: str, before: _Rows, after: _Rows) -> Iterator[Change]:
    for name in {**before, **after}:
        kind, report = name
        words = f"{lead}proof of {title(kind)} {report}"
        where = f"{prefix}/{PROOF}/{kind}/{report}"
        if name not in after or name not in before:
            came = name in after
            number, row = after[name] if came else before[name]
            edits = tuple(Put(owner, (PROOF, number, key), value if came else GONE) for key, value in row.items())
            told = ", ".join(f"{key} {plain(row[key])}" for key in _TOLD if key in row)
            verb = "added" if came else "removed"
            yield Change("other", where, None if came else report, report if came else None,
                         f"{words}: {verb}" + (f" ({told})" if told else ""), edits)  # fmt: skip
            continue
        (_, was), (number, now) = before[name], after[name]
        for key in {**was, **now}:
            sides = was.get(key), now.get(key)
            if sides[0] == sides[1]:
                continue
            put = Put(owner, (PROOF, number, key), now.get(key, GONE))
            texts = tuple(None if side is None else str(side) for side in sides)
            yield Change("other", f"{where}/{key}", texts[0], texts[1], f"{words}, {describe((key,), *sides)}", (put,))


def _rows(facts: Facts) -> _Rows | None:
    """The proofs by kind and report, each with its number in the file; None where those do not name them all."""
    rows: dict[str, dict[str, Any]] = {}
    for path, value in facts.items():
        if path[0] == PROOF and len(path) != 3:
            return None  # no proof at all, which the reader refuses
        if path[0] == PROOF:
            rows.setdefault(path[1], {})[path[2]] = value
    found = {(str(row.get("kind", "")), str(row.get("report", ""))): (number, row) for number, row in rows.items()}
    return found if len(found) == len(rows) else None


# --- Which recipes a changed rule or pair of the house touches: those that hold what its row is about


RULE: Final = "rule/"


def touching(old: Formula, new: Formula, changes: Sequence[Change]) -> tuple[Change, ...]:
    """Leave out the changes of house rules that say nothing of the recipe in either version."""
    if not any(change.where.startswith(RULE) for change in changes):
        return tuple(changes)
    rows = {*_house_rows(old), *_house_rows(new)}
    return tuple(
        change
        for change in changes
        if not change.where.startswith(RULE) or any(f"{change.where}/".startswith(row) for row in rows)
    )


def _house_rows(formula: Formula) -> set[str]:
    """The places of the house rows that are about this recipe."""
    if formula.recipe.is_premix:
        return set()
    found = compliance_of(breakdown_of(formula))
    hits = {f"{RULE}{hit.row.pack}/rule/{hit.row.id}/" for hit in found.hits if hit.row.file}
    return hits | set(_pairs(formula)) | set(_duties(formula))


def _duties(formula: Formula) -> Iterator[str]:
    """The places of the house's rows about kinds of evidence of which this recipe has a proof on record."""
    rows, kinds = house_duties(formula.workspace), house_kinds(formula.workspace)
    recorded = {proof.kind for proof in formula.shelf.proofs(formula.recipe.id)} if rows or kinds else set()
    for path in (*(path for path, named in rows.items() if recorded & set(named)), *kinds):
        if path[2] != KIND or path[3] in recorded:
            yield f"{RULE}{spelled(path[1:])}/"


def _pairs(formula: Formula) -> Iterator[str]:
    """The places of the house's pairs both of whose sides are in this recipe."""
    own = house_pairs(formula.workspace)
    if not own:
        return
    tags = parts_of(breakdown_of(formula)).tags
    known = {pair.id: pair for pair in (*own, *shipped()) if not pair.off}
    for row in own:
        pair = known.get(row.id, row)
        sides = [side for side in (pair.one, pair.other) if side is not None]
        if all(not side.tags.isdisjoint(tags) for side in sides):
            yield f"{RULE}{row.file.removeprefix('rules/').removesuffix('.toml')}/pair/{row.id}/"
