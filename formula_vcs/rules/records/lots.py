"""Lots: what is known of them, and whether one may be used."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import NamedTuple

from formula_vcs.model.batch import Batch, BatchCharge
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.lot import Lot
from formula_vcs.model.quantity import Range
from formula_vcs.model.spec_line import spec_lines
from formula_vcs.model.values import dataclass
from formula_vcs.rules.records.batch_case import BatchRule, BatchView, charge_names
from formula_vcs.rules.rule import COMMON_PRACTICE, FORMAT, RecordCase, RecordRule
from formula_vcs.workspace.snapshot import Snapshot

# --- Whether a lot may go into a charge: one answer for who makes a batch, records it, checks it or traces it


@dataclass(frozen=True, slots=True)
class Taker:
    """Who takes a lot: a charge's ingredient, the recipe that makes it where it is a premix, and the batch.

    ``premix`` is None for a material that is bought, "" for a premix whose recipe is not known.
    """

    ingredient: str
    premix: str | None
    batch: str
    day: datetime.date | None
    closed: bool = False


class Unfit(NamedTuple):
    """Why a lot may not be taken.

    ``kind`` is "itself" (the batch is its own lot: nobody can decide that), "open" (the premix is still being made) or
    "deviation" (it was taken all the same where a [[deviation]] says who decided).
    """

    words: str
    kind: str = "deviation"


def unfit(name: str, taker: Taker, here: Snapshot) -> Iterator[Unfit]:
    """Say why a lot, as its file is now, may not go into a charge; nothing where it may."""
    from formula_vcs.toml.takers import nearest

    if taker.premix is None:
        record = here.record("lots", name)
        if record is None:
            yield Unfit(f"there is no file of lot '{name}' (lots/){nearest(name, here.ids('lots'))}")
        else:
            yield from unfit_lot(Lot(name, record.facts, record.file), taker)
        return
    record = here.record("batches", name)
    if record is None:
        near = nearest(name, here.ids("batches"))
        words = f"'{taker.ingredient}' is a premix, its lot is the batch that made it, and there is no batch '{name}'"
        yield Unfit(f"{words}{near}")
    else:
        yield from unfit_batch(Batch(name, record.facts, record.file), taker)


def unfit_lot(lot: Lot, taker: Taker) -> Iterator[Unfit]:
    """Say why a delivery may not go into a charge: of something else, not released, or not there on the day."""
    if lot.ingredient is None:
        yield Unfit(f"lot '{lot.id}' does not say of which ingredient it is")
    elif lot.ingredient != taker.ingredient:
        yield Unfit(f"lot '{lot.id}' is '{lot.ingredient}', another ingredient than '{taker.ingredient}'")
        return
    if lot.status in ("quarantine", "rejected"):
        yield Unfit(f"lot '{lot.id}' is {'in quarantine' if lot.status == 'quarantine' else 'rejected'}")
    day = taker.day
    if day is not None and lot.expires is not None and lot.expires < day:
        yield Unfit(f"lot '{lot.id}' expired on {lot.expires}, before the batch was made on {day}")
    if day is not None and lot.received is not None and lot.received > day:
        yield Unfit(f"lot '{lot.id}' came on {lot.received}, after the batch was made on {day}")


def unfit_batch(made: Batch, taker: Taker) -> Iterator[Unfit]:
    """Say why a batch of a premix may not go into a charge: of another recipe, itself, made later, or not finished."""
    if made.recipe is None:
        yield Unfit(f"batch '{made.id}' does not say of which recipe it is")
    elif taker.premix and made.recipe != taker.premix:
        yield Unfit(f"batch '{made.id}' is of '{made.recipe}', and '{taker.premix}' is wanted")
    elif made.id == taker.batch:
        yield Unfit("the batch is its own lot", "itself")
    elif made.date is not None and taker.day is not None and made.date > taker.day:
        yield Unfit(f"batch '{made.id}' was made on {made.date}, after this one ({taker.day})")
    elif made.closed is None and taker.closed:
        yield Unfit(f"batch '{made.id}', which made it, is not closed yet", "open")


# --- The lots that went into a batch


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


# --- A lot by itself: what it is of, its dates, and its certificate against what the ingredient must measure


class LotData(RecordRule):
    """A lot is of an ingredient that there is, and its dates can follow each other.

    Why: batches name lots, and a lot of nothing answers no recall. What says nothing of its status may not be used
    anywhere by accident, so that is said too.

    So:
        ingredient = "kelp-gum"
        lot        = "2291"
        received   = 2026-02-11
        expires    = 2027-02-10
        status     = "released"
    """

    id = "lot-data"
    judges = "lots"
    source = FORMAT

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Judge a lot."""
        lot = Lot(case.record.id, case.record.facts, case.record.file)
        if not lot.facts:
            return
        name = lot.ingredient
        if name is not None and name not in case.snapshot.ids("ingredients"):
            from formula_vcs.toml.takers import nearest

            words = f"lot '{lot.id}': there is no ingredient '{name}'{nearest(name, case.snapshot.ids('ingredients'))}"
            yield self.say_about(case, words, ("ingredient",))
        if lot.received is not None and lot.expires is not None and lot.expires < lot.received:
            words = f"lot '{lot.id}' expires on {lot.expires}, before it came on {lot.received}"
            yield self.say_about(case, words, ("expires",))
        if ("status",) not in lot.facts:
            words = f"lot '{lot.id}' does not say whether it is in quarantine, released or rejected ('status')"
            yield self.say_about(case, words, (), subject="status", severity="note")


