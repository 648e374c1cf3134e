"""A merge that was stopped has been looked at."""

from __future__ import annotations

from formula_vcs.rules.rule import FileRule


class MergeStopped(FileRule):
    """No file carries the line of a stopped merge.

    Why: two edits, each fine, can break a recipe together: two people each add 0.3 % of a preservative, and the sum is
    over its limit.  No line of text clashes then, so `git merge` would pass it.  The merge driver stops such a merge
    as a conflict, and leaves the merged recipe with one comment line at its top that names what it breaks and both
    edits.  Decide which of them stays, mend the recipe, and take the line out.

    Not so:
        # git-formula stopped this merge: ...
        title = "Hand cream"

    So:
        title = "Hand cream"

    What the driver saw is this one file, among the others as our side has them.  What breaks between files is found
    by `git formula check --merge A B`, by the hook before a merge commit and by the check in CI.
    """

    id = "merge-stopped"
