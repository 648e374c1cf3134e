"""What has to follow: duties by owner, each with its trigger, and what is said quietly besides."""

from __future__ import annotations

from typing import Final

from formula_vcs.evidence.duties import Duty
from formula_vcs.reports import duty_words
from formula_vcs.reports.page import parts
from formula_vcs.reports.page.shell import escape
from formula_vcs.review.compare import Review

MOST: Final = 100


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
    """Write a duty with what says most; all that moved, its changes and the sources are folded away."""
    standing = f" {parts.tag(duty_words.standing(duty), 'note')}" if duty.standing else ""
    told, why = duty_words.told(duty), duty_words.causes_briefly(duty, review)
    lines = "".join((f"<br>{escape(told)}" if told else "", parts.because([why] if why else [])))
    names = duty_words.causes(duty, review)
    folded = [
        parts.items(parts.cut([escape(line) for line in duty.lines[: MOST + 1]], MOST, "things that moved")),
        parts.paragraph(f"because {'; '.join(names)}", "small muted") if len(names) > duty_words.NAMED else "",
        parts.paragraph(duty.source, "small muted"),
    ]
    return f"<strong>{escape(duty.duty)}</strong>; {escape(duty.touches)}{standing}{lines}" + parts.folded(
        "How far, and by which rule", "".join(folded)
    )
