"""All that the tables know of one substance."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Final

from formula_vcs.law.dossier import Dossier, Ruling, known_as
from formula_vcs.law.identity import How
from formula_vcs.model.finding import Severity
from formula_vcs.model.law_row import DIMENSIONS, DateRange, Scope
from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Document,
    Heading,
    Items,
    KeyValues,
    ListEntry,
    Paragraph,
    Report,
)  # fmt: skip
from formula_vcs.reports.document.data import Day, Exact, SchemaRule
from formula_vcs.words.numbers import exact_text, shown

_MARKETS: Final = {"EU": "European Union", "US": "United States", "": "Standards and lists of claims"}
_NOT_HERE: Final = (
    "Not here: IFRA standards, classification by CLP, the safety assessment, and markets other than these. "
    "The law's own text decides."
)
_HINT: Final = "by a CAS number that the inventory has for it; whether the entry means it is open"
_KINDS: Final = {
    "us-name": "on labels in the United States",
    "colour": "of the colour",
    "e-number": "food additive",
    "drug": "drug or vitamin",
    "chemical": "in chemistry",
    "old INCI": "older INCI",
    "trade": "trade",
    "common": "common",
    "language": "other languages",
}


def document(found: Dossier) -> Document:
    """Say what it is and what is said of it."""
    name = known_as(found)
    facts = KeyValues(tuple(_facts(found)), "What it is")
    return Document(name, (Heading(name), facts, *_ruled(found), GAP, Paragraph(_NOT_HERE)))


def _facts(found: Dossier) -> Iterator[tuple[str, str]]:
    """Give what it is: a word, and what stands behind it."""
    if found.asked.casefold() != known_as(found).casefold():
        yield "asked for", found.asked
    if not found.found.certain:
        yield "INCI name", "none known here"
    for kind, words in _KINDS.items():
        names = [name for name, of, _ in found.names if of == kind]
        if names:
            yield words, ", ".join(names)
    if found.entry is not None:
        yield "CAS", ", ".join(found.entry.cas) or "none in the inventory"
        yield "EC", ", ".join(found.entry.ec) or "none in the inventory"
        yield "functions", ", ".join(found.entry.functions) or "none reported"
    for basis, factor in found.counts_as:
        yield f"as {basis}", f"1 % counts as {shown(factor.value, 4, 6)} %"


def _ruled(found: Dossier) -> Iterator[Block]:
    """Give what is said of it, by market: the citation, and the words."""
    for market, title in _MARKETS.items():
        rows = [ruling for ruling in found.rulings if ruling.market == market]
        if not rows and not market:
            continue
        yield GAP
        yield Heading(title, 2)
        yield Items(tuple(ListEntry(row.row.source, (Paragraph(_words(row), indent=4),), "dim") for row in rows))
        if not rows:
            yield Paragraph("no entry names it", indent=2)


def _words(ruling: Ruling) -> str:
    parts = (ruling.what, ruling.where, ruling.when, "" if ruling.surely else _HINT)
    return "; ".join(filter(None, parts))


@dataclass(frozen=True, slots=True)
class KnownName:
    """Another name, of what kind it is, and where it is from."""

    name: str
    kind: str
    source: str


@dataclass(frozen=True, slots=True)
class CountedAs:
    """What one part of it counts as, and what the atomic weights leave open either way."""

    basis: str
    factor: Exact
    doubt: Exact


@dataclass(frozen=True, slots=True)
class Days:
    """From a day to a day; null where there is no end."""

    from_: Day | None
    to: Day | None


LawScope = Annotated[
    Mapping[str, tuple[str, ...]], SchemaRule("Products, by dimension: contact, area, type, form, age, user", "scope")
]


@dataclass(frozen=True, slots=True)
class LawEntry:
    """What one entry says; by_name is false where only a CAS number of the inventory ties the substance to it."""

    id: str
    market: Annotated[str, SchemaRule(one_of=tuple(_MARKETS))]
    pack: str
    citation: str
    checked: str
    kind: str
    severity: Severity
    by_name: bool
    words: str
    at_most: Exact | None
    per_pack: bool
    basis: str
    function: str
    where: LawScope
    unless: LawScope
    placed: Days
    sold: Days


@dataclass(frozen=True, slots=True)
class ExplainRecord:
    """All that the tables know of one substance."""

    asked: str
    name: Annotated[str, SchemaRule("The INCI name, or the law's name where there is none")]
    inci: Annotated[str, SchemaRule("Empty where the inventory does not have it")]
    how: How
    cas: tuple[str, ...]
    ec: tuple[str, ...]
    functions: tuple[str, ...]
    names: tuple[KnownName, ...]
    counts_as: tuple[CountedAs, ...]
    entries: tuple[LawEntry, ...]


def record(found: Dossier) -> ExplainRecord:
    """Give all of it as data."""
    entry = found.entry
    return ExplainRecord(
        found.asked, known_as(found), found.found.inci, found.found.how,
        () if entry is None else tuple(entry.cas), () if entry is None else tuple(entry.ec),
        () if entry is None else tuple(entry.functions),
        tuple(KnownName(name, kind, source) for name, kind, source in found.names),
        tuple(
            CountedAs(basis, exact_text(factor.value), exact_text(factor.doubt)) for basis, factor in found.counts_as
        ),
        tuple(map(_entry, found.rulings)),
    )  # fmt: skip


def _entry(ruling: Ruling) -> LawEntry:
    row = ruling.row
    return LawEntry(
        row.id, ruling.market, row.pack, row.citation, row.checked, row.kind, row.severity, ruling.surely, ruling.what,
        None if row.at_most is None else exact_text(row.at_most), row.per_pack, row.basis, row.function,
        _scope(row.where), _scope(row.unless), _days(row.placed), _days(row.sold),
    )  # fmt: skip


def _scope(scope: Scope) -> dict[str, tuple[str, ...]]:
    return {name: tuple(names) for name, names in zip(DIMENSIONS, scope, strict=True) if names}


def _days(span: DateRange) -> Days:
    first, last = (None if day is None else day.isoformat() for day in (span.first, span.last))
    return Days(first, last)


REPORT: Final = Report("explain", "explain", document, record)
