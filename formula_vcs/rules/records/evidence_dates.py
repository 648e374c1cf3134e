"""Evidence that has ended or soon will, that ends before it began, that is about nothing here, or stands twice."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Final

from formula_vcs.model.days import after
from formula_vcs.model.evidence import proofs, title
from formula_vcs.model.finding import Finding
from formula_vcs.rules.records.evidence_pin import subject
from formula_vcs.rules.rule import COMMON_PRACTICE, FORMAT, RecordCase, RecordRule

SOON: Final = 90  # days


class EvidenceExpired(RecordRule):
    """A proof holds until its last day; it is made anew before.

    Certificates run out, and so do stability studies that promised a shelf life.  A warning where the day has passed
    and no newer proof of the same kind took its place, a note where it will within 90 days.

    Not so: a certificate with `until = 2026-05-31` in June.
    So: a new [[proof]] with the renewed certificate beside the old one.
    """

    id = "evidence-expired"
    severity = "warn"
    source = COMMON_PRACTICE
    judges = "evidence"

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Say what has ended, or will soon."""
        found = proofs(case.record)
        longest: dict[str, datetime.date] = {}
        for proof in found:
            end = proof.until or datetime.date.max
            longest[proof.what] = max(end, longest.get(proof.what, end))
        for proof in found:
            if proof.until is None or proof.until < longest[proof.what]:
                continue
            at = (*proof.at, "until")
            what = f"{title(proof.kind)} {proof.report}"
            if proof.ended(case.day):
                yield self.say_about(case, f"{what} ended on {proof.until}", at, subject=subject(proof))
            elif (days := (proof.until - case.day).days) <= SOON:
                words = f"{what} ends on {proof.until}, in {days} day{'' if days == 1 else 's'}"
                yield self.say_about(case, words, at, subject=subject(proof), severity="note")


class EvidenceDates(RecordRule):
    """A proof has passed before it ends, and not in the future.

    Not so: `passed = 2027-05-02` and `until = 2026-05-02`.
    So: `passed = 2026-05-02` and `until = 2027-05-02`.
    """

    id = "evidence-dates"
    source = FORMAT
    judges = "evidence"

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Compare the days; a day that is still to come is a warning, as clocks and time zones differ."""
        for proof in proofs(case.record):
            if proof.until is not None and proof.until < proof.passed:
                words = f"{proof.report} ends on {proof.until}, before it passed on {proof.passed}"
                yield self.say_about(case, words, (*proof.at, "until"), subject=subject(proof))
            if proof.passed > after(case.day):
                words = f"{proof.report} passed on {proof.passed}, which is still to come"
                yield self.say_about(case, words, (*proof.at, "passed"), subject=subject(proof), severity="warn")


class EvidenceRecipe(RecordRule):
    """Evidence is about a recipe of the workspace, and each report stands in it once.

    A recipe that was renamed keeps its evidence: write the new id as `recipe`, and the old one as `called` in each
    proof.  Evidence of a recipe that is gone may stay as a record; this is then a warning.

    Not so: `recipe = "hand-creme"`.
    So: `recipe = "hand-cream"`.
    """

    id = "evidence-recipe"
    severity = "warn"
    source = FORMAT
    judges = "evidence"

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Look whether the recipe is there, and for reports that stand twice."""
        recipe = case.record.facts.get(("recipe",))
        if isinstance(recipe, str) and recipe not in case.snapshot.ids("recipe"):
            from formula_vcs.toml.takers import nearest

            hint = nearest(recipe, case.snapshot.ids("recipe"))
            yield self.say_about(case, f"there is no recipe '{recipe}' here{hint}", ("recipe",), on_value=True)
        seen: set[tuple[str, str]] = set()
        for proof in proofs(case.record):
            if (proof.what, proof.report) in seen:
                words = f"{title(proof.kind)} {proof.report} stands twice in this file"
                yield self.say_about(case, words, (*proof.at, "report"), subject=f"{subject(proof)}/again")
            seen.add((proof.what, proof.report))
