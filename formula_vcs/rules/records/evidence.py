"""Proofs: their dates, and the version that each is about."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Final

from formula_vcs.law.duty_table import table_of
from formula_vcs.model.asked_day import after
from formula_vcs.model.evidence import Proof, proofs, title
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.rules.rule import COMMON_PRACTICE, FORMAT, PinnedVersion, RecordCase, RecordRule
from formula_vcs.toml.takers import nearest

# --- Evidence that has ended or soon will, that ends before it began, that is about nothing here, or stands twice


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


# --- Evidence names the version that it is about: a commit that is there, with the recipe, and its content hash


_SHORT: Final = 40


def pinned(case: RecordCase) -> Iterator[tuple[Proof, PinnedVersion]]:
    """The proofs of an evidence file with the versions that they name."""
    for proof in proofs(case.record):
        yield proof, case.pins.at(proof.commit, proof.named)


def subject(proof: Proof) -> str:
    """Say what a finding is about in a form that stays when proofs change places in the file."""
    return f"{proof.kind}/{proof.report}"


class EvidenceKind(RecordRule):
    """A proof is of a kind that the table of duties names: one that ships, or one of the house.

    Why: of a kind that no table names nobody can say what outdates it, so it would cover whatever changes.  The house
    names kinds of its own in `rules/*.toml`, with who makes such a proof, and rows that say which changes outdate it.

    So:
        [kind.tube-migration]
        owner  = "packaging"
        source = "house standard HS-31"

        [[duty]]
        id     = "tube-migration-solvent"
        when   = "amount"
        of     = ["solvent"]
        above  = "5 %"
        repeat = ["tube-migration"]
        source = "house standard HS-31"
    """

    id = "evidence-kind"
    source = FORMAT
    judges = "evidence"

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Look every kind up in the table."""
        kinds = table_of(case.snapshot.workspace).kinds
        for proof in proofs(case.record):
            if proof.kind not in kinds:
                hint = nearest(proof.kind, kinds) or f"; known: {', '.join(kinds)}"
                words = f"{proof.report}: '{proof.kind}' is no kind of evidence{hint}"
                yield self.say_about(case, words, (*proof.at, "kind"), subject=subject(proof), on_value=True)


class EvidenceCommit(RecordRule):
    """The commit that a proof names is in this repository, and holds the recipe.

    A study is about one version of a recipe; without that version nobody can say what has changed since.  Write the id
    of the commit whose recipe was tested, in full: `git formula show RECIPE --evidence` prints it.  A recipe that had
    another id at that commit is named with `called = "old-id"`.

    In a shallow clone an unknown commit is a warning, as the clone may only lack it; outside git, where no version can
    be looked up at all, it is a note.  An id that is not written in full is a warning: the day will come on which a
    second commit begins like it.  A commit that the default branch does not hold is a note.

    Not so: `commit = "0000000"`.
    So: `commit = "3f2c9d1e5b7a40c6818f20d95a3b6e7c4d1f8a92"`.
    """

    id = "evidence-commit"
    source = FORMAT
    judges = "evidence"

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Say why a version cannot be had."""
        for proof, version in pinned(case):
            found = _trouble(proof, version) or self._away(case, proof, version)
            if found is not None:
                severity, words = found
                at = (*proof.at, "commit")
                yield self.say_about(case, words, at, subject=subject(proof), severity=severity, on_value=True)

    @staticmethod
    def _away(case: RecordCase, proof: Proof, version: PinnedVersion) -> tuple[Severity, str] | None:
        if case.pins.on_default_branch(version.commit) is not False:
            return None
        words = (
            f"{proof.report}: commit {version.commit[:10]} is not on the default branch; where its branch is squashed "
            "or rebased instead of merged, name the commit that it becomes"
        )
        return "note", words


def _trouble(proof: Proof, version: PinnedVersion) -> tuple[Severity, str] | None:
    what = f"{proof.report}: commit {proof.commit[:10]}"
    if version.state == "found":
        if len(proof.commit) >= min(_SHORT, len(version.commit)):
            return None
        return "warn", f"{proof.report}: write the commit's id in full, {version.commit}"
    if version.state == "no-git":
        return "note", f"{what} cannot be looked up: the workspace is in no git repository"
    if version.state == "shallow":
        words = f"{what} is not in this clone, which is shallow; `git fetch --unshallow` brings what is missing"
        return "warn", words
    if version.state == "no-recipe":
        hint = "" if proof.called else '; if it had another id then, say so with called = "..."'
        return "block", f"{what} has no recipe '{proof.named}'{hint}"
    if version.state == "unreadable":
        return "block", f"{what}: its recipe '{proof.named}' cannot be read"
    return "block", f"{what} is no commit of this repository"


class EvidenceHash(RecordRule):
    """The content hash of a proof is that of the recipe in its commit.

    The hash is over what the recipe and its premixes mean; it shows a pin that was typed wrong or pasted from another
    recipe, and still says which version was meant where history was rewritten.

    Not so: the commit of the tested version with the hash of the version after it.
    So: both as `git formula show RECIPE --evidence --rev COMMIT` prints them.
    """

    id = "evidence-hash"
    source = FORMAT
    judges = "evidence"

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Compare the hashes."""
        for proof, version in pinned(case):
            if version.formula is not None and version.hash != proof.hash:
                words = (
                    f"{proof.report}: the content hash is not that of '{proof.named}' in commit {version.commit[:10]}, "
                    f"which is {version.hash}"
                )
                yield self.say_about(case, words, (*proof.at, "hash"), subject=subject(proof), on_value=True)


def too_early(proof: Proof, version: PinnedVersion) -> bool:
    """Say whether a proof passed before its version was there; a day is nothing, as clocks and time zones differ."""
    return version.day is not None and version.day > after(proof.passed)


class EvidencePasses(RecordRule):
    """The version that a proof is about was there on the day of the proof, and passed its check on that day.

    A version that does not add up, or that broke a limit in force, was not what was tested or must not have been.
    The version is judged as it stood in its commit, as of the day in `passed`; and a commit whose author made it later
    than that was not tested either.  Where a branch is squashed after a test, the commit that was tested stays the one
    to name: a tag keeps it.

    Not so: a stability study of a version whose total is 100.30.
    So: mend the recipe, commit, study that version.
    """

    id = "evidence-passes"
    source = FORMAT
    judges = "evidence"

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Judge the version; a wrong hash is said already."""
        for proof, version in pinned(case):
            if version.formula is None or version.hash != proof.hash:
                continue
            if too_early(proof, version):
                words = (
                    f"{proof.report} passed on {proof.passed}, and the version that it names is of {version.day}: "
                    "it was not there yet"
                )
                yield self.say_about(case, words, (*proof.at, "commit"), subject=subject(proof), on_value=True)
                continue
            blocking = version.blocking(proof.passed)
            if blocking:
                more = f" and {len(blocking) - 1} more" if len(blocking) > 1 else ""
                words = (
                    f"{proof.report}: '{proof.named}' in commit {version.commit[:10]} did not pass its check on "
                    f"{proof.passed}: {blocking[0].message} ({blocking[0].rule}){more}"
                )
                yield self.say_about(case, words, (*proof.at, "commit"), subject=subject(proof), on_value=True)
