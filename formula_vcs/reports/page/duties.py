"""What has to follow: duties by owner, each with its trigger, and what is said quietly besides."""

from __future__ import annotations

from typing import Final

from formula_vcs.changes.compare import Review
from formula_vcs.changes.duties import Duty
from formula_vcs.reports import duty_words, outline
from formula_vcs.reports.page import parts
from formula_vcs.reports.page.shell import escape

MOST: Final = 100
MOST_NAMES: Final = 8  # changes that are named beside a duty


def follows(review: Review, *, evidence: bool) -> str:
    """Write part 4; ``evidence`` says whether any is recorded in the workspace."""
    pieces: list[str] = []
    for owner, duties in duty_words.by_owner(review.duties).items():
        lines = parts.cut([_duty(duty, review) for duty in duties[: MOST + 1]], MOST, "duties")
        pieces.append(f"<h4>{escape(owner[:1].upper() + owner[1:])}</h4>{parts.items(lines, 'findings')}")
    nothing = "" if review.duties else duty_words.nothing(review, evidence=evidence)
    if nothing:
        pieces.append(parts.paragraph(f"{nothing[:1].upper()}{nothing[1:]}."))
    quiet = [escape(words) for words in (*duty_words.quiet(review), duty_words.ruler(review)) if words]
    pieces.append(parts.items(parts.cut(quiet, MOST, "proofs"), "muted"))
    return f"<h3>What has to follow</h3>{''.join(pieces)}"


def _duty(duty: Duty, review: Review) -> str:
    """Write a duty with the changes that bring it; how far each thing moved, and the sources, are folded away."""
    standing = f" {parts.tag(duty_words.standing(duty), 'note')}" if duty.standing else ""
    wanted = set(duty.because)
    names = [outline.brief(change) for change in review.changes if change.id in wanted]
    more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    causes = parts.because(["; ".join(names[:MOST_NAMES]) + more] if names else [])
    return f"<strong>{escape(duty.duty)}</strong>; {escape(duty.touches)}{standing}{causes}" + parts.folded(
        "How far, and by which rule",
        f"{parts.items(map(escape, duty.lines))}{parts.paragraph(duty.source, 'small muted')}",
    )
