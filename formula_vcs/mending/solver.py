"""The least change of many charges at once, by a mixed-integer solver (HiGHS, the extra ``solve``).

It computes with floating-point numbers: what it finds is whole steps, and is tested in fractions before it counts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from types import ModuleType
from typing import Final

from formula_vcs.errors import UserError
from formula_vcs.mending.whole_search import Condition, Steps, TooManyError, Whole

_MOST_TRIES: Final = 60  # proposals that the tool refuses before the search is broken off
_SECONDS: Final = 60.0
WITHOUT: Final = (
    "more than three charges at once need the solver: install the extra, pip install 'formula-vcs[solve]', "
    "or say --most 3"
)


def solved(steps: Steps, conditions: Sequence[Condition], most: int, accepted: Callable[[Whole], bool]) -> Whole | None:
    """Give the moves of at most ``most`` charges that cost least, meet all conditions in fractions and are accepted.

    :raises UserError: the solver is not installed; TooManyError: it finds no answer in a minute, or too many of its
        answers are refused.
    """
    try:
        import highspy
    except ImportError:
        raise UserError(WITHOUT) from None
    program = _Program(highspy, steps, conditions, most)
    slack = [Fraction(0)] * len(conditions)
    for _ in range(_MOST_TRIES):
        moves = program.run()
        if moves is None:
            return None
        short = [place for place, one in enumerate(conditions) if one.left(moves) < 0]
        if not short and accepted(moves):
            return moves
        for place in short:
            # it fails by rounding: ask for a little more, and never for more than one step's worth
            slack[place] = 2 * slack[place] or Fraction(1, 10**7)
            program.tighten(place, slack[place])
        program.forbid(moves)
    raise TooManyError


class _Program:
    """The mixed-integer program: for each charge steps up, steps down, and whether it moves at all."""

    def __init__(self, highspy: ModuleType, steps: Steps, conditions: Sequence[Condition], most: int) -> None:
        self._highspy = highspy
        self._steps = steps
        self._count = len(steps.down)
        self._conditions = conditions
        model = self._model = highspy.Highs()
        model.setOptionValue("output_flag", False)
        model.setOptionValue("time_limit", _SECONDS)
        model.setOptionValue("random_seed", 0)
        model.setOptionValue("threads", 1)
        model.setOptionValue("mip_rel_gap", 0.0)
        model.setOptionValue("mip_abs_gap", 1e-9)
        model.setOptionValue("mip_feasibility_tolerance", 1e-9)
        model.setOptionValue("primal_feasibility_tolerance", 1e-9)
        scale = max((abs(price) for price in steps.prices), default=Fraction(0)) + steps.weight
        costs = [(price / scale, steps.weight / scale) for price in steps.prices]
        for (price, weight), down, up in zip(costs, steps.down, steps.up, strict=True):
            self._whole(float(price + weight), up)
            self._whole(float(weight - price), down)
            self._whole(0.0, 1)
        for i in range(self._count):
            # a charge that does not move has no steps
            self._row([(3 * i, 1.0), (3 * i + 2, -float(steps.up[i]))], None, 0.0)
            self._row([(3 * i + 1, 1.0), (3 * i + 2, -float(steps.down[i]))], None, 0.0)
        self._row([(3 * i + 2, 1.0) for i in range(self._count)], None, float(most))
        self._first = model.getNumRow()
        for one in conditions:
            widest = max((abs(slope) for slope in one.slopes), default=Fraction(0)) or Fraction(1)
            entries = [
                (3 * i + k, float(sign * slope / widest))
                for i, slope in enumerate(one.slopes)
                if slope
                for k, sign in ((0, 1), (1, -1))
            ]
            self._row(entries, float(-one.start / widest), None)

    def _whole(self, cost: float, most: int) -> None:
        column = self._model.getNumCol()
        self._model.addVar(0.0, float(most))
        self._model.changeColCost(column, cost)
        self._model.changeColIntegrality(column, self._highspy.HighsVarType.kInteger)

    def _row(self, entries: Sequence[tuple[int, float]], low: float | None, high: float | None) -> None:
        far = self._highspy.kHighsInf
        columns, values = [column for column, _ in entries], [value for _, value in entries]
        self._model.addRow(-far if low is None else low, far if high is None else high, len(entries), columns, values)

    def tighten(self, place: int, by: Fraction) -> None:
        """Ask a condition to be met by a little more."""
        one = self._conditions[place]
        widest = max((abs(slope) for slope in one.slopes), default=Fraction(0)) or Fraction(1)
        bound = float(-one.start / widest + by)
        self._model.changeRowBounds(self._first + place, bound, self._highspy.kHighsInf)

    def forbid(self, moves: Sequence[int]) -> None:
        """Take one answer out: some charge has to move at least one step more or less."""
        first = self._model.getNumCol()
        for i, move in enumerate(moves):
            self._whole(0.0, 1)
            self._whole(0.0, 1)
            span = float(self._steps.up[i] + self._steps.down[i] + 1)
            above, below = first + 2 * i, first + 2 * i + 1
            self._row([(3 * i, 1.0), (3 * i + 1, -1.0), (above, -span)], float(move + 1) - span, None)
            self._row([(3 * i, 1.0), (3 * i + 1, -1.0), (below, span)], None, float(move - 1) + span)
        self._row([(first + k, 1.0) for k in range(2 * len(moves))], 1.0, None)

    def run(self) -> Whole | None:
        """Solve; None where nothing meets the conditions."""
        self._model.run()
        status = self._model.getModelStatus()
        kinds = self._highspy.HighsModelStatus
        if status in (kinds.kInfeasible, kinds.kUnboundedOrInfeasible):
            return None
        if status != kinds.kOptimal:
            raise TooManyError
        values = self._model.getSolution().col_value
        return tuple(round(values[3 * i]) - round(values[3 * i + 1]) for i in range(self._count))
