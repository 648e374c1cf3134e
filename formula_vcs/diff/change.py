"""One difference in meaning between two versions, with the edits that make it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from formula_vcs.model.equipment import Equipment
from formula_vcs.model.facts import Path
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.packaging import Packaging
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, field

# the owner of an edit: the recipe itself, "premix:ID", "ingredient:ID", "equipment:ID", "packaging:ID" or "workspace";
# "file:PATH" of a file that no recipe rests on
RECIPE: Final = ""


class _Gone:
    """The value of a fact that is not there."""

    def __repr__(self) -> str:
        return "GONE"


GONE: Final = _Gone()


@dataclass(frozen=True, slots=True)
class Put:
    """Set one fact, or take it away (GONE)."""

    owner: str
    path: Path
    value: Any


@dataclass(frozen=True, slots=True)
class Move:
    """Take all facts of a charge to another place, and follow it in the ``steps`` that name it."""

    owner: str
    old: Path
    new: Path
    steps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlaceStep:
    """Put a step behind the nearest of the steps that come before it, ``after``, the nearest last."""

    owner: str
    step: str
    after: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Drop:
    """Take a step out of the order; its facts go by edits of their own."""

    owner: str
    step: str


@dataclass(frozen=True, slots=True)
class Whole:
    """Set or take away a whole ingredient, premix, piece of equipment or packaging."""

    owner: str
    value: Brought | None


Brought = Ingredient | Recipe | Equipment | Packaging
Edit = Put | Move | PlaceStep | Drop | Whole


@dataclass(frozen=True, slots=True)
class Change:
    """A change.

    ``where`` names the place in the old version, or in the new one for what was not there before; kind and where
    are its id.  ``old`` and ``new`` are for reading; ``edits`` are what makes it.  ``brings`` are ingredients,
    premixes ("recipe:ID"), equipment ("equipment:ID") and packaging ("packaging:ID") that the old version did not use.
    A derived change (balance, exposure) has no edits: it follows.  ``told_with`` says what differs without saying for
    whom: derived changes with the same words are told once (`exposures.told_once`).
    """

    kind: str
    where: str
    old: str | None
    new: str | None
    text: str
    edits: tuple[Edit, ...] = field(default=(), compare=False, repr=False)
    brings: Mapping[str, Brought] = field(default_factory=dict, compare=False, repr=False)
    told_with: str = field(default="", compare=False, repr=False)

    @property
    def id(self) -> str:
        """Name the change: the same in every report."""
        return f"{self.kind}:{self.where}"

    @property
    def derived(self) -> bool:
        """Say whether the change only follows from others."""
        return not self.edits and self.kind != "header"  # a renamed file has nothing to edit in it
