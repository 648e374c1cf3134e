"""The smallest or the cheapest change of a recipe that reaches several targets, judged before it is proposed."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.errors import UserError
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.cost import costing
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.preservatives import brings_preservative
from formula_vcs.mending.knob import GAUGES, HUNDREDTH, Knob, amount_knobs, turned
from formula_vcs.mending.target import WantedTarget, kept
from formula_vcs.mending.whole_search import Condition, Steps, TooManyError, Whole, WholeSearch, steps_between
from formula_vcs.model.finding import SEVERITIES, Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Charge
from formula_vcs.model.values import dataclass, replace
from formula_vcs.rules.judge import judge
from formula_vcs.rules.rule import Case

BY: Final = ("smallest", "cheapest")
BY_TRYING: Final = 3  # charges that are moved at once without a solver
_PROBE: Final = 128  # steps over which it is seen what a charge does


@dataclass(frozen=True, slots=True)
class MovableCharge:
    """A charge that may move, and between what, in % w/w; ``preserves`` says that nobody moves it unasked."""

    knob: Knob
    least: Fraction
    most: Fraction
    preserves: bool = False


@dataclass(frozen=True, slots=True)
class Moved:
    """A charge that moves: from, to, in % w/w; ``rest`` says that it takes what the others leave."""

    charge: Charge
    before: Fraction
    after: Fraction
    rest: bool = False


@dataclass(frozen=True, slots=True)
class TargetValue:
    """What a target has before and after."""

    target: WantedTarget
    before: Fraction
    after: Fraction


@dataclass(frozen=True, slots=True)
class TargetConflict:
    """Targets that cannot hold together, none of which can be left out of that; ``reach`` is how far a single one goes.

    ``most`` says that they cannot with so many charges moved.  No target at all: the recipe cannot pass its check.
    """

    targets: tuple[WantedTarget, ...]
    most: int
    reach: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    """What was found for a recipe.

    ``formula`` is the recipe as proposed, None where there is a ``conflict`` or it was broken off (``why``).
    ``warned`` are findings that the change brings or worsens, none of which blocks; ``cost`` the cost per kg before
    and after, where both are known, in ``currency``.
    """

    before: Formula
    by: str
    targets: tuple[WantedTarget, ...]
    formula: Formula | None = None
    moved: tuple[Moved, ...] = ()
    reached: tuple[TargetValue, ...] = ()
    warned: tuple[Finding, ...] = ()
    still: tuple[Finding, ...] = ()
    cost: tuple[Fraction, Fraction] | None = None
    currency: str = ""
    conflict: TargetConflict | None = None
    why: str = ""


def movable(formula: Formula) -> list[MovableCharge]:
    """Give the charges that can move: amounts in percent, not kept for adjusting, inside their own bounds.

    What takes the rest is not among them.

    :raises UserError: the recipe is not in percent, or an amount is open.
    """
    recipe = formula.recipe
    if recipe.amounts != "percent":
        raise UserError(
            f"'{recipe.id}' has its amounts in {recipe.amounts}: a change in 0.01 % is only proposed in percent"
        )
    if breakdown_of(formula).composition.is_open:
        raise UserError(f"'{recipe.id}' leaves an amount open: settle it first")
    knobs = list(amount_knobs(formula))
    balance = next((charge for charge in recipe.charges if charge.balance), None)
    if balance is None:
        largest = max(knobs, key=lambda knob: knob.value, default=None)
        rest = next((c for c in recipe.charges if largest is not None and c.path == largest.path), None)
        knobs = [replace(knob, rest=rest) for knob in knobs if knob is not largest]
    kept_back = {charge.path for charge in recipe.charges if "for" in charge.more}
    return [
        MovableCharge(knob, HUNDREDTH, Fraction(100), _preserves(formula, knob.path[3]))
        for knob in knobs
        if knob.path not in kept_back
    ]


def _preserves(formula: Formula, name: str) -> bool:
    found = formula.ingredients.get(name)
    return found is not None and ("preservative" in found.functions or any(map(brings_preservative, found.inci)))


def propose(
    formula: Formula,
    targets: Sequence[WantedTarget],
    moving: Sequence[MovableCharge],
    terms: Terms,
    *,
    by: str = "smallest",
    most: int = BY_TRYING,
) -> Proposal:
    """Look for the smallest change in whole 0.01 % that reaches all targets, or for the cheapest recipe.

    The smallest is that whose moved charges move least all together, what takes the rest not counted; of those, the
    one that moves fewest charges.  The cheapest is that of the lowest cost per kg; of those, the smallest change.

    :raises UserError: a fact is missing that a target rests on, or the solver is wanted and not there.
    """
    search = _ProposalSearch(formula, targets, moving, terms, by=by, most=most)
    base = Proposal(formula, by, tuple(targets))
    try:
        moves = search.moves(range(len(targets)))
        if moves is None:
            return replace(base, conflict=search.conflict(), why=search.refused)
    except TooManyError:
        return replace(
            base, why=f"more would have to be tried than is: let fewer charges move, or less far{search.refused}"
        )
    return search.proposal(base, moves)


class _ProposalSearch:
    def __init__(
        self,
        formula: Formula,
        targets: Sequence[WantedTarget],
        moving: Sequence[MovableCharge],
        terms: Terms,
        *,
        by: str,
        most: int,
    ) -> None:
        self._formula = formula
        self._targets = targets
        self._moving = moving
        self._terms = terms
        self._most = most
        self._passes = not targets
        self._before = judge(formula, terms.day)
        self._ranks = _worst(self._before)
        self.refusals: list[str] = []
        spans = [steps_between(one.knob.value, one.least, one.most, one.knob.step) for one in moving]
        self._down, self._up = tuple(down for down, _ in spans), tuple(up for _, up in spans)
        start = self._measured(formula)
        for target in targets:
            left = start[target.words]
            if isinstance(left, tuple):
                raise UserError(f"'{target.words}' cannot be asked: {'; '.join(left[:4])}")
        if self._passes:
            self._ask_to_pass()
        self._conditions = self._linear(start)
        self._steps = self._prices(by)

    @property
    def refused(self) -> str:
        """Say what the check refused, where it refused anything."""
        return f"; the check refused {self.refusals[0]}" if self.refusals else ""

    def _measured(self, formula: Formula) -> dict[str, Fraction | tuple[str, ...]]:
        found: dict[str, Fraction | tuple[str, ...]] = {one.words: one.left(formula) for one in self._targets}
        for name, left in kept(Case(formula, self._terms.day)).items():
            found[f"kept: {name}"] = left
        return found

    def _ask_to_pass(self) -> None:
        """Without a target the recipe is to pass its check: say at once where no amount can do that."""
        blocking = [one for one in self._before if one.severity == "block"]
        if not blocking:
            raise UserError(f"nothing blocks in '{self._formula.recipe.id}': say what is to be reached with --target")
        other = next((one for one in blocking if one.rule not in GAUGES), None)
        if other is not None:
            raise UserError(f"no amount mends [{other.rule}]: {other.message}")

    def _probe(self, place: int) -> int:
        """Give by how many steps a charge is moved to see what it does."""
        up = min(_PROBE, self._up[place])
        return up or -min(_PROBE, self._down[place])

    def _linear(self, start: dict[str, Fraction | tuple[str, ...]]) -> list[Condition]:
        """Find what each charge does to each condition, by moving it; targets first, in their order.

        What the recipe breaks already is not asked of a change, as it may have nothing to do with it.
        """
        probes = [self._probe(i) for i in range(len(self._moving))]
        seen = [self._measured(self._at({i: probe})) if probe else start for i, probe in enumerate(probes)]
        halves = [self._measured(self._at({i: probe // 2})) if probe else start for i, probe in enumerate(probes)]
        found = []
        for name, left in start.items():
            own = name.startswith("kept: ")
            if isinstance(left, tuple) or (own and left < 0 and not self._passes):
                continue
            slopes, plain = [], True
            for probe, far, near in zip(probes, seen, halves, strict=True):
                there, between = far.get(name, left), near.get(name, left)
                if not probe or isinstance(there, tuple) or isinstance(between, tuple):
                    slopes.append(Fraction(0))
                    continue
                slopes.append((there - left) / probe)
                plain = plain and (not probe // 2 or (between - left) / (probe // 2) == slopes[-1])
            if plain or (own and left < 0):
                found.append(Condition(name, left, tuple(slopes)))
            elif not own:
                found.append(self._bent(name, left, tuple(slopes)))
            # what is no sum over the charges is judged afterwards
        return found

    def _bent(self, name: str, left: Fraction, slopes: tuple[Fraction, ...]) -> Condition:
        """Take a cost as it is near the present amounts, as a price break makes it jump; refuse all else that bends."""
        target = next(one for one in self._targets if one.words == name)
        if target.name not in ("cost_per_kg", "cost_per_pack"):
            raise UserError(
                f"'{name}' cannot be asked: that is no sum over the charges, so no smallest change is known"
            )
        return Condition(name, left, slopes)

    def _prices(self, by: str) -> Steps:
        """Say what a step costs: the same whatever moves, or what it adds to the cost per kg and then its smallness."""
        zero = (Fraction(0),) * len(self._moving)
        if by == "smallest":
            return Steps(self._down, self._up, zero, Fraction(1))
        now = self._cost(self._formula)
        prices = []
        for i in range(len(self._moving)):
            probe = self._probe(i)
            prices.append((self._cost(self._at({i: probe})) - now) / probe if probe else Fraction(0))
        # of two changes that cost the same the smaller wins, and never a smaller one over a cheaper one
        unit = Fraction(1)
        for price in prices:
            unit /= price.denominator
        return Steps(self._down, self._up, tuple(prices), unit / (2 * (1 + sum(self._down) + sum(self._up))))

    def _cost(self, formula: Formula) -> Fraction:
        found = costing(breakdown_of(formula), self._terms)
        if found.missing:
            raise UserError(f"the cost of '{formula.recipe.id}' is not known: {'; '.join(found.missing[:4])}")
        return found.per_kg

    def _at(self, moves: dict[int, int]) -> Formula:
        """Give the formula with some charges moved, what takes the rest with them."""
        made = self._formula
        for place, count in moves.items():
            knob = self._moving[place].knob
            if count and knob.rest is not None and not knob.rest.balance:
                rest = next(c for c in made.recipe.charges if c.path == knob.rest.path)
                knob = replace(knob, rest=rest)
            if count:
                made = turned(made, knob, knob.value + count * knob.step)
        return made

    def moves(self, chosen: Sequence[int]) -> Whole | None:
        """Look for the moves that reach some of the targets, by their numbers."""
        return self._searched(self._steps, chosen, [self._targets[place] for place in chosen])

    def _searched(self, steps: Steps, chosen: Sequence[int], targets: Sequence[WantedTarget]) -> Whole | None:
        wanted = [one for place, one in enumerate(self._conditions) if place >= len(self._targets) or place in chosen]

        def accepted(moves: Whole) -> bool:
            return self._accepted(moves, targets)

        room = sum(bool(down or up) for down, up in zip(self._down, self._up, strict=True))
        if min(self._most, room) > BY_TRYING:
            from formula_vcs.mending.solver import solved

            return solved(steps, wanted, self._most, accepted)
        return WholeSearch(steps, tuple(wanted), self._most, accepted).found()

    def _accepted(self, moves: Whole, targets: Sequence[WantedTarget]) -> bool:
        """Judge a change by all rules and by its targets, exactly."""
        made = self._at(dict(enumerate(moves)))
        for target in targets:
            left = target.left(made)
            if isinstance(left, tuple) or left < 0:
                self.refusals.append(f"a change that misses '{target.words}' by the true numbers")
                return False
        for finding in judge(made, self._terms.day):
            new = self._ranks.get(finding.fingerprint, len(SEVERITIES)) > 0
            if finding.severity == "block" and (new or self._passes):
                self.refusals.append(f"one by [{finding.rule}]: {finding.message}")
                return False
        return True

    def conflict(self) -> TargetConflict:
        """Find targets that cannot hold together and of which none can be left out of that."""
        needed = list(range(len(self._targets)))
        if not needed:
            return TargetConflict((), self._most)
        for place in list(needed):
            without = [other for other in needed if other != place]
            if without and self.moves(without) is None:
                needed = without
        targets = tuple(self._targets[place] for place in needed)
        return TargetConflict(targets, self._most, self._reach(targets[0]) if len(targets) == 1 else None)

    def _reach(self, target: WantedTarget) -> Fraction | None:
        """Say how far one target can be brought; None where that is not a sum over the charges."""
        if target.weight(self._formula) != 1:
            return None
        slopes = self._conditions[self._targets.index(target)].slopes
        farthest = Steps(self._down, self._up, tuple(-slope for slope in slopes), Fraction(0))
        moves = self._searched(farthest, (), ())
        return None if moves is None else _known(target.value(self._at(dict(enumerate(moves)))))

    def proposal(self, base: Proposal, moves: Whole) -> Proposal:
        """Put together what is proposed."""
        made = self._at(dict(enumerate(moves)))
        now, then = (breakdown_of(one).composition for one in (self._formula, made))
        lines = zip(now.lines, then.lines, strict=True)
        moved = tuple(
            Moved(old.charge, old.pct, new.pct, rest=self._is_rest(old.charge))
            for old, new in lines
            if old.pct != new.pct
        )
        reached = tuple(
            TargetValue(one, _known(one.value(self._formula)), _known(one.value(made))) for one in self._targets
        )
        after = judge(made, self._terms.day)
        ranks = _worst(after)
        worse = {
            mark
            for mark, rank in ranks.items()
            if rank < min(self._ranks.get(mark, len(SEVERITIES)), SEVERITIES.index("note"))
        }
        costs = [costing(breakdown_of(one), self._terms) for one in (self._formula, made)]
        known = not any(one.missing for one in costs)
        return replace(
            base, formula=made, moved=moved, reached=reached,
            warned=tuple(one for one in after if one.fingerprint in worse),
            still=tuple(one for one in after if one.severity == "block"),
            cost=(costs[0].per_kg, costs[1].per_kg) if known else None, currency=costs[0].currency,
        )  # fmt: skip

    def _is_rest(self, charge: Charge) -> bool:
        return any(one.knob.rest is not None and one.knob.rest.path == charge.path for one in self._moving)


def _known(value: Fraction | tuple[str, ...]) -> Fraction:
    return Fraction(0) if isinstance(value, tuple) else value


def _worst(findings: Sequence[Finding]) -> dict[str, int]:
    found: dict[str, int] = {}
    for one in findings:
        rank = SEVERITIES.index(one.severity)
        found[one.fingerprint] = min(rank, found.get(one.fingerprint, rank))
    return found
