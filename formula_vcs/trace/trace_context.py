"""What the differences of two batches are told with: the two, their recipe's changes, and what each step does."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.git.commit_log import Commit
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass, field
from formula_vcs.trace.batch_context import BatchContext
from formula_vcs.trace.recipe_part import RecipePart
from formula_vcs.trace.roles import Doing, doings, functions_of, leaves_of

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
