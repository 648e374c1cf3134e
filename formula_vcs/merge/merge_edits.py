"""Name the edits of both sides that together break something."""

from __future__ import annotations

import datetime

from formula_vcs.diff.counterfactuals import TooMuchError
from formula_vcs.diff.diff import diff
from formula_vcs.diff.finding_causes import causes
from formula_vcs.merge.three_way import OURS, THEIRS, ThreeWay
from formula_vcs.merge.verdict import Bench
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Recipe
from formula_vcs.review.compare import file_changes
from formula_vcs.workspace.snapshot import Snapshot

_MOST = 3


def edits(
    bench: Bench, versions: ThreeWay[bytes | None], after: Snapshot, finding: Finding
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Give the edits of ours and of theirs in words; a side of which none is needed gives what it changed at all."""
    before = ThreeWay(*(bench.at(side) for side in (versions.ours, versions.base, versions.theirs)))
    ours, theirs = ((), ()) if finding.recipe is None else edits_between(before, after, finding, bench.day)
    return ours or _changed(before, OURS, bench.path), theirs or _changed(before, THEIRS, bench.path)


def edits_between(
    sides: ThreeWay[Snapshot], after: Snapshot, finding: Finding, day: datetime.date
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Give the edits of ours and of theirs that bring a finding of a recipe together, in words."""
    name = finding.recipe or ""
    base = _formula(sides.base, name)
    changes = diff(base, _formula(after, name))
    try:
        needed = set(causes(base, changes, finding, day))
    except TooMuchError:
        needed = set()
    # in the words of the side: where both change one list, the merge has what neither of them wrote
    own = (diff(base, _formula(sides.way(way), name)) for way in (OURS, THEIRS))
    ours, theirs = (tuple(change.text for change in changes if change.id in needed)[:_MOST] for changes in own)
    return ours, theirs


def _changed(before: ThreeWay[Snapshot], way: str, path: str) -> tuple[str, ...]:
    found = file_changes(before.base, before.way(way), path, path) or ()
    return tuple(change.text for change in found if not change.derived)[:_MOST]


def _formula(snapshot: Snapshot, name: str) -> Formula:
    return snapshot.formula(snapshot.recipe(name) or Recipe(name, {}, f"{name}.toml"))
