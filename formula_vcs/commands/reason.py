"""``git formula reason``: ask why a composition changed, and offer the one line that says what did.

Called by the commit-msg hook with the file of the message.  Asks only where amounts, grades or phases of a recipe
that existed before changed; merges, fixups and reverts carry their reason already.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path
from typing import Final

from formula_vcs.commands import workspace_args
from formula_vcs.diff.change import Change
from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.git import repository
from formula_vcs.review.compare import compare
from formula_vcs.words.escape import terminal
from formula_vcs.words.late_pattern import late_pattern

COMPOSITION: Final = frozenset({"amount", "added", "removed", "moved", "grade-swap", "split", "joined", "premix"})
_TRAILER: Final = late_pattern(r"^Reason:[ \t]*\S", re.MULTILINE | re.IGNORECASE)
_CARRIES_ITS_OWN: Final = late_pattern(r"Merge\b|Revert\b|fixup!|squash!|amend!")
_MOST: Final = 3


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what the hook passes."""
    parser.add_argument("file", help="the file that holds the commit message")
    parser.add_argument("--required", action="store_true", help="refuse the commit where the reason is missing")
    workspace_args.option(parser)


def run(args: argparse.Namespace) -> int:
    """Look for the trailer where the staged change needs one."""
    try:
        message = Path(args.file).read_text(encoding="utf-8", errors="replace")
    except OSError as error:
        raise UserError(f"the commit message '{args.file}' cannot be read: {error.strerror}") from None
    body = "\n".join(line for line in message.splitlines() if not line.startswith("#"))
    if _TRAILER.search(body) or _CARRIES_ITS_OWN.match(body.lstrip()):
        return OK
    required = args.required
    summary: list[str] = []
    for place in _places(args.workspace):
        repo = place.repo
        if repo is None or not repository.has_commits(repo):
            continue
        with place.revision("HEAD") as old, place.index() as new:
            if not old.exists or not new.exists:
                continue
            comparison = compare(old, new, workspace_args.terms(None), findings=False)
            required = required or new.workspace.get("reason") == "required"
            for review in comparison.reviews:
                changes = [c for c in review.changes if c.kind in COMPOSITION and not c.derived]
                if review.status == "changed" and changes:
                    summary.append(f"{review.recipe}: {_short(changes)}")
    if not summary:
        return OK
    _ask(summary, refused=required)
    return BLOCKED if required else OK


def _places(chosen: str | None) -> list[workspace_args.WorkspaceRef]:
    try:
        return workspace_args.places(chosen, staged=True)
    except UserError:
        return []


def _short(changes: list[Change]) -> str:
    texts = [change.text for change in changes[:_MOST]]
    if len(changes) > _MOST:
        texts.append(f"and {len(changes) - _MOST} more")
    return "; ".join(texts)


def _ask(summary: list[str], *, refused: bool) -> None:
    print("This changes a composition, and the message does not say why.", file=sys.stderr)
    print("It is not committed yet." if refused else "It is committed all the same.", file=sys.stderr)
    for line in summary:
        print(f"  {terminal(line)}", file=sys.stderr)
    print("Add a last line to the message: Reason: why this was changed", file=sys.stderr)