class LotCertificate(RecordRule):
    """What a supplier measured on a lot lies inside the spec of the ingredient.

    Why: a gum at the low end of its viscosity is inside its spec and still makes a thin cream; one outside it should
    not have been released. A rejected lot that is outside is as it should be. A value that the spec asks for and the
    certificate lacks is a note.

    So:
        [certificate]                # lots/kelp-gum-2291.toml
        viscosity = "1180 mPa*s"
        [spec]                       # ingredients/kelp-gum.toml
        viscosity = "1100 to 1600 mPa*s"
    """

    id = "lot-certificate"
    severity = "warn"
    judges = "lots"
    source = COMMON_PRACTICE

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Compare a certificate with the spec."""
        lot = Lot(case.record.id, case.record.facts, case.record.file)
        ingredient = case.snapshot.ingredient(lot.ingredient) if lot.ingredient is not None else None
        if ingredient is None:
            return
        spec = {name: line.asks for name, line in spec_lines(ingredient.facts).items()}
        severity: Severity = "note" if lot.status == "rejected" else "warn"
        for name, conforms in lot.judged.items():
            asked = spec.get(name)
            if asked is not None and (not conforms or not isinstance(asked, str)):
                why = f"says only whether it conforms, and the spec is {asked}"
                why = f"does not conform to the spec '{asked}' of {ingredient.id}" if isinstance(asked, str) else why
                yield self.say_about(case, f"lot '{lot.id}': '{name}' {why}", ("certificate", name), severity=severity)
        for name, value in lot.certificate.items():
            span = spec.get(name)
            if isinstance(span, Range) and not _inside(value, span):
                other = f", and the spec {span} measures something else" if value.dimension != span.dimension else ""
                words = f"lot '{lot.id}': '{name}' is {value}{other or f', outside the spec {span} of {ingredient.id}'}"
                yield self.say_about(case, words, ("certificate", name), severity=severity)
        for name, span in spec.items():
            if lot.status != "rejected" and ("certificate", name) not in lot.facts:
                words = f"lot '{lot.id}': its certificate says nothing of '{name}', and the spec asks for {span}"
                yield self.say_about(case, words, ("certificate",), subject=name, severity="note")


def _inside(value: Range, span: Range) -> bool:
    ends = [end for end in (value.low, value.high) if end is not None]
    return all(span.contains(end) for end in ends)
