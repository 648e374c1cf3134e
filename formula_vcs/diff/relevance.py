"""Which changes a figure, or the ingredient list, may hang on: the others have no part in it and need not be tried."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from formula_vcs.diff.change import Change, Drop, Edit, PlaceStep, Put

# what neither reads of a recipe, a premix and the workspace, by the first name of a fact's path
_UNREAD: Final = frozenset({"title", "step", "accept", "claims", "claim", "markets", "tolerance"})
_OF_FIGURES: Final = frozenset({*_UNREAD, "rules"})
_OF_LABEL: Final = frozenset(
    {*_UNREAD, "spec", "pack", "packaging", "yield", "batch", "currency", "rate"}
)  # a rule of the house may name allergens
_OF_INGREDIENT: Final = frozenset({"title", "supplier", "code", "handling"})
_INGREDIENT_OF_FIGURES: Final = frozenset({*_OF_INGREDIENT, "allergens"})
_INGREDIENT_OF_LABEL: Final = frozenset({*_OF_INGREDIENT, "price", "origin", "cosmos", "nop", "certificate"})


def bears_on_figure(change: Change, name: str) -> bool:
    """Say whether a figure may hang on a change."""
    packed = any(edit.owner.startswith("packaging:") for edit in change.edits)
    if change.kind == "price" or packed:
        return name.startswith("cost_")
    return any(_is_read(edit, _OF_FIGURES, _INGREDIENT_OF_FIGURES) and not _is_source(edit) for edit in change.edits)


def bears_on_label(change: Change) -> bool:
    """Say whether the ingredient list may hang on a change."""
    return any(_is_read(edit, _OF_LABEL, _INGREDIENT_OF_LABEL) for edit in change.edits)


def _is_read(edit: Edit, unread: Collection[str], of_ingredient: Collection[str]) -> bool:
    kind = edit.owner.partition(":")[0]
    if kind in ("equipment", "packaging") or isinstance(edit, PlaceStep | Drop):
        return False
    if not isinstance(edit, Put):
        return True
    return edit.path[0] not in (of_ingredient if kind == "ingredient" else unread)


def _is_source(edit: Edit) -> bool:
    return isinstance(edit, Put) and edit.path == ("origin", "source")
