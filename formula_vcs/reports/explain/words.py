"""A dossier in words, the same for every format."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.law.dossier import Dossier, Ruling, known_as
from formula_vcs.words.numbers import shown

MARKETS = {"EU": "European Union", "US": "United States", "": "Standards and lists of claims"}
NOT_HERE = (
    "Not here: IFRA standards, classification by CLP, the safety assessment, and markets other than these. "
    "The law's own text decides."
)
HINT = "by a CAS number that the inventory has for it; whether the entry means it is open"
KINDS = {
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


def facts(found: Dossier) -> Iterator[tuple[str, str]]:
    """Give what it is: a word, and what stands behind it."""
    if found.asked.casefold() != known_as(found).casefold():
        yield "asked for", found.asked
    if not found.found.certain:
        yield "INCI name", "none known here"
    for kind, words in KINDS.items():
        names = [name for name, of, _ in found.names if of == kind]
        if names:
            yield words, ", ".join(names)
    if found.entry is not None:
        yield "CAS", ", ".join(found.entry.cas) or "none in the inventory"
        yield "EC", ", ".join(found.entry.ec) or "none in the inventory"
        yield "functions", ", ".join(found.entry.functions) or "none reported"
    for basis, factor in found.counts_as:
        yield f"as {basis}", f"1 % counts as {shown(factor.value, 4, 6)} %"


def ruled(found: Dossier) -> Iterator[tuple[str, list[tuple[str, str]]]]:
    """Give what is said of it, by market: the citation, and the words."""
    for market, title in MARKETS.items():
        rows = [ruling for ruling in found.rulings if ruling.market == market]
        if rows or market:
            yield title, [(_cited(ruling), _words(ruling)) for ruling in rows]


def _cited(ruling: Ruling) -> str:
    return ruling.row.source


def _words(ruling: Ruling) -> str:
    parts = (ruling.what, ruling.where, ruling.when, "" if ruling.surely else HINT)
    return "; ".join(filter(None, parts))
