"""The lots that went into a batch."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.batch import Batch, BatchCharge, Portion
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding
from formula_vcs.model.lot import Lot
from formula_vcs.rules.records.batch_case import BatchRule, BatchView, charge_names
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
                    yield from self._lot(seen, charge, portion, at)

    def _lot(self, seen: BatchView, charge: BatchCharge, portion: Portion, at: Path) -> Iterator[Finding]:
        name = portion.lot or ""
        names = charge_names(charge.key, name, f"lot {name}")
        if self._is_premix(seen, charge.ingredient):
            yield from self._batch(seen, charge, name, at)
            return
        record = seen.case.snapshot.record("lots", name)
        if record is None:
            from formula_vcs.toml.takers import nearest

            near = nearest(name, seen.case.snapshot.ids("lots"))
            words = f"'{charge.key}': there is no file of lot '{name}' (lots/){near}"
            yield self.deviates(seen, words, at, names)
            return
        lot = Lot(name, record.facts, record.file)
        if lot.ingredient is not None and lot.ingredient != charge.ingredient:
            words = f"'{charge.key}': lot '{name}' is '{lot.ingredient}', another ingredient"
            yield self.deviates(seen, words, at, names)
            return
        for words in _not_free(lot, seen.batch):
            yield self.deviates(seen, f"'{charge.key}': {words}", at, names)

    def _is_premix(self, seen: BatchView, ingredient: str) -> bool:
        if seen.formula is not None:
            return seen.formula.premix_of(ingredient) is not None
        found = seen.case.snapshot.ingredient(ingredient)
        return found is not None and found.recipe is not None

    def _batch(self, seen: BatchView, charge: BatchCharge, name: str, at: Path) -> Iterator[Finding]:
        """Judge the lot of a premix, which is the batch that made it."""
        names = charge_names(charge.key, name, f"lot {name}")
        snapshot = seen.case.snapshot
        record = snapshot.record("batches", name)
        if record is None:
            from formula_vcs.toml.takers import nearest

            near = nearest(name, snapshot.ids("batches"))
            words = (
                f"'{charge.key}' is a premix, its lot is the batch that made it, and there is no batch '{name}'{near}"
            )
            yield self.deviates(seen, words, at, names)
            return
        made = Batch(name, record.facts, record.file)
        ingredient = seen.formula.ingredients[charge.ingredient] if seen.formula is not None else None
        wanted = ingredient.recipe if ingredient is not None else None
        if wanted is not None and made.recipe is not None and made.recipe != wanted:
            words = f"'{charge.key}': batch '{name}' is of '{made.recipe}', and '{wanted}' is wanted"
            yield self.deviates(seen, words, at, names)
        elif name == seen.batch.id:
            yield self.say_about(seen.case, f"'{charge.key}': the batch is its own lot", at)
        elif made.date is not None and seen.batch.date is not None and made.date > seen.batch.date:
            words = f"'{charge.key}': batch '{name}' was made on {made.date}, after this one ({seen.batch.date})"
            yield self.deviates(seen, words, at, names)
        elif made.closed is None and seen.batch.closed is not None:
            words = f"'{charge.key}': batch '{name}', which made it, is not closed yet"
            yield self.say_about(seen.case, words, at, severity="note" if seen.decided(names) else "warn")


def _not_free(lot: Lot, batch: Batch) -> Iterator[str]:
    """Say why a lot might not be used on the day of a batch."""
    if lot.status == "quarantine":
        yield f"lot '{lot.id}' is in quarantine"
    elif lot.status == "rejected":
        yield f"lot '{lot.id}' is rejected"
    if batch.date is None:
        return
    if lot.expires is not None and lot.expires < batch.date:
        yield f"lot '{lot.id}' expired on {lot.expires}, before the batch was made on {batch.date}"
    if lot.received is not None and lot.received > batch.date:
        yield f"lot '{lot.id}' came on {lot.received}, after the batch was made on {batch.date}"
