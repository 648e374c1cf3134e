"""Which version of a recipe a batch was made from, and whether it was fit to be made."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Final

from formula_vcs.model.approval import UNKNOWN, ApprovalStanding
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.rules.records.batch_case import BatchRule, BatchView, view
from formula_vcs.rules.rule import COMMON_PRACTICE, FORMAT, RecordCase

_SHORT: Final = 12


class BatchVersion(BatchRule):
    """A batch names a version of a recipe that can be found: its commit holds the recipe, with that content hash.

    Why: months later somebody asks what was in the drum. A commit that does not exist, or a hash that is not the
    recipe's there, makes every other line of the record worthless. The hash also tells a typing slip from a rewritten
    history. In a shallow clone a commit that is not there is a note: `git fetch --unshallow` brings it.

    So:
        recipe = "hand-cream"
        commit = "3f2c9d1..."
        hash   = "..."        # both written by `git formula batch`
    """

    id = "batch-version"
    source = FORMAT

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Look the version up."""
        batch, pinned = seen.batch, seen.pinned
        if pinned is None or pinned.state == "no-git":
            return
        short = (batch.commit or "")[:_SHORT]
        if pinned.state == "shallow":
            words = f"commit {short} is not in this shallow clone: 'git fetch --unshallow' brings it"
            yield self.say_about(seen.case, words, ("commit",), severity="note")
        elif pinned.state == "unknown":
            yield self.say_about(seen.case, f"there is no commit {short} in this repository", ("commit",))
        elif pinned.state == "no-recipe":
            yield self.say_about(seen.case, self._no_recipe(seen, short), ("recipe",))
        elif pinned.state == "unreadable":
            words = f"'{batch.recipe}' at commit {short} does not parse"
            yield self.say_about(seen.case, words, ("commit",))
        elif batch.hash is not None and pinned.hash != batch.hash:
            words = f"the content of '{batch.recipe}' at commit {short} is {pinned.hash[:_SHORT]}..., not "
            yield self.say_about(seen.case, f"{words}{batch.hash[:_SHORT]}...", ("hash",))
        else:
            yield from self._renamed(seen)

    def _no_recipe(self, seen: BatchView, short: str) -> str:
        words = f"commit {short} has no recipe '{seen.batch.recipe}'"
        snapshot = seen.pinned.snapshot if seen.pinned is not None else None
        for recipe in snapshot.recipes() if snapshot is not None else ():
            formula = snapshot.formula(recipe) if snapshot is not None else None
            if formula is not None and content_hash(recipe, formula.premixes) == seen.batch.hash:
                return f"{words}; by its content it is '{recipe.id}', as it was called then"
        return words

    def _renamed(self, seen: BatchView) -> Iterator[Finding]:
        name = seen.batch.recipe
        if name is not None and name not in seen.case.snapshot.ids("recipe"):
            words = f"'{name}' is in the commit that the batch names; since then it was renamed or taken away"
            yield self.say_about(seen.case, words, ("recipe",), severity="note")


class BatchPassing(BatchRule):
    """The version that a batch was made from passed its checks on the day it was made.

    Why: what blocks a recipe blocks a batch of it. A batch that was made all the same stays on record, with a
    [[deviation]] that says who decided; it is judged as of its own day, so a law that came later is no fault of it.

    So:
        [[deviation]]
        about      = "version"
        why        = "the limit was read wrongly by the tool; see HS-12"
        decided_by = "Ailsa Thorne"
    """

    id = "batch-passing"
    source = COMMON_PRACTICE

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Judge the version as it stood on the batch's day."""
        day = seen.batch.date
        if seen.formula is None or seen.pinned is None or day is None:
            return
        found = seen.pinned.blocking(day)
        if found:
            more = f" and {len(found) - 1} more" if len(found) > 1 else ""
            words = (
                f"the version that it was made from did not pass on {day}: {found[0].rule}, {found[0].message}{more}"
            )
            yield self.deviates(seen, words, ("commit",), ("version",))


