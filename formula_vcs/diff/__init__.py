"""What differs between two versions: diff, effects, causes; a diff is a patch that can be applied."""

from __future__ import annotations

from formula_vcs.diff.apply import apply
from formula_vcs.diff.change import Change
from formula_vcs.diff.diff import diff

__all__ = ["Change", "apply", "diff"]
