"""What is unusual in a batch among its peers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import isinf
from typing import Annotated, Final, Literal

from formula_vcs.model.values import dataclass
from formula_vcs.reports.batch_record import BatchRecord, batch_record
from formula_vcs.reports.deviation_words import deviation_lines
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Column,
    Document,
    Fold,
    Heading,
    Items,
    ListEntry,
    Paragraph,
    Picture,
    Report,
    Row,
    TableBlock,
    Verdict,
)  # fmt: skip
from formula_vcs.reports.document.data import Exact, SchemaRule
from formula_vcs.reports.figure_words import sign
from formula_vcs.reports.page.strip_plot import Strip, strip_plot
from formula_vcs.reports.review_document import ARROW
from formula_vcs.reports.short_words import counted
from formula_vcs.trace import robust
from formula_vcs.trace.peers import Among, PeerRow
from formula_vcs.words.numbers import exact_text, rounded

_HOW: Final = (
    "How it is judged: the distance from the median of the peers, in 1.4826 times their median absolute deviation, "
    "made right for their number, beyond a limit that a sound batch passes in 1 % of all cases. The fewer peers, the "
    "wider the limit: Croux, Rousseeuw 1992 (from memory); limits computed by simulation."
)
_MOST_PLACES: Final = 4
_MOST_NAMED: Final = 5
_STRIPS: Final = "Each value on a scale of its own: peers are ticks, this batch the dot, the limit a dashed bracket."
_KINDS: Final = {"result": "Results", "weighing": "Weighings, in % of their targets", "step": "Steps", "lot": "Lots"}


def document(found: Among) -> Document:
    """Say what stands out, then the results, then how many of the rest do not."""
    count = "1 batch" if len(found.peers) == 1 else f"{len(found.peers)} batches"
    title = f"{found.side.batch.id} among the last {count} of {found.recipe}"
    said = tuple(Paragraph(words, indent=2, hang=2) for words in (*_verdicts(found), *_fresh(found)))
    said += tuple(Paragraph(words, indent=2, hang=2) for words in deviation_lines(found.side.batch))
    kinds = (block for kind in _KINDS for block in _kind(found, kind))
    verdict = Verdict(said, "warn" if found.unusual else "good")
    return Document(title, (Heading(title), verdict, *kinds, GAP, Paragraph(_HOW, "dim", indent=2)))


def _verdicts(found: Among) -> Iterator[str]:
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
    named = [f"{_name(row)} {row.value}" for row in found.unusual[:_MOST_NAMED]]
    rest = f" and {count - _MOST_NAMED} more" if count > _MOST_NAMED else ""
    which = f": {'; '.join(named)}{rest}" if named else ""
    yield f"{stand} among {found.judged} values{which}. By chance alone some {chance} would."


def _fresh(found: Among) -> Iterator[str]:
    """Say what is here for the first time."""
    if found.fresh_version:
        yield "No peer was made from this content of the recipe."
    if found.peers and found.fresh_lots:
        yield f"Lots that no peer took: {', '.join(found.fresh_lots)}."


def _kind(found: Among, kind: str) -> Iterator[Block]:
    rows = [row for row in found.rows if row.kind == kind]
    if not rows:
        return
    yield GAP
    yield Heading(_KINDS[kind], 2)
    listed = [row for row in rows if kind == "result" or row.stands_out]
    if listed:
        told = (Items(tuple(map(_listed, listed)), hang=4),)
        strips = [_strip(row) for row in listed if row.found is not None and row.others]
        if strips:
            yield Picture(strip_plot(_STRIPS, strips), told)
        yield from told if not strips else ()
    rest = [row for row in rows if row not in listed]
    if rest:
        few = sum(row.found is None or row.found.limit is None for row in rest)
        lone = f"; {few} of them {'has' if few == 1 else 'have'} too few peers to say" if few else ""
        words = f"{counted(len(rest), 'value')} that {'does' if len(rest) == 1 else 'do'} not stand out{lone}"
        yield Fold(words, (_table(rest),), brief=True, indent=4, hang=2)


def _strip(row: PeerRow) -> Strip:
    found = row.found
    limit = None
    if found is not None and found.limit is not None:
        reach = Fraction(found.limit * found.spread).limit_denominator(10**9)
        limit = (found.median - reach, found.median + reach)
    said = "; ".join(part for part in (str(row.value), _usual(row), _far(row), _spec(row)) if part)
    return Strip(_name(row), said, row.number, row.others, limit, row.stands_out)


def _listed(row: PeerRow) -> ListEntry:
    parts = [part for part in (_usual(row), _far(row), _spec(row)) if part]
    return ListEntry(
        f"{_name(row)}: {row.value}",
        (Paragraph("; ".join(parts), indent=8),),
        "warn" if row.stands_out else "",
        "! " if row.stands_out else "  ",
    )


def _table(rows: Sequence[PeerRow]) -> TableBlock:
    return TableBlock(
        (Column("name"), Column("value", "right"), Column("peers"), Column("how far"), Column("spec")),
        tuple(Row((_name(row), str(row.value), _usual(row), _far(row), _spec(row))) for row in rows),
        "Values that do not stand out",
        heads=True,
    )


def _name(row: PeerRow) -> str:
    """Name a value: ``step hydrate-gum, time``; of a lot inside a premix, the outermost first."""
    parts = [*row.name]
    if row.kind == "lot":
        *via, value = parts
        return f"{f' {ARROW} '.join(via)}, {value}"
    return ", ".join(parts)


def _usual(row: PeerRow) -> str:
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


def _far(row: PeerRow) -> str:
    """Say how far a value lies off, against what is allowed."""
    found = row.found
    if found is None or found.score is None or found.limit is None:
        return "too few to say" if found is not None else ""
    if isinf(found.score):
        return "all others are alike"
    return f"{sign(rounded(Fraction(found.score).limit_denominator(10**6), 1))} spreads, limit {found.limit:.1f}"


def _spec(row: PeerRow) -> str:
    """Say how a value stands to its spec."""
    if row.spec is None or not row.place.verdict:
        return ""
    return f"{'in' if row.place.verdict == 'in' else row.place.verdict} its spec {row.spec}"


@dataclass(frozen=True, slots=True)
class PeerValue:
    """A value of the batch among those of its peers."""

    kind: Annotated[str, SchemaRule(one_of=tuple(_KINDS))]
    name: Annotated[tuple[str, ...], SchemaRule(at_least_items=1)]
    value: str
    number: Exact
    unit: str
    others: int
    median: Exact | None
    lowest: Exact | None
    highest: Exact | None
    spread: float | None
    score: float | Literal["infinite", "-infinite"] | None
    limit: float | None
    stands_out: bool
    spec: str | None
    verdict: Annotated[str | None, SchemaRule(one_of=("in", "below", "above"))]


@dataclass(frozen=True, slots=True)
class PeersRecord:
    """What is unusual in a batch among the batches before it."""

    batch: BatchRecord
    recipe: str
    asked: Annotated[int, SchemaRule(least=1)]
    peers: tuple[str, ...]
    least: Annotated[int, SchemaRule("So many peers are wanted to call anything unusual")]
    chance: float
    judged: int
    unusual: int
    values: tuple[PeerValue, ...]
    fresh_lots: tuple[str, ...]
    fresh_version: bool


def record(found: Among) -> PeersRecord:
    """Give all values as data, those that stand out first."""
    return PeersRecord(
        batch_record(found.side), found.recipe, found.asked, tuple(peer.id for peer in found.peers), robust.least(),
        robust.chance(), found.judged, len(found.unusual), tuple(map(_value, found.rows)), tuple(found.fresh_lots),
        found.fresh_version,
    )  # fmt: skip


def _value(row: PeerRow) -> PeerValue:
    found = row.found
    median, lowest, highest = (
        (None, None, None) if found is None else map(exact_text, (found.median, found.lowest, found.highest))
    )
    score = None if found is None or found.score is None else _finite(found.score)
    return PeerValue(
        row.kind, row.name, str(row.value), exact_text(row.number), row.unit, 0 if found is None else found.others,
        median, lowest, highest, None if found is None else round(found.spread, 9), score,
        None if found is None else found.limit, row.stands_out, None if row.spec is None else str(row.spec),
        row.place.verdict or None,
    )  # fmt: skip


def _finite(score: float) -> float | Literal["infinite", "-infinite"]:
    """Give a score; JSON knows no infinity, which is what all others alike make of any other value."""
    if isinf(score):
        return "-infinite" if score < 0 else "infinite"
    return round(score, 6)


REPORT: Final = Report("trace --against", "peers", document, record)
