"""Duties laid out for people, whatever the format: by owner, and what is said quietly besides; nothing escaped yet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from formula_vcs.evidence.coverage import COVERS, REFUSED, UNKNOWN, Coverage, ends_soon
from formula_vcs.evidence.duties import Duty
from formula_vcs.law import duty_table
from formula_vcs.reports import review_document
from formula_vcs.review.compare import Review
from formula_vcs.words.late_pattern import late_pattern

STANDING: Final = "due before this change already"
ADDED_TO: Final = "due before this change already, and more so with it"
TOLD: Final = 3  # what is said of a duty at first sight, in so many characters
ROOM: Final = 150
NAMED: Final = 4
# many sources are places in these
_TEXTS: Final = ("Regulation (EC) No 1223/2009", "SUPAC-SS")
_ABOUT: Final = late_pattern(r" \([^()]*\)$")
# a colon that begins what a source says, not one inside brackets
_COLON: Final = late_pattern(r": (?![^(]*\))")


def by_owner(duties: Iterable[Duty]) -> dict[str, list[Duty]]:
    """Give the duties of each owner."""
    found: dict[str, list[Duty]] = {}
    for duty in duties:
        found.setdefault(duty.owner, []).append(duty)
    return found


def told(duty: Duty) -> str:
    """Say in a line or two what outdates the evidence: what says most, and how much more there is."""
    said = [line for number, line in enumerate(duty.lines[:TOLD]) if not number or _short(duty.lines[: number + 1])]
    return _and_more(said, len(duty.lines) - len(said))


def _short(lines: Sequence[str]) -> bool:
    return sum(map(len, lines)) <= ROOM


def why(duty: Duty, review: Review) -> str:
    """Name the changes that bring a duty, shortly, and say whether it was due before."""
    brought = causes_briefly(duty, review)
    return "; ".join(part for part in (f"because {brought}" if brought else "", standing(duty)) if part)


def causes_briefly(duty: Duty, review: Review) -> str:
    """Name the changes that bring a duty, no more than a few of them."""
    names = causes(duty, review)
    real = {change.id for change in review.changes if not change.derived}
    if len(names) > 1 and real <= set(duty.because):
        return "of both changes" if len(real) == 2 else f"of all {len(real)} changes"
    return _and_more(names[:NAMED], len(names) - NAMED)


def causes(duty: Duty, review: Review) -> list[str]:
    """Name the changes that bring a duty, those of one step or material together: ``step 'emulsify' (time, speed)``."""
    wanted = set(duty.because)
    found: dict[str, list[str]] = {}
    for change in review.changes:
        if change.id in wanted:
            place, _, what = review_document.brief(change).partition(", ")
            found.setdefault(place, []).extend([what] if what else [])
    return [f"{place} ({', '.join(dict.fromkeys(what))})" if what else place for place, what in found.items()]


def _and_more(said: Sequence[str], more: int) -> str:
    return "; ".join([*said, *([f"and {more} more"] if more > 0 else [])])


def parted(duties: Sequence[Duty]) -> tuple[list[Duty], str]:
    """Part the duties that the changes bring from those that were due before, which one line is enough for."""
    brought = [duty for duty in duties if duty.because or not duty.standing]
    before = [f"{duty.owner}: {duty.evidence}" for duty in duties if duty.standing and not duty.because]
    return brought, f"Due before this change already, and none of its making: {'; '.join(before)}." if before else ""


class Sources:
    """The sources of some duties, each numbered once in the order in which they are listed, by text and place in it."""

    def __init__(self, duties: Iterable[Duty]) -> None:
        """Take the duties that are shown."""
        texts: dict[str, dict[str, None]] = {}
        for duty in duties:
            for source in sources(duty):
                texts.setdefault(_text(source), {})[source] = None
        self._texts = texts
        self._numbers = {source: number for number, source in enumerate((s for of in texts.values() for s in of), 1)}

    def mark(self, duty: Duty) -> str:
        """Give the numbers of a duty's sources: ``[1, 3-5]``."""
        runs: list[list[int]] = []
        for number in sorted(self._numbers[source] for source in sources(duty)):
            if runs and number == runs[-1][-1] + 1:
                runs[-1].append(number)
            else:
                runs.append([number])
        pieces = [str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs]
        return f"[{', '.join(pieces)}]" if pieces else ""

    def listed(self) -> str:
        """List them behind their numbers, what several have in common once; nothing of none."""
        lists = []
        for text, of in self._texts.items():
            rest = [f"[{self._numbers[source]}] {_place(source.removeprefix(text).lstrip(', '))}" for source in of]
            lists.append(f"{text}: {', '.join(rest)}" if text else "; ".join(rest))
        return f"Sources: {'; '.join(lists)}." if lists else ""


def _text(source: str) -> str:
    return next((text for text in _TEXTS if source.startswith(text)), "")


def _place(source: str) -> str:
    """Leave out what a place is about, in brackets at its end, but not that it is from memory."""
    return _ABOUT.sub(lambda found: " (from memory)" if "from memory" in found[0] else "", source)


def sources(duty: Duty) -> list[str]:
    """Give the sources shortly, each once: without what stands behind their colons; data has them whole."""
    found: dict[str, None] = {}
    for source in filter(None, duty.source.split("; ")):
        head, rest = (*_COLON.split(source, maxsplit=1), "")[:2]
        if "common practice" in source or source.startswith("the line"):
            found[source] = None
        else:
            found[f"{head} (from memory)" if "from memory" in rest and "from memory" not in head else head] = None
    return list(found)


def standing(duty: Duty) -> str:
    """Say whether a duty is none of this change's making."""
    if not duty.standing:
        return ""
    return ADDED_TO if duty.because else STANDING


def ruler(review: Review) -> str:
    """Say what the sizes are measured by, where any size is said."""
    sized = any("SUPAC-SS" in duty.source for duty in review.duties)
    return f"{duty_table.note()[:1].upper()}{duty_table.note()[1:]}." if sized else ""


def rests(reviews: Iterable[Review], sources: Sources) -> list[str]:
    """Say once for all recipes what the sizes are measured by, and list the sources."""
    shown = (review for review in reviews if any("SUPAC-SS" in duty.source for duty in parted(review.duties)[0]))
    ruled = next(map(ruler, shown), "")
    return [words for words in (ruled, sources.listed()) if words]


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
    if review.proofs and all(one.state == COVERS for one in review.proofs):
        return "no evidence recorded here is outdated by it"
    if review.proofs or review.unrecorded:
        return ""
    if review.status == "changed":
        return "nothing that is normally repeated for such a change"
    return "no evidence of this recipe is recorded" if evidence else "no evidence is recorded here"


def _or(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _first(text: str) -> str:
    return text[:1].upper() + text[1:]
