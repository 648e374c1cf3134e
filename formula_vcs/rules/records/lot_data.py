"""A lot by itself: what it is of, its dates, and its certificate against what the ingredient must measure."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.lot import Lot
from formula_vcs.model.quantity import Range
from formula_vcs.model.spec_line import spec_lines
from formula_vcs.rules.rule import COMMON_PRACTICE, FORMAT, RecordCase, RecordRule


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
