"""What an approved version rests on besides itself: one hash a part, so that it can be said which part moved."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import Any, Final

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.law.compliance import compliance_of
from formula_vcs.model.approval import PARTS
from formula_vcs.model.content_hash import content_hash, fact_lines
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.formula import Formula
from formula_vcs.model.law_row import LawRow
from formula_vcs.words.checksums import sha256

# What says nothing about what is made: whose words it is in, and what it costs.
_BESIDE: Final = frozenset({"title", "note", "price"})
_OF_HOUSE: Final = frozenset({"rules", "markets", "packs", "tolerance", "batch"})
_UNSAID: Final = frozenset({"note", "because", "source"})
# tables of names: what is called "note" there is no note
_NAMED: Final = frozenset({"substances", "allergens", "functions", "class", "spec"})
_OF_COST: Final = frozenset({"title", "note", "price", "scrap", "loss"})
_NOT_LAW: Final = frozenset({"file", "at"})


def content(formula: Formula) -> str:
    """Give the content hash of a formula."""
    return formula.derived.cached("content hash", lambda: content_hash(formula.recipe, formula.premixes))


def rests_on(formula: Formula, *, law: bool = True) -> Mapping[str, str]:
    """Give the hashes of `model.approval.PARTS`; ``law`` leaves out the law, which is that of this very program."""
    found: dict[str, str] = formula.derived.cached("rests on", lambda: _without_law(formula))
    if not law:
        return found
    every = {**found, "law": formula.derived.cached("rests on law", lambda: _digest(_law(formula)))}
    return {part: every[part] for part in PARTS}


def _without_law(formula: Formula) -> dict[str, str]:
    materials = [line for name in sorted(formula.ingredients) for line in _of(name, formula.ingredients[name].facts)]
    equipment = [line for name in sorted(formula.equipment) for line in _of(name, formula.equipment[name].facts)]
    pack = [line for name in sorted(formula.packaging) for line in _pack(name, formula.packaging[name].facts)]
    house = {
        path: value
        for path, value in formula.workspace.facts.items()
        if path[0] in _OF_HOUSE and not (path[0] == "rules" and path[-1] in _UNSAID)
    }
    made = (formula.recipe, *(formula.premixes[name] for name in sorted(formula.premixes)))
    accepted = [
        f"{number} {path[1:]!r} {getattr(value, 'why', value)!r} {getattr(value, 'until', None)}\n"
        for number, recipe in enumerate(made)
        for path, value in sorted(recipe.facts.items(), key=lambda fact: fact[0])
        if path[0] == "accept"
    ]
    return {
        "materials": _digest(materials),
        "equipment": _digest(equipment),
        "packaging": _digest(pack),
        "house": _digest([fact_lines(house)]),
        "accepted": _digest(accepted),
    }


def _of(name: str, facts: Facts) -> Iterable[str]:
    """Spell one file's facts that count, under its name."""
    yield f"[{name!r}]\n"
    yield fact_lines({path: value for path, value in facts.items() if path[0] not in _BESIDE and not _unsaid(path)})


def _pack(name: str, facts: Facts) -> Iterable[str]:
    """Spell the pieces of a pack: what they cost, and what is lost while they are filled, changes no product."""
    yield f"[{name!r}]\n"
    yield fact_lines({path: value for path, value in facts.items() if path[-1] not in _OF_COST})


def _unsaid(path: Path) -> bool:
    """Say whether a fact only tells why, or where it was read."""
    return len(path) > 1 and path[0] not in _NAMED and path[-1] in _UNSAID


def _law(formula: Formula) -> list[str]:
    """Spell every row of the packs that speaks of something in the recipe, whatever day it begins to hold.

    A row that was announced is known when it is approved; what it forbids from its day on, the check of a batch says.
    """
    found = compliance_of(breakdown_of(formula))
    rows = sorted(((hit.row.pack, hit.row.id, _row(hit.row)) for hit in found.spoken if not hit.row.file), key=repr)
    return [f"{sorted(found.markets)!r}\n", *(f"{pack} {name} {spelled}\n" for pack, name, spelled in rows)]


def _row(row: LawRow) -> str:
    values: dict[str, Any] = {one.name: getattr(row, one.name) for one in fields(row) if one.name not in _NOT_LAW}
    return repr({name: value for name, value in values.items() if value})


def _digest(lines: Iterable[str]) -> str:
    return sha256("".join(lines).encode("utf-8", "surrogateescape")).hexdigest()
