"""The sentences of a batch among its peers, the same in every format."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import isinf
from typing import Final

from formula_vcs.changes.trace.peers import Among, PeerRow
from formula_vcs.figures import robust
from formula_vcs.model.numbers import rounded, shown
from formula_vcs.reports.figure_words import sign
from formula_vcs.reports.outline import ARROW

HOW: Final = (
    "How it is judged: the distance from the median of the peers, in 1.4826 times their median absolute deviation, "
    "made right for their number, beyond a limit that a sound batch passes in 1 % of all cases. The fewer peers, the "
    "wider the limit: Croux, Rousseeuw 1992 (from memory); limits computed by simulation."
)
_KINDS: Final = {"result": "Results", "weighing": "Weighings, in % of their targets", "step": "Steps", "lot": "Lots"}


def title(found: Among) -> str:
    """Name what is compared with what."""
    count = "1 batch" if len(found.peers) == 1 else f"{len(found.peers)} batches"
    return f"{found.side.batch.id} among the last {count} of {found.recipe}"


def verdicts(found: Among) -> Iterator[str]:
    """Say what stands out, and how much of that chance alone would bring."""
    if not found.peers:
        yield f"No batch of {found.recipe} was made before it: there is nothing to compare it with."
        return
    first, last = found.peers[0], found.peers[-1]
    yield f"Peers: {first.id} ({first.date}) to {last.id} ({last.date})."
    if len(found.peers) < robust.least():
        few = len(found.peers)
        yield f"{few} peers are too few to call anything unusual: {robust.least()} are wanted. Their values are below."
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
    span = f"{_number(found.lowest)} to {_number(found.highest)}" if found.lowest != found.highest else "all alike"
    return f"median {_number(found.median)} of {found.others}, {span}"


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


def _number(value: Fraction) -> str:
    return shown(value, 0, 4)
