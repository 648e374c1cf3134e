"""All that the tables know of one substance: what it is called, what it counts as, what law and standards say of it."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from formula_vcs.law.identity import Identity, InventoryEntry, entry_of, identify, names_of_number, other_names_of
from formula_vcs.law.limit_use import percent
from formula_vcs.law.packs_in_force import law_of, pack_names, shipped
from formula_vcs.law.sought import rows_about
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.law_row import MARKETS, DateRange, Factor, LawRow, Scope
from formula_vcs.words.numbers import shown


class Ruling(NamedTuple):
    """A row about a substance, in words; ``surely``: it has the name, and not only a number that the inventory has."""

    row: LawRow
    market: str
    pack: str
    surely: bool
    what: str
    where: str
    when: str


class Dossier(NamedTuple):
    """What is known of a substance.  ``names`` are its other names: name, kind, source."""

    asked: str
    found: Identity
    entry: InventoryEntry | None
    names: tuple[tuple[str, str, str], ...]
    rulings: tuple[Ruling, ...]
    counts_as: tuple[tuple[str, Factor], ...]


def dossier(asked: str) -> Dossier | None:
    """Look a substance up by a name or a CAS number; None where neither an inventory nor the law has it."""
    number = "" if cas_trouble(asked) else asked
    named = names_of_number(number)
    found = identify(named[0]) if named else identify(asked)
    entry = entry_of(found.inci) if found.certain else None
    rulings = _rulings(found.key, found.inci or asked, (number,) if number else (), entry.cas if entry else ())
    if not found.certain and not rulings:
        return None
    names = tuple(other_names_of(found.inci)) if found.certain else ()
    return Dossier(asked, found, entry, names, rulings, _counts_as(found.key))


def _rulings(key: str, spelled: str, stated: tuple[str, ...], numbers: tuple[str, ...]) -> tuple[Ruling, ...]:
    law = law_of(MARKETS, pack_names())
    sure = rows_about(law, key, spelled, stated)
    known = {row.id for row in sure}
    hinted = [row for row in law.about((), numbers) if row.id not in known]
    return tuple(_ruling(row, surely=row.id in known) for row in (*sure, *hinted))


def _ruling(row: LawRow, *, surely: bool) -> Ruling:
    pack = shipped()["packs"].get(row.pack, {})
    market = str(pack.get("market", "")) or (row.pack[:2].upper() if row.pack[:3] in ("eu-", "us-") else "")
    return Ruling(row, market, str(pack.get("title", row.pack)), surely, what_of(row), where_of(row), when_of(row))


def _counts_as(key: str) -> tuple[tuple[str, Factor], ...]:
    gives = shipped()["substances"].get(key, ("", (), {}))[2]
    return tuple((basis, Factor(Fraction(value), Fraction(doubt))) for basis, (value, doubt) in gives.items())


def what_of(row: LawRow) -> str:
    """Say what a row says."""
    group = " together with all others of the entry" if row.kind == "sum" and len(row.names) > 1 else ""
    basis = f" as {row.basis}" if row.basis else ""
    said = {
        "prohibited": "prohibited",
        "limit": f"at most {_amount(row)}{basis}",
        "sum": f"at most {_amount(row)}{basis}{group}",
        "window": f"{_windows(row)}{basis}",
        "active": f"active ingredient of a drug: {_windows(row) or _amount(row) or 'no figure'}{basis}",
        "together": f"not together with {', '.join(row.others)}",
        "ph": f"pH {_ph(row)}",
        "name": f"named on the label as '{row.printed or row.spelled[0]}' above {_above(row)}" if row.spelled else "",
        "warning": f"the label says: {row.words}",
        "ask": f"to be shown by papers: {row.words}",
        "hint": f"may be meant by the entry: {row.words}" if row.words else "may be meant by the entry",
        "particles": "no synthetic polymer microparticles",
        "allowed": "on the list of what is allowed",
    }.get(row.kind, row.kind)
    return f"{said} ({row.note})" if row.note else said


def _amount(row: LawRow) -> str:
    if row.at_most is None:
        return ""
    return f"{shown(row.at_most * 1_000_000, 0, 3)} mg a pack" if row.per_pack else percent(row.at_most)


def _windows(row: LawRow) -> str:
    return " or ".join(
        f"{percent(low)} to {percent(high)}" if low != high else percent(low) for low, high in row.windows
    )


def _ph(row: LawRow) -> str:
    low, high, strict = row.ph or (None, None, False)
    if low is not None and high is not None:
        return f"{shown(low, 0, 2)} to {shown(high, 0, 2)}"
    edge = low if high is None else high
    word = "at least" if high is None else "below" if strict else "at most"
    return f"{word} {shown(edge, 0, 2)}" if edge is not None else ""


def _above(row: LawRow) -> str:
    return " and ".join(f"{percent(value)}{f' ({contact})' if contact else ''}" for contact, value in row.above)


def where_of(row: LawRow) -> str:
    """Say which products a row is about, "" for all of them."""
    parts = [_scope(row.where), f"not: {_scope(row.unless)}" if _scope(row.unless) else ""]
    if row.function:
        parts.append(f"as {row.function}")
    if row.unless_function:
        parts.append(f"not as {row.unless_function}")
    return "; ".join(filter(None, parts))


def _scope(scope: Scope) -> str:
    return ", ".join(" or ".join(names) for names in scope if names)


def when_of(row: LawRow) -> str:
    """Say from which day and until which a row holds, placed on the market and sold apart; "" where it always does."""
    placed, sold = _span(row.placed), _span(row.sold)
    if placed and sold and placed != sold:
        return f"placed {placed}; sold {sold}"
    return placed or (f"sold {sold}" if sold else "")


def _span(span: DateRange) -> str:
    first = f"from {span.first}" if span.first is not None else ""
    last = f"until {span.last}" if span.last is not None else ""
    return " ".join(filter(None, (first, last)))


def known_as(found: Dossier) -> str:
    """Name the substance: its INCI name, or the name that the law has."""
    if found.found.inci:
        return found.found.inci
    spelled = [name for ruling in found.rulings for name in ruling.row.spelled if inci_key(name) == found.found.key]
    return spelled[0] if spelled else found.asked
