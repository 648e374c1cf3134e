"""The lots that went into a batch."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.batch import BatchCharge
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding
from formula_vcs.rules.records.batch_case import BatchRule, BatchView, charge_names
from formula_vcs.rules.records.lot_fitness import Taker, unfit
from formula_vcs.rules.rule import COMMON_PRACTICE


class BatchLots(BatchRule):
    """Every charge names its lot, and the lot is one of its ingredient that might be used on that day.

    Why: a recall asks which packs hold a lot. A charge without a lot, or with one that nobody has a file of, is a hole
    in the answer. A lot in quarantine, rejected or expired on the day of the batch went in all the same: say in a
    [[deviation]] who decided. The lot of a premix is the batch that made it. Whether a lot is in quarantine is read
    from its file as it is now.

    So:
        glycerin   = { target = "1 kg", weighed = "1.002 kg", lot = "glycerin-8812" }    # lots/glycerin-8812.toml
        kelp-gel-4 = { target = "1.5 kg", weighed = "1.5 kg", lot = "kg-012" }           # batches/kg-012.toml
    """

    id = "batch-lots"
    source = COMMON_PRACTICE

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Look every lot up."""
        for charge in seen.batch.charges:
            for portion in charge.weighings:
                at = (*portion.path, "lot")
                if portion.lot is None:
                    words = f"'{charge.key}' names no lot"
                    yield from self.missing(seen, words, portion.path, charge_names(charge.key, "lots"))
                else:
                    yield from self._lot(seen, charge, portion.lot, at)

    def _lot(self, seen: BatchView, charge: BatchCharge, name: str, at: Path) -> Iterator[Finding]:
        names = charge_names(charge.key, name, f"lot {name}")
        batch = seen.batch
        premix = self._premix(seen, charge.ingredient)
        taker = Taker(charge.ingredient, premix, batch.id, batch.date, closed=batch.closed is not None)
        for why in unfit(name, taker, seen.case.snapshot):
            words = f"'{charge.key}': {why.words}"
            if why.kind == "itself":
                yield self.say_about(seen.case, words, at)
            elif why.kind == "open":
                yield self.say_about(seen.case, words, at, severity="note" if seen.decided(names) else "warn")
            else:
                yield self.deviates(seen, words, at, names)

    def _premix(self, seen: BatchView, ingredient: str) -> str | None:
        """Name the recipe that makes an ingredient, in the version that was made; None where it is bought."""
        if seen.formula is not None:
            premix = seen.formula.premix_of(ingredient)
            return None if premix is None else premix.id
        known = seen.case.snapshot.ingredient(ingredient)
        return None if known is None else known.recipe
