"""What differs between two versions: diff, effects, causes; a diff is a patch that can be applied."""

from __future__ import annotations

from formula_vcs.changes.apply import apply
from formula_vcs.changes.change import Change
from formula_vcs.changes.diff import diff

__all__ = ["Change", "apply", "diff"]