class BatchApproved(BatchRule):
    """The version that a batch was made from was approved, when it was made, by all roles that the house then asked.

    Why: whoever can merge can else make a batch. When it was made is the place in the history at which its file came to
    name the version: a date can be written by hand. Who may approve, and what needs it, is read from the history before
    that place. Where the house says `unapproved = "mark"` this is a warning; a batch that stands all the same says so
    in a [[deviation]]. In a shallow clone it is a note: nothing is known there.

    So:
        [[deviation]]
        about      = "approval"
        why        = "pilot batch, not for sale; approved afterwards as QA-118"
        decided_by = "Ailsa Thorne"
    """

    id = "batch-approved"
    source = COMMON_PRACTICE

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Say nothing: approvals hang on the history of a branch, and are judged where that is known."""
        del seen
        return iter(())

    def judged(self, case: RecordCase, standing: ApprovalStanding, before: ApprovalStanding) -> Iterator[Finding]:
        """Word how the version stood; ``before`` is that with the keys that were revoked since.

        Both are the same where none was.
        """
        seen = view(case)
        lacking = "; ".join(f"{role.role}: {role.words}" for role in standing.lacking)
        if not lacking:
            return
        words = f"the version that it was made from is not approved: {lacking}"
        names = ("approval", "version")
        if standing.state == UNKNOWN:
            words = f"whether the version was approved is not known: {standing.lacking[0].words}"
            yield self.say_about(case, words, ("commit",), severity="note")
        elif before.approved:
            words = f"it was approved when it was made, by a key that was revoked since: {lacking}"
            yield self.say_about(case, words, ("commit",), severity="note" if seen.decided(names) else "warn")
        elif standing.need.refuse:
            yield self.deviates(seen, words, ("commit",), names)
        else:
            yield self.say_about(case, words, ("commit",), severity="note" if seen.decided(names) else "warn")


class BatchBranch(BatchRule):
    """The version that a batch was made from is on the default branch.

    Why: what is made is what was reviewed. A trial from a branch that was never merged is fine as a trial, and is said
    so that nobody takes it for a sale batch. Where the default branch is not known here, nothing is said.
    """

    id = "batch-branch"
    severity = "warn"
    source = COMMON_PRACTICE

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Ask whether the default branch holds the commit."""
        pinned = seen.pinned
        if pinned is None or pinned.state != "found":
            return
        if seen.case.pins.on_default_branch(pinned.commit) is False:
            severity: Severity = "note" if seen.decided(("version",)) else "warn"
            words = f"commit {pinned.commit[:_SHORT]} is not on the default branch: it was never merged"
            yield self.say_about(seen.case, words, ("commit",), severity=severity)


class BatchDates(BatchRule):
    """The dates of a batch can follow each other.

    Why: a record that was closed before the batch was made, or a step that ended before it began, was typed wrong, and
    expiry and prices are judged by these dates.

    Not so:
        date   = 2026-03-04
        closed = 2026-02-06
    """

    id = "batch-dates"

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Compare the dates."""
        batch = seen.batch
        if batch.date is not None and batch.closed is not None and batch.closed < batch.date:
            words = f"closed on {batch.closed}, before it was made on {batch.date}"
            yield self.say_about(seen.case, words, ("closed",))
        for name, day in (("date", batch.date), ("closed", batch.closed)):
            if day is not None and day > seen.case.day:
                words = f"'{name}' is {day}, and today is {seen.case.day}"
                severity: Severity = "note" if name == "date" else "block"
                yield self.say_about(seen.case, words, (name,), severity=severity)
        yield from self._steps(seen)

    def _steps(self, seen: BatchView) -> Iterator[Finding]:
        before: datetime.datetime | None = None
        for step in seen.batch.steps:
            started, ended = step.moment("started"), step.moment("ended")
            if started is not None and ended is not None and _naive(ended) < _naive(started):
                words = f"step '{step.name}' ended at {ended}, before it started at {started}"
                yield self.say_about(seen.case, words, (*step.path, "ended"))
            if started is not None:
                if before is not None and _naive(started) < before:
                    words = (
                        f"step '{step.name}' started before the one above it: steps stand in the order they were done"
                    )
                    yield self.say_about(seen.case, words, (*step.path, "started"))
                before = _naive(started)


def _naive(moment: datetime.datetime) -> datetime.datetime:
    """Compare clocks as they were read: a time with a zone is brought to UTC only where all have one."""
    return moment.replace(tzinfo=None)
