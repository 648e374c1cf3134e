"""New files of every other kind: commented, with what must be filled in, and what to do next."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Sequence
from typing import Final

from formula_vcs.law.identity import InventoryEntry, entry_of, identify, names_of_number
from formula_vcs.model.cas import cas_trouble
from formula_vcs.setup.new_recipe import CannotBegin, NewFile, template
from formula_vcs.toml.edit import spelled
from formula_vcs.words.quoting import slug
from formula_vcs.workspace.snapshot import Snapshot

EQUIPMENT: Final = ("vessel", "rotor-stator", "stirrer", "propeller", "balance")
_EQUIPMENT: Final = {
    "vessel": (
        ('volume        = "150 L"', "to the rim"),
        ('working_range = "45 to 135 L"', "what can be stirred in it"),
        ('diameter      = "570 mm"', "inside"),
        ('impeller      = "520 mm"', "its own agitator, if it has one"),
        ('speed         = "8 to 60 rpm"', ""),
        ('jacket        = "8 to 92 degC"', ""),
    ),
    "rotor-stator": (
        ('rotor        = "90 mm"', "diameter; tip speed and gap shear follow from it"),
        ('gap          = "0.5 mm"', "between rotor and stator"),
        ('speed        = "500 to 3600 rpm"', ""),
        ("power_number = 1.8", "by its maker"),
    ),
    "stirrer": (
        ('impeller     = "60 mm"', "diameter"),
        ('speed        = "50 to 1500 rpm"', ""),
        ("power_number = 1.27", "by its maker; flow_number and metzner_otto too"),
    ),
    "propeller": (
        ('impeller     = "80 mm"', "diameter"),
        ('speed        = "50 to 1500 rpm"', ""),
        ("power_number = 0.35", "by its maker"),
    ),
    "balance": (
        ('capacity      = "8 kg"', ""),
        ('readability   = "0.1 g"', "one division"),
        ('repeatability = "0.05 g"', "by its certificate; the minimum weight follows from it"),
    ),
}  # fmt: skip
_WIDTH: Final = 44


def new_ingredient(word: str, title: str, words: dict[str, str], *, pure: bool) -> NewFile:
    """Begin an ingredient from a name or a CAS number; the inventory says what it knows of it.

    ``words`` may hold supplier, code and id.

    :raises CannotBegin: the number is none, or stands for several substances or for none.
    """
    inci, near = _substance(word)
    entry = entry_of(inci) if inci else None
    name = title or (inci if not cas_trouble(word) else word)
    lines = [f"title     = {spelled(name)}"]
    for key in ("supplier", "code"):
        known = words.get(key, "")
        example = _noted(f'# {key.ljust(7)} = ""', "the supplier's own code for the grade" if key == "code" else "")
        lines.append(f"{key.ljust(9)} = {spelled(known)}" if known else example)
    lines.append(_noted("# functions = []", "what it does in a product"))
    lines += _inventory_functions(entry)
    lines.append(_noted('# density   = "1.00 g/mL"', "by the data sheet"))
    lines += ["", _noted("[substances]", "INCI names with their % of the material; adds up to 100")]
    lines += _substances(inci or word, _numbers(word, entry), pure=pure)
    lines += _MATERIAL
    id_ = words.get("id") or slug(name)
    todo = [] if pure else [f"write the % of each substance into ingredients/{id_}.toml, by the supplier's composition"]
    if not inci:
        hint = f"; is it {', '.join(near[:3])}?" if near else ""
        todo.insert(0, f"the inventory knows no '{word}'{hint}")
    return NewFile(
        f"ingredients/{id_}.toml", "\n".join(lines) + "\n", (*todo, "add a [[price]], then use it in a recipe")
    )


def _inventory_functions(entry: InventoryEntry | None) -> list[str]:
    """Name what the inventory has a substance used for, as comments: which of it is meant, a person knows."""
    if entry is None or not entry.functions:
        return []
    words = f"functions in the Commission's inventory: {', '.join(entry.functions)}"
    return textwrap.wrap(words, 98, initial_indent="# ", subsequent_indent="#   ")


def _substance(word: str) -> tuple[str, tuple[str, ...]]:
    if any(letter.isdigit() for letter in word) and word.replace("-", "").isdigit():
        trouble = cas_trouble(word)
        if trouble:
            raise CannotBegin(f"'{word}' {trouble}")
        named = names_of_number(word)
        if len(named) != 1:
            choices = f"{len(named)} substances: {'; '.join(named[:8])}" if named else "no substance of the inventory"
            raise CannotBegin(f"CAS {word} is {choices}; begin from a name")
        return named[0], ()
    found = identify(word)
    return (found.inci, ()) if found.certain else ("", found.near)


def _numbers(word: str, entry: InventoryEntry | None) -> tuple[str, ...]:
    """Give the CAS number that was typed, else those of the inventory."""
    if not cas_trouble(word):
        return (word,)
    return () if entry is None else entry.cas


def _substances(name: str, cas: Sequence[str], *, pure: bool) -> list[str]:
    number = f', cas = "{cas[0]}"' if len(cas) == 1 else ""
    others = f"CAS {' or '.join(cas[:4])}" if len(cas) > 1 else ""
    if pure:
        return [_noted(f"{spelled(name)} = {{ pct = 100{number} }}", others).rstrip(" #")]
    note = f"write its %{f'; {others}' if others else ''}"
    value = f"{{ pct = {number} }}" if number else ""
    return [_noted(f"# {spelled(name)} = {value}", note)]


def _noted(line: str, note: str) -> str:
    return f"{line.ljust(_WIDTH)}  # {note}" if note else line


_MATERIAL: Final = (
    "",
    _noted("# [origin]", "ISO 16128 indices, 0 to 1, as the supplier states them"),
    "# natural        = 0",
    "# natural_origin = 0",
    "# organic        = 0",
    "# organic_origin = 0",
    '# source         = "supplier statement"',
    "",
    _noted("# [handling]", "what it asks of the process"),
    '# temp_at_most  = "45 degC"',
    '# shear_at_most = "low"',
    "",
    "# [[price]]",
    '# cost  = "4.80 EUR/kg"',
    "# since = 2026-01-05",
)


def new_premix(name: str, title: str, form: str, snapshot: Snapshot) -> list[NewFile]:
    """Begin a premix: its recipe, and the ingredient that other recipes name it by."""
    ingredient = "\n".join([
        f"title  = {spelled(title)}",
        f"recipe = {spelled(name)}",
        _noted("# functions = []", "what it does in a product"),
        _noted('# density   = "1.00 g/mL"', "measured"),
    ])  # fmt: skip
    todo = (f"fill in premixes/{name}.toml", f"use it in a recipe as '{name}'", "git formula check")
    return [
        NewFile(f"premixes/{name}.toml", template(title, "premix", form, snapshot), todo),
        NewFile(f"ingredients/{name}.toml", f"{ingredient}\n", ()),
    ]


def new_lots(ingredient: str, numbers: Sequence[str], day: datetime.date) -> list[NewFile]:
    """Begin a lot for each number of a supplier: in quarantine until somebody releases it."""
    found = []
    for number in numbers:
        name = slug(f"{ingredient}-{number}")
        text = "\n".join([
            f"ingredient = {spelled(ingredient)}",
            f"lot        = {spelled(number)}",
            f"received   = {day}",
            _noted("# expires  = 2028-01-31", "by its certificate"),
            _noted('status     = "quarantine"', "quarantine, released, rejected"),
            '# quantity = "10 kg"',
            '# price    = "4.80 EUR/kg"',
            "",
            _noted("# [certificate]", "what the supplier measured; held against [spec] of the ingredient"),
            '# viscosity = "1200 mPa*s"',
        ])  # fmt: skip
        todo = (f'copy its certificate into lots/{name}.toml, and release it: status = "released"',)
        found.append(NewFile(f"lots/{name}.toml", f"{text}\n", todo))
    return found


def new_equipment(name: str, title: str, kind: str) -> NewFile:
    """Begin a piece of equipment: its numbers are to be filled in from its plate."""
    lines = [f"title = {spelled(title)}", f"kind  = {spelled(kind)}"]
    lines += [_noted(f"# {line}", note) for line, note in _EQUIPMENT[kind]]
    where = (
        "name it in a step: mixer =" if kind != "balance" else "it is used for weigh sheets by itself; --on names it:"
    )
    todo = (f"fill in equipment/{name}.toml from its plate", f'{where} "{name}"')
    return NewFile(f"equipment/{name}.toml", "\n".join(lines) + "\n", todo)


def new_packaging(name: str, title: str, snapshot: Snapshot) -> NewFile:
    """Begin a pack: its pieces with their prices, and what is lost while it is filled."""
    currency = snapshot.workspace.get("currency") or "EUR"
    lines = [
        f"title = {spelled(title)}",
        _noted('# holds    = "75 mL"', "compared with the recipe's pack"),
        _noted('# overfill = "1 %"', "over the nominal content"),
        _noted('# loss     = "1.5 %"', "of the product, in hoses and at the filler"),
    ]
    for item, each in (("tube", ""), ("cap", ""), ("carton", ""), ("outer", '"1/12"')):
        lines += ["", f"[item.{item}]" if item == "tube" else f"# [item.{item}]"]
        lines += [_noted('# supplier = ""', "code too: another one is another pack")] if item == "tube" else []
        lines += [_noted(f"# each  = {each}", "of it, for one pack")] if each else []
        lines += [_noted('# scrap = "2 %"', "of the pieces")] if item == "tube" else []
        lines += [f"# [[item.{item}.price]]", _noted(f'# cost  = "0.00 {currency}"', "for one piece")]
        lines += [_noted("# from  = 10000", "pieces; left out: any number")] if item == "tube" else []
        lines += [_noted("# since = 2026-01-05", "")]
    todo = (
        f"fill in packaging/{name}.toml; a piece without a price leaves the cost of a pack not known",
        f'name it in a recipe, beside its pack: packaging = "{name}"',
    )
    return NewFile(f"packaging/{name}.toml", "\n".join(lines) + "\n", todo)


def new_proof(  # noqa: PLR0917 - what a proof pins
    recipe: str, kind: str, commit: str, digest: str, report: str, passed: str, old: str | None
) -> NewFile:
    """Begin a proof of a version of a recipe; ``old`` is the evidence file that it goes into."""
    lines = [] if old is not None else [f"recipe = {spelled(recipe)}"]
    lines += [
        "",
        "[[proof]]",
        f"kind   = {spelled(kind)}",
        f"commit = {spelled(commit)}",
        f"hash   = {spelled(digest)}",
        f"report = {spelled(report)}" if report else _noted('# report = "ST-2026-014"', "the number of the report"),
        f"passed = {passed}" if passed else _noted("# passed = 2026-05-02", "the day on which it was passed"),
        _noted("# until  = 2028-05-02", "where it ends"),
    ]
    if kind == "certificate":
        lines.append(_noted('# scheme = "cosmos-organic-4"', "the standard"))
    text = "\n".join(lines).lstrip("\n") if old is None else f"{old.rstrip()}\n" + "\n".join(lines)
    todo = (
        f"fill in evidence/{recipe}.toml: a proof needs its report and the day",
        f"git formula show {recipe} --evidence",
    )
    return NewFile(f"evidence/{recipe}.toml", f"{text}\n", todo, old)


def new_rule(name: str, substance: str, at_most: str, old: str | None) -> NewFile:
    """Begin a house rule; without a substance and a limit it stands as a comment, to be filled in."""
    mark = "" if substance and at_most else "# "
    lines = [
        "",
        f"{mark}[[rule]]",
        f"{mark}id         = {spelled(name)}",
        _noted(f'{mark}kind       = "limit"', "prohibited, limit, sum, window, together, ph, warning, ask ..."),
        _noted(f"{mark}substances = [{spelled(substance or 'Phenoxyethanol')}]", "INCI names"),
        f"{mark}at_most    = {spelled(at_most or '0.8 %')}",
        _noted('# where      = { contact = ["leave-on"] }', "which products; all, where left out"),
        f'{mark}source     = "house standard"',
    ]
    text = "\n".join(lines).lstrip("\n") if old is None else f"{old.rstrip()}\n" + "\n".join(lines)
    todo = (
        "fill in rules/house.toml",
        "git formula check: every recipe is judged by it",
        "git formula review: whom it touches",
    )
    return NewFile("rules/house.toml", f"{text}\n", todo if mark else todo[1:], old)
