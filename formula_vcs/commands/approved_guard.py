"""What loosens, and is approved as the base asks: it is said, and holds nothing back."""

from __future__ import annotations

from collections.abc import Iterable

from formula_vcs.commands import workspace_args
from formula_vcs.commands.subsets import Opened
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.values import replace
from formula_vcs.review.compare import Comparison
from formula_vcs.review.guarded_files import of_gate
from formula_vcs.review.loosenings import Loosening
from formula_vcs.workspace.snapshot import Snapshot


def approved_loosenings(one: Opened, found: Comparison, base: str, commit: str) -> list[str]:
    """Say of each thing that loosens by whom it is approved, empty where it is not.

    ``base`` is the commit whose word is taken, ``commit`` the one that is judged; where either is none (files that are
    not committed), nothing is approved.
    """
    renamed = [change for review in found.reviews for change in review.changes if change.where == "id"]
    was = {change.new: change.old for change in renamed if change.new and change.old}
    return said_of(found.guard, one.place, (one.old, one.new), (base, commit), was)


def said_of(
    guard: Iterable[Loosening],
    place: workspace_args.WorkspaceRef,
    sides: tuple[Snapshot, Snapshot],
    commits: tuple[str, str],
    was: dict[str, str],
) -> list[str]:
    """Say of each thing that loosens by whom it is approved; ``commits`` are the base's and that which is judged."""
    guard = list(guard)
    base, commit = commits
    if not guard or place.repo is None or not base or not commit:
        return [""] * len(guard)
    from formula_vcs.approvals import asking
    from formula_vcs.approvals.passing import ApprovedLoosenings
    from formula_vcs.git import repository

    believed = asking.BelievedBase(base, repository.short_id(base))
    with asking.opened(place.repo, place.folder, commit, believed) as approvals:
        if approvals.ledger.trust is None:
            return [""] * len(guard)
        passing = ApprovedLoosenings(approvals, *sides)
        return [passing.words(item.kind, item.recipes, was, gate=of_gate(item)) for item in guard]


def approved(finding: Finding, words: str, severity: Severity) -> Finding:
    """Give a finding about a loosening as bad as it was asked for; one that is approved is said, and blocks nothing."""
    if not words:
        return replace(finding, severity=severity)
    return replace(finding, severity="warn", message=f"{finding.message}; {words}")
