"""What the evidence of a recipe is worth now, and what to write to record more, worked out once for every format."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Final

from formula_vcs.evidence.coverage import COVERS, DECIDE, EXPIRED, REPEAT, UNKNOWN, Coverage, Evidence, ends_soon
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.evidence import KINDS
from formula_vcs.model.finding import Finding, worst_first
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass, replace
from formula_vcs.reports.sheets import RecipeSheet
from formula_vcs.rules.judge import judge_record
from formula_vcs.rules.rule import Pins, RecordCase
from formula_vcs.workspace.snapshot import Snapshot

STATES = {
    COVERS: "covers this version",
    DECIDE: "to be decided",
    REPEAT: "does not cover this version",
    EXPIRED: "has ended",
    UNKNOWN: "cannot be judged here",
}

MOST: Final = 20  # what outdates one proof, as people read it


@dataclass(frozen=True)
class EvidenceSheet:
    """The proofs of a recipe with what each is worth, and how the recipe as it is would be named in a new one.

    ``commit`` is empty where the recipe is not committed as it is; ``lacking`` then says what a new proof lacks.
    """

    recipe: str
    title: str
    day: datetime.date
    proofs: tuple[Coverage, ...]
    commit: str
    hash: str
    lacking: str
    findings: tuple[Finding, ...]
    files: tuple[str, ...]

    @property
    def block(self) -> tuple[str, ...]:
        """Give the lines of a new proof, ready to be filled in; none where the recipe cannot be pinned."""
        if self.lacking:
            return ()
        return (
            *(() if self.files else (f'recipe = "{self.recipe}"', "")),
            "[[proof]]",
            f'kind   = "{KINDS[0]}"',
            f'commit = "{self.commit}"',
            f'hash   = "{self.hash}"',
            'report = ""',
            f"passed = {self.day.isoformat()}",
        )

    @property
    def file(self) -> str:
        """Name the file that a new proof goes into."""
        return self.files[0] if self.files else f"evidence/{self.recipe}.toml"


def evidence_sheet(snapshot: Snapshot, sheet: RecipeSheet, pins: Pins, commit: str) -> EvidenceSheet:
    """Judge the evidence that a snapshot holds of a recipe; ``commit`` is where the recipe may be committed."""
    formula, day = sheet.formula, sheet.terms.day
    evidence = Evidence(snapshot, pins)
    found = [evidence.covered(proof, formula, day) for proof in evidence.of(formula.recipe.id)]
    found.sort(key=lambda one: (evidence.table.rank(one.proof.kind), one.proof.what, -one.proof.passed.toordinal()))
    records = [record for name in snapshot.ids("evidence") if (record := snapshot.record("evidence", name))]
    own = [record for record in records if record.facts.get(("recipe",)) == formula.recipe.id]
    findings = [f for record in own for f in judge_record(RecordCase(record, snapshot, pins, day))]
    placed = (snapshot.place(finding) for finding in findings)
    shown = sorted((replace(f, shown=sheet.moment.shown(f.file)) for f in placed), key=worst_first)
    return EvidenceSheet(
        formula.recipe.id, formula.recipe.title, day, tuple(found), commit,
        content_hash(formula.recipe, formula.premixes), _lacking(sheet, pins, commit), tuple(shown),
        tuple(sheet.moment.shown(record.file) for record in own),
    )  # fmt: skip


def _lacking(sheet: RecipeSheet, pins: Pins, commit: str) -> str:
    """Say why no proof of the recipe as it is can be recorded, or nothing where it can."""
    blocking = [finding for finding in sheet.findings if finding.severity == "block"]
    if blocking:
        return f"it does not pass its check: {blocking[0].message} ({blocking[0].rule})"
    there = pins.at(commit, sheet.recipe.id).formula if commit else None
    if there is None or not _same(there, sheet.formula):
        return "it is not committed as it is here: commit it, and what it rests on, first"
    return ""


def _same(one: Formula, other: Formula) -> bool:
    parts: Sequence[tuple[object, object]] = (
        (one.recipe.facts, other.recipe.facts),
        (one.premixes, other.premixes),
        (one.ingredients, other.ingredients),
        (one.equipment, other.equipment),
        (one.packaging, other.packaging),
    )
    return all(mine == theirs for mine, theirs in parts)


def crossed(coverage: Coverage) -> list[str]:
    """Say what outdates a proof, or what is to be decided about, each with its source; no more than the first."""
    texts = [f"{one.text} [{one.line.source}]" for one in coverage.crossings[:MOST]]
    more = len(coverage.crossings) - len(texts)
    return [*texts, f"and {more} more (json has them all)"] if more else texts


def said(coverage: Coverage, day: datetime.date) -> str:
    """Say in words what a proof is worth."""
    words = STATES.get(coverage.state, "counts for nothing")
    if coverage.why and coverage.state not in (COVERS, DECIDE, REPEAT):
        words += f": {coverage.why}"
    if ends_soon(coverage, day):
        words += f"; ends on {coverage.proof.until}"
    return words


def about(coverage: Coverage) -> str:
    """Say when and of which version a proof is."""
    proof = coverage.proof
    until = f", until {proof.until}" if proof.until is not None else ""
    size = f", batch of {proof.size}" if proof.size is not None else ""
    return f"passed {proof.passed}{until}, version {(coverage.commit or proof.commit)[:10]}{size}"
