"""Materials whose data moved under the recipe: composition, supplier, grade, origin; prices and papers do not count."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from formula_vcs.diff.change_words import ARROW, plain
from formula_vcs.diff.material_changes import differing
from formula_vcs.evidence.drift.amount_drift import functions_of
from formula_vcs.evidence.drift.drift import Drift, DriftSides
from formula_vcs.model.facts import Path
from formula_vcs.model.ingredient import Ingredient

_CLASS: Final = {
    "substances": "material", "allergens": "material", "active": "material", "concentrate": "material",
    "supplier": "supplier", "code": "grade", "spec": "grade", "functions": "grade",
    "origin": "origin", "cosmos": "origin", "nop": "origin", "made": "origin",
}  # fmt: skip
_WORDS: Final = {
    "material": "another composition", "supplier": "another supplier", "grade": "another grade",
    "origin": "another origin or organic share",
}  # fmt: skip
# where a statement was read, not what it says
_PAPERS: Final = frozenset({"source", "note", "cas"})


def drifts(sides: DriftSides) -> Iterator[Drift]:
    """Compare the data of each material that both versions use."""
    for name in sorted(sides.old.ingredients.keys() & sides.new.ingredients.keys()):
        before, after = sides.old.ingredients[name], sides.new.ingredients[name]
        if before is not after and before.readable and after.readable and before.facts != after.facts:
            yield from _of(sides, before, after)


def _of(sides: DriftSides, before: Ingredient, after: Ingredient) -> Iterator[Drift]:
    found: dict[str, list[tuple[Path, Any, Any]]] = {}
    for path, was, now in differing(before.facts, after.facts):
        when = _CLASS.get(path[0])
        if when is not None and path[-1] not in _PAPERS:
            found.setdefault(when, []).append((path, was, now))
    for when, facts in found.items():
        texts = [_said(path, was, now) for path, was, now in facts]
        words = f"{after.id}: {_WORDS[when]} ({', '.join(texts[:2])}{' ...' if len(texts) > 2 else ''})"
        yield Drift(when, after.id, words, detail="; ".join(texts), functions=functions_of(sides.new, after.id))


def _said(path: Path, was: Any, now: Any) -> str:
    name = " ".join(path).replace("_", " ")
    sides = ["none" if repr(value) == "GONE" else plain(value) for value in (was, now)]
    return f"{name} {sides[0]} {ARROW} {sides[1]}"
