"""What makes a judgement milder or blinder between two moments, and nothing else of them: what a commit hook asks.

No figure is worked out and no cause is looked for, so little has to be loaded.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping

from formula_vcs.diff.counterfactuals import Counterfactuals
from formula_vcs.diff.diff import diff
from formula_vcs.diff.material_changes import touching
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import replace
from formula_vcs.review.guarded_files import guarded_files
from formula_vcs.review.loosenings import Loosening, hidden_rank, loosenings
from formula_vcs.review.pairing import pairs_of, renamed_between, touched_between
from formula_vcs.workspace.snapshot import Snapshot

# The id and file of a recipe, and what loosens it.
Loosened = tuple[str, str, tuple[Loosening, ...]]


def guard(old: Snapshot, new: Snapshot, day: datetime.date) -> tuple[Loosening, ...]:
    """Give all that loosens, each thing once."""
    touched = touched_between(old, new)
    renames = renamed_between(old, new)
    found = [
        (name, now.file, _loosened(old, was, new, now, day))
        for name, was, now in pairs_of(old, new, touched, (), renames)
        if was is not None and now is not None
    ]
    return guarding(old, new, touched, renames, found)


def _loosened(old: Snapshot, was: Recipe, new: Snapshot, now: Recipe, day: datetime.date) -> tuple[Loosening, ...]:
    past, present = old.formula(was), new.formula(now)
    changes = touching(past, present, diff(past, present))
    return loosenings(past, present, Counterfactuals(past, changes, present).changes, day) if changes else ()


def guarding(
    old: Snapshot, new: Snapshot, touched: Iterable[str] | None, renames: Mapping[str, str], found: Iterable[Loosened]
) -> tuple[Loosening, ...]:
    """Give what loosens recipes, and files where ``touched`` names those that differ, each thing once.

    The worst comes first; what it hides has its place.
    """
    every = (*(() if touched is None else guarded_files(old, new, touched, renames)), *_once(found))
    return tuple(
        replace(one, hides=tuple(new.place(finding) for finding in one.hides)) for one in sorted(every, key=hidden_rank)
    )


def _once(every: Iterable[Loosened]) -> Iterator[Loosening]:
    """Give what loosens recipes, each thing once, with the recipes that it is under and all that it hides there."""
    found: dict[tuple[str, str], list[Loosening]] = {}
    for recipe, file, guards in every:
        for one in guards:
            shared = one.file != file
            found.setdefault((one.change if shared else f"{recipe}/{one.change}", one.words), []).append(one)
    for same in found.values():
        recipes = tuple(dict.fromkeys(name for one in same for name in one.recipes))
        hides = tuple(dict.fromkeys(finding for one in same for finding in one.hides))
        yield replace(same[0], recipes=recipes, hides=hides)
