"""The sentences of a batch among its peers, the same in every format."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import isinf
from typing import Final

from formula_vcs.reports.figure_words import sign
from formula_vcs.reports.review_document import ARROW
from formula_vcs.trace import robust
from formula_vcs.trace.peers import Among, PeerRow
from formula_vcs.words.numbers import rounded

HOW: Final = (
    "How it is judged: the distance from the median of the peers, in 1.4826 times their median absolute deviation, "
    "made right for their number, beyond a limit that a sound batch passes in 1 % of all cases. The fewer peers, the "
    "wider the limit: Croux, Rousseeuw 1992 (from memory); limits computed by simulation."
)
_MOST_PLACES: Final = 4
_KINDS: Final = {"result": "Results", "weighing": "Weighings, in % of their targets", "step": "Steps", "lot": "Lots"}


def title(found: Among) -> str:
    """Name what is compared with what."""
    count = "1 batch" if len(found.peers) == 1 else f"{len(found.peers)} batches"
    return f"{found.side.batch.id} among the last {count} of {found.recipe}"


def verdicts(found: Among) -> Iterator[str]:
    """Say what stands out, and how much of that chance alone would bring."""
    if found.side.batch.date is None:
        yield f"{found.side.batch.id} has no date: which batches were made before it is not known."
        return
    if not found.peers:
        yield f"No batch of {found.recipe} was made before it: there is nothing to compare it with."
        return
    first, last = found.peers[0], found.peers[-1]
    yield f"Peers: {first.id} ({first.date}) to {last.id} ({last.date})."
    if len(found.peers) < robust.least():
        few = "1 peer is" if len(found.peers) == 1 else f"{len(found.peers)} peers are"
        yield f"{few} too few to call anything unusual: {robust.least()} are wanted. Their values are below."
        return
    count = len(found.unusual)
    chance = f"{found.by_chance:.1f}"
    stand = "Nothing stands out" if not count else f"{count} stand out" if count > 1 else "1 stands out"
    yield f"{stand} among {found.judged} values; by chance alone some {chance} would."


def fresh(found: Among) -> Iterator[str]:
    """Say what is here for the first time."""
    if found.fresh_version:
        yield "No peer was made from this content of the recipe."
    if found.peers and found.fresh_lots:
        yield f"Lots that no peer took: {', '.join(found.fresh_lots)}."


def heads() -> dict[str, str]:
    """Give the heading of each kind of value."""
    return dict(_KINDS)


def name(row: PeerRow) -> str:
    """Name a value: ``step hydrate-gum, time``; of a lot inside a premix, the outermost first."""
    parts = [*row.name]
    if row.kind == "lot":
        *via, value = parts
        return f"{f' {ARROW} '.join(via)}, {value}"
    return ", ".join(parts)


def usual(row: PeerRow) -> str:
    """Say what is usual: the median and the span of the peers."""
    found = row.found
    if found is None:
        return "no peer has it"
    places = _places(row, found)
    lowest, median, highest = (f"{rounded(value, places):f}" for value in (found.lowest, found.median, found.highest))
    span = f"{lowest} to {highest}" if found.lowest != found.highest else "all alike"
    return f"median {median} of {found.others}, {span}"


def _places(row: PeerRow, found: robust.Unusual) -> int:
    """Choose the decimals of the peers' numbers: those of the value, more where the peers are written with more.

    A weighing in % of its target has no end of them: more only as lowest and highest would else look the same.
    """
    ends = (found.lowest, found.highest)
    places = _decimals(row.number)
    stated = row.value.value.as_tuple().exponent
    places = max(places, -stated) if isinstance(stated, int) else places
    if row.kind != "weighing":
        places = max(places, *(_decimals(value) for value in ends))
    while places < _MOST_PLACES and ends[0] != ends[1] and rounded(ends[0], places) == rounded(ends[1], places):
        places += 1
    return min(places, _MOST_PLACES)


def _decimals(value: Fraction) -> int:
    """Count the decimals that a number is written with; 0 where it has no end within a few."""
    return next((n for n in range(_MOST_PLACES + 1) if Fraction(rounded(value, n)) == value), 0)


def far(row: PeerRow) -> str:
    """Say how far a value lies off, against what is allowed."""
    found = row.found
    if found is None or found.score is None or found.limit is None:
        return "too few to say" if found is not None else ""
    if isinf(found.score):
        return "all others are alike"
    return f"{sign(rounded(Fraction(found.score).limit_denominator(10**6), 1))} spreads, limit {found.limit:.1f}"


def spec(row: PeerRow) -> str:
    """Say how a value stands to its spec."""
    if row.spec is None or not row.place.verdict:
        return ""
    return f"{'in' if row.place.verdict == 'in' else row.place.verdict} its spec {row.spec}"
