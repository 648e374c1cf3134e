"""Who approved what, for a terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TextIO

from formula_vcs.approvals.trust import Gate, trust_changes
from formula_vcs.model.approval import ApprovalStanding, TrustFile
from formula_vcs.reports.approvals import words
from formula_vcs.reports.document.text import write_blocks
from formula_vcs.reports.terminal import Ink


def write(standing: ApprovalStanding, *, out: TextIO) -> None:
    """Write how a version stands, a line a role."""
    write_blocks(Ink(out), words.standing_blocks(standing))


def write_trust(old: TrustFile, new: Gate, *, out: TextIO) -> None:
    """Write what a change of the trust does, person by person, and what will be asked for."""
    ink = Ink(out)
    ink.wrapped("Who may sign, as it would be:")
    for line in trust_changes(old, new.trust or TrustFile()):
        ink.wrapped(line, "  ", "      ")
    ink.wrapped("What needs approvals, as it would be:")
    for row in new.rows:
        ink.wrapped(str(row), "  ", "      ")
    if not new.rows:
        ink.line("  nothing")


def asked(said: Mapping[str, object], who: str) -> str:
    """Word the question before something is signed."""
    if said["decision"] == "change trust":
        return f"Sign this change of who may sign, as {who}?"
    verb = "Take back the approval of" if said["decision"] == "withdraw" else "Approve"
    return f"{verb} {said['recipe']} as {said['role']}, {who}?"
