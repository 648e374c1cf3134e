"""What was weighed, held against what was to be weighed, and against the recipe."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.figures.tolerance import mistaken_words
from formula_vcs.figures.weighing import mass_text
from formula_vcs.model.batch import BatchCharge, Compared
from formula_vcs.model.finding import Finding
from formula_vcs.rules.records.batch_case import BatchRule, BatchView, charge_names
from formula_vcs.rules.rule import COMMON_PRACTICE
from formula_vcs.words.numbers import shown

_THOUSAND: Final = 1000
_PLANNED: Final = Fraction(1, 50)


class BatchTargets(BatchRule):
    """The targets of a batch are those of its recipe, and they add up to its size.

    Why: a record whose targets are not the recipe's cannot show that the recipe was made. Targets are rounded to the
    balances, so each may lie two divisions off, or 2 % where no balance is named; their sum may not.

    So:
        size = "25 kg"
        [phase.A.charge]
        water    = { target = "23.75 kg" }
        glycerin = { target = "1.25 kg" }      # 5 % of 25 kg
    """

    id = "batch-targets"

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Compare the charges with the recipe's, and their sum with the size."""
        batch = seen.batch
        stated = [charge.target for charge in batch.charges]
        known = [target.base for target in stated if target is not None]
        if batch.size is not None and known and len(known) == len(stated):
            total = sum(known, Fraction(0))
            if total != batch.size.base and set(seen.charges) <= {charge.key for charge in batch.charges}:
                words = f"the targets add up to {mass_text(total)}, the size is {batch.size}"
                yield self.say_about(seen.case, words, ("size",))
        if seen.formula is None:
            return
        for charge in batch.charges:
            yield from self._charge(seen, charge)
        present = {charge.key for charge in batch.charges}
        for key, pct in seen.shares.items():
            if key not in present and pct > 0:
                words = f"the recipe has a charge '{key}' ({shown(pct)} %), and the batch says nothing of it"
                yield from self.missing(seen, words, ("phase", key.partition("/")[0]), charge_names(key))

    def _charge(self, seen: BatchView, charge: BatchCharge) -> Iterator[Finding]:
        if charge.key not in seen.charges:
            words = f"the recipe that it was made from has no charge '{charge.key}'"
            yield self.deviates(seen, words, charge.path, charge_names(charge.key))
            return
        size = seen.batch.size
        if size is None or charge.target is None:
            return
        exact = seen.shares[charge.key] / 100 * size.base
        division = max((seen.division(name) or Fraction(0) for name in _balances(charge)), default=Fraction(0))
        parts = max(len(charge.portions), 1)
        room = (1 + parts) * division if division else _PLANNED * exact
        if abs(charge.target.base - exact) > room:
            words = (
                f"'{charge.key}' is {shown(seen.shares[charge.key])} % of the recipe, {_plain(exact)} of {size}; its "
            )
            yield self.say_about(seen.case, f"{words}target is {charge.target}", (*charge.path, "target"))


def _balances(charge: BatchCharge) -> list[str]:
    return [name for name in (charge.balance, *(part.balance for part in charge.portions)) if name is not None]


def _plain(mass: Fraction) -> str:
    scale, unit = (1, "kg") if mass >= 1 else (_THOUSAND, "g")
    return f"{float(mass * scale):.6g} {unit}"


class BatchWeighed(BatchRule):
    """What was weighed lies within the tolerance of its target.

    Why: a preservative weighed 3 % short is a batch that keeps 3 % less well. The tolerance is the charge's own, else
    workspace.toml's by ingredient, by function or for all, else common practice (0.5 % for preservatives and actives,
    2 % for fragrance and colour, 1 % for the rest), never less than one division of the balance. A charge kept for
    adjusting has no target to meet, only its `at_most`. A mass that is 500 to 2,000 times its target, or as
    small a part of it, was written in the wrong unit and always blocks.

    So:
        glycerin = { target = "1.000 kg", weighed = "1.002 kg", lot = "glycerin-8812" }
    """

    id = "batch-weighed"
    source = COMMON_PRACTICE

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Compare each weighing with its target."""
        for charge in seen.batch.charges:
            whole = [row for row in charge.weighings if row.weighed is None]
            if charge.weighed is None and whole:
                at = whole[0].path
                words = f"'{charge.key}' was not weighed, or nobody wrote it down"
                yield from self.missing(seen, words, at, charge_names(charge.key))
            for compared in charge.compared:
                yield from self._compare(seen, charge, compared)

    def _compare(self, seen: BatchView, charge: BatchCharge, compared: Compared) -> Iterator[Finding]:
        weighed, target, balance, at = compared
        hint = mistaken_words(weighed, target)
        size = seen.batch.size
        if not hint and size is not None and weighed > size.base > target:
            hint = f"more than the whole batch of {size}"
        if hint:
            words = f"'{charge.key}' weighed {_plain(weighed)} for {_plain(target)}: {hint}"
            yield self.say_about(seen.case, words, at, on_value=True)
            return
        recipe = seen.charges.get(charge.key)
        if charge.key in seen.kept and recipe is not None:
            yield from self._kept(seen, charge, weighed, at)
            return
        allowed = seen.tolerance(charge)
        off = weighed - target
        if abs(off) > allowed.of(target, seen.division(balance)):
            share = f"{shown(abs(off) / target * 100, 1, 2)} %" if target else "all of it"
            way = "over" if off > 0 else "under"
            words = f"'{charge.key}' weighed {_plain(weighed)}, {share} {way} its target {_plain(target)} (tolerance "
            yield self.deviates(
                seen, f"{words}{shown(allowed.share * 100, 0, 3)} %, {allowed.why})", at, charge_names(charge.key)
            )

    def _kept(self, seen: BatchView, charge: BatchCharge, weighed: Fraction, at: tuple[str, ...]) -> Iterator[Finding]:
        most, size = seen.charges[charge.key].more.get("at_most"), seen.batch.size
        if most is None or size is None:
            return
        limit = Fraction(most) / 100 * size.base
        if weighed > limit:
            words = (
                f"'{charge.key}' took {_plain(weighed)} to adjust, more than its at_most of {most} %, {_plain(limit)}"
            )
            yield self.deviates(seen, words, at, charge_names(charge.key))
