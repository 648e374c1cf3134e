"""The rules there are, by id, in the order in which they judge."""

from __future__ import annotations

from typing import Final

from formula_vcs.rules.accepted import AcceptExpired, AcceptUnused
from formula_vcs.rules.balance import Balance
from formula_vcs.rules.balance_left import BalanceLeft
from formula_vcs.rules.bounds import Bounds
from formula_vcs.rules.composition import CompositionAddsUp
from formula_vcs.rules.cycle import Cycle
from formula_vcs.rules.open_amount import OpenAmount
from formula_vcs.rules.ph_step import PhStep
from formula_vcs.rules.process import NoProcess
from formula_vcs.rules.ranges import Ranges
from formula_vcs.rules.reading_rules import (
    BadId,
    BadQuantity,
    BadValue,
    Conflict,
    DuplicateId,
    LinkOutside,
    MissingValue,
    Syntax,
    TooBig,
    UnknownKey,
    Unreadable,
    WrongType,
)
from formula_vcs.rules.reference import PremixReference, Reference
from formula_vcs.rules.rule import Rule
from formula_vcs.rules.shear import ShearAtLeast, ShearAtMost
from formula_vcs.rules.step_charges import StepCharges
from formula_vcs.rules.step_vessels import StepVessels
from formula_vcs.rules.total import Total

_ALL: Final[tuple[type[Rule], ...]] = (
    Syntax, Unreadable, TooBig, LinkOutside, Conflict, DuplicateId,
    UnknownKey, MissingValue, WrongType, BadValue, BadQuantity, BadId,
    Reference, PremixReference, Cycle,
    Total, Balance, BalanceLeft, Bounds, OpenAmount, CompositionAddsUp, Ranges,
    NoProcess, StepCharges, StepVessels, PhStep, ShearAtMost, ShearAtLeast,
    # these two look at what the others have said, so they come last
    AcceptExpired, AcceptUnused,
)  # fmt: skip

RULES: Final[dict[str, Rule]] = {rule.id: rule() for rule in _ALL}
OF_RECIPES: Final = tuple(rule for rule in RULES.values() if rule.judges in ("recipe", "both"))
OF_INGREDIENTS: Final = tuple(rule for rule in RULES.values() if rule.judges in ("ingredient", "both"))
