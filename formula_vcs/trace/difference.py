"""A difference between two batches, and what it is looked at with."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.git.commit_log import Commit
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass, field, replace
from formula_vcs.trace.batch_context import BatchContext
from formula_vcs.trace.recipe_part import RecipePart
from formula_vcs.trace.roles import Doing, doings, functions_of, leaves_of

# --- One thing on record that differs between two batches, told so that the table of causes can be held against it


# How far a quantity has to move to be called large: common practice, no source.  A share of itself, or as said.
LARGE: Final[dict[str, Fraction]] = {
    "amount": Fraction(5, 100),
    "time": Fraction(20, 100),
    "rest": Fraction(20, 100),
    "speed": Fraction(10, 100),
    "shear": Fraction(10, 100),
    "temp": Fraction(5),  # K
    "pause": Fraction(60),  # min
    "yield": Fraction(2, 100),
    "certificate": Fraction(25, 100),  # of the width of the spec
    "result": Fraction(25, 100),  # of the width of the spec
}
_NO_SPEC: Final = Fraction(10, 100)  # of itself, where there is no spec to count in
ITSELF: Final = "itself"
WIDTH: Final = "the spec's width"
DRY: Final = "the dry matter"
GRADES: Final = ("large", "asked", "small", "open")


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference.

    ``part`` is where it is on record: recipe, making, lots, results.  ``via`` names the premixes on the way to it, the
    outermost first.  ``what`` is the quantity (`model.cause.QUANTITIES`), ``about`` the charge, step or ingredient, and
    ``name`` the value of a lot or the result.  ``old`` and ``new`` are for reading.  ``way`` is 1 more, -1 less, 0 not
    to be said.  ``size`` is how much, as a share of ``of``.  ``grade`` says what kind of evidence it is: large (on
    record in both batches, and large), asked (large, asked by the recipe, and not recorded as done), small, open (it
    differs, and no number says which way).  ``functions`` and ``roles`` are of the material and of the step.  ``aim``
    says that ``old`` is no lot but the middle of its spec.  ``share`` is how much of its charge it is about, where that
    came from several lots.
    """

    part: str
    via: tuple[str, ...]
    what: str
    about: str
    name: str
    old: str | None
    new: str | None
    way: int
    size: Fraction | None
    of: str
    grade: str
    functions: frozenset[str] = frozenset()
    roles: frozenset[str] = frozenset()
    form: str | None = None
    by: tuple[Commit, ...] = ()
    undone: bool = False
    notes: tuple[str, ...] = ()
    aim: bool = False
    share: Fraction = Fraction(1)

    @property
    def id(self) -> str:
        """Name the difference: the same in every report."""
        return "/".join(filter(None, (self.part, *self.via, self.what, self.about, self.name)))

    @property
    def weight(self) -> float:
        """Give the size in units of what is called large, the same from either side; 0 where there is none."""
        return 0.0 if self.size is None else float(_weight(self.what, self.size, self.of) * self.share)

    def through(self, ingredient: str) -> Difference:
        """Give the difference as it is found through a premix."""
        return replace(self, via=(ingredient, *self.via))

    def in_part(self, share: Fraction, note: str) -> Difference:
        """Give the difference where only a share of a charge has it: it weighs so much less."""
        found = replace(self, share=self.share * share, notes=(*self.notes, note))
        strong = self.grade in ("large", "asked") and found.weight < 1
        return replace(found, grade="small") if strong and self.size is not None else found


_WIDE: Final = frozenset({"certificate", "result"})


def _weight(what: str, size: Fraction, of: str) -> Fraction:
    """Give a size in units of what is called large; a share is taken of the larger side, so that 4 of 8 is 8 of 4."""
    if of not in (ITSELF, DRY):
        return abs(size) / LARGE[what]
    share = abs(size) / max(Fraction(1), 1 + size)
    if of == DRY:  # less dry matter is less of the material
        return share / LARGE["amount"]
    return share / (_NO_SPEC if what in _WIDE else LARGE[what])


def graded(what: str, size: Fraction | None, of: str, way: int, *, recorded: bool) -> str:
    """Give the kind of evidence of a difference of some size."""
    if not way or size is None:
        return "open"
    if _weight(what, size, of) < 1:
        return "small"
    return "large" if recorded else "asked"


# --- What the differences of two batches are told with: the two, their recipe's changes, and what each step does


_NOTHING: Final = Doing(frozenset(), frozenset())
_NONE: Final = Fraction(0)
_ONE: Final = Fraction(
    1, 100
)  # less than this of a material, more or less, is no difference: what its premixes are rounded to


@dataclass
class TraceContext:
    """Two batches side by side.  ``put_aside`` counts the differences that lie inside tolerances."""

    old: BatchContext
    new: BatchContext
    recipe: RecipePart
    put_aside: int = 0
    roles: dict[str, Doing] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Work out what the steps do: a step that both recipes have does what it does in either."""
        for formula in self.formulas:
            for name, doing in doings(breakdown_of(formula)).items():
                known = self.doing(name)
                self.roles[name] = Doing(known.roles | doing.roles, known.functions | doing.functions)

    @property
    def formulas(self) -> tuple[Formula, ...]:
        """Give the versions that the batches name; where none can be read, the recipes as they are now."""
        found = [side.formula for side in (self.old, self.new) if side.formula is not None]
        return tuple(found or [side.stand_in for side in (self.old, self.new) if side.stand_in is not None])

    @property
    def form(self) -> str | None:
        """Give the form of the product."""
        return self.new.form or self.old.form

    def doing(self, step: str) -> Doing:
        """Say what a step does, and to what."""
        return self.roles.get(step, _NOTHING)

    @property
    def everything(self) -> Doing:
        """Give the roles of all steps, and the functions of all materials."""
        doings = self.roles.values()
        roles = frozenset(role for doing in doings for role in doing.roles)
        return Doing(roles, frozenset(name for doing in doings for name in doing.functions))

    def functions(self, ingredient: str) -> frozenset[str]:
        """Name what a material does."""
        return frozenset(name for formula in self.formulas for name in functions_of(formula, ingredient))

    def same_in_all(self, ingredient: str) -> bool:
        """Say whether both recipes hold as much of a material, what comes by premixes included: it only moved."""
        sides = [side.sums for side in (self.old, self.new)]
        if sides[0] is None or sides[1] is None:
            return False
        names = {name for sums in sides if sums is not None for name in leaves_of(sums.formula, ingredient)}
        totals = [(sides[0].leaves.get(name, _NONE), sides[1].leaves.get(name, _NONE)) for name in names]
        return bool(names) and all(abs(new - old) <= _ONE * max(old, new) for old, new in totals)

    def by(self, *places: str) -> tuple[tuple[Commit, ...], bool]:
        """Give the commits that changed one of some places of the recipe, and whether only the older side has them."""
        found = [
            item
            for item in self.recipe.changes
            if any(item.change.where == place or item.change.where.startswith(f"{place}/") for place in places)
        ]
        commits = {commit.oid: commit for item in found for commit in item.by}
        return tuple(commits.values()), any(item.undone for item in found)


def sign(value: Fraction | None) -> int:
    """Give 1, -1, or 0 where there is nothing or it is not known."""
    return 0 if not value else 1 if value > 0 else -1
