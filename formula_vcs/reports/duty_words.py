"""Duties laid out for people, whatever the format: by owner, and what is said quietly besides; nothing escaped yet."""

from __future__ import annotations

from collections.abc import Iterable

from formula_vcs.changes.compare import Review
from formula_vcs.changes.coverage import COVERS, REFUSED, UNKNOWN, Coverage, ends_soon
from formula_vcs.changes.duties import Duty
from formula_vcs.rules import duty_table

STANDING = "due before this change already"
ADDED_TO = "due before this change already, and this change adds to it"


def by_owner(duties: Iterable[Duty]) -> dict[str, list[Duty]]:
    """Give the duties of each owner."""
    found: dict[str, list[Duty]] = {}
    for duty in duties:
        found.setdefault(duty.owner, []).append(duty)
    return found


def sources(duty: Duty) -> str:
    """Give the sources shortly, each once: without what stands behind their colons; data has them whole."""
    found: dict[str, None] = {}
    for source in duty.source.split("; "):
        head, _, rest = source.partition(": ")
        if "common practice" in source:
            found[source] = None
        else:
            found[f"{head} (from memory)" if "from memory" in rest and "from memory" not in head else head] = None
    return "; ".join(found)


def standing(duty: Duty) -> str:
    """Say whether a duty is none of this change's making."""
    if not duty.standing:
        return ""
    return ADDED_TO if duty.because else STANDING


def ruler(review: Review) -> str:
    """Say what the sizes are measured by, where any size is said."""
    sized = any("SUPAC-SS" in duty.source for duty in review.duties)
    return f"{duty_table.note()[:1].upper()}{duty_table.note()[1:]}." if sized else ""


def quiet(review: Review) -> list[str]:
    """Say which evidence still covers, which cannot be judged here, and which nobody has recorded."""
    lines: list[str] = []
    covering = [one for one in review.proofs if one.state == COVERS]
    if covering:
        lines.append(f"Still covered by {', '.join(map(named, covering))}.")
    if review.sides is not None:
        day = review.sides.terms.day
        soon = [one for one in review.proofs if ends_soon(one, day)]
        lines += [f"{_first(named(one))} ends on {one.proof.until}." for one in soon]
    for state, words in ((UNKNOWN, "cannot be judged here"), (REFUSED, "counts for nothing")):
        lines += [f"{_first(named(one))} {words}: {one.why}." for one in review.proofs if one.state == state]
    if review.unrecorded:
        lines.append(f"No evidence recorded of {_or(review.unrecorded)}, which such a change would outdate.")
    return lines


def named(coverage: Coverage) -> str:
    """Name a proof: ``stability ST-2026-014``."""
    return f"{coverage.proof.what} {coverage.proof.report}"


def nothing(review: Review, *, evidence: bool) -> str:
    """Say why there are no duties; nothing where `quiet` says it."""
    if review.status == "changed" and review.proofs:
        return "no evidence recorded here is outdated by it"
    if review.unrecorded:
        return ""
    if review.status == "changed":
        return "nothing that is normally repeated for such a change"
    return "no evidence of this recipe is recorded" if evidence else "no evidence is recorded here"


def _or(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _first(text: str) -> str:
    return text[:1].upper() + text[1:]
