"""Who approved what, in Markdown."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.model.approval import ApprovalStanding
from formula_vcs.reports.approvals import words
from formula_vcs.words.escape import markdown


def write(standing: ApprovalStanding, *, out: TextIO) -> None:
    """Write how a version stands, and all that was signed about the recipe."""
    first, *rest = words.approval_lines(standing)
    out.write(f"### Approvals of {markdown(standing.recipe)}\n\n{markdown(first[:1].upper() + first[1:])}.\n\n")
    out.writelines(f"- {markdown(line)}\n" for line in rest)
    if standing.decisions:
        out.write("\nAll that was signed about it, the oldest first:\n\n")
        out.writelines(f"- {markdown(words.decision(one))}\n" for one in standing.decisions)
