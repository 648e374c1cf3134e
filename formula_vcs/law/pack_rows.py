"""Rows of a pack out of its facts, one way for the packs that ship and for those of the house."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any, Final, NamedTuple

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.law.identity import entry_of, law_key
from formula_vcs.model.facts import Facts, Unread
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.law_row import ALWAYS, DIMENSIONS, EVERYTHING, NEEDS, DateRange, LawRow, Scope
from formula_vcs.model.quantity import Quantity
from formula_vcs.words.late_pattern import late_pattern

# --- What a product is made of, a row a substance: for the file that a responsible person keeps of it


# Ranges in % w/w that a composition is given in where exact figures are not; the edge belongs to the lower range.  They
# are those of the notification of cosmetic products in the Union (from memory).
EDGES: Final = tuple(map(Fraction, ("0", "0.1", "1", "5", "10", "25", "50", "75", "100")))


class BroughtBy(NamedTuple):
    """A material that brings a substance: its share of the product in %, and what it holds of the substance in %."""

    ingredient: str
    title: str
    supplier: str
    code: str
    share: Fraction
    pct: Fraction


class CompositionRow(NamedTuple):
    """One substance: its % w/w in the product, its numbers and functions, and what brings it.

    What is not on file is empty; ``looked_up`` names what the inventory says where no material does.
    """

    inci: str
    cas: str
    ec: str
    functions: tuple[str, ...]
    pct: Fraction
    brought: tuple[BroughtBy, ...]
    looked_up: tuple[str, ...]


def composition_rows(sums: Breakdown) -> tuple[CompositionRow, ...]:
    """The substances of a product, the largest share first, merged over all materials, premixes seen through."""
    brought: dict[str, list[BroughtBy]] = {}
    for name, share in sums.leaves.items():
        material = sums.formula.ingredients.get(name)
        if material is None or not share:
            continue
        for key, pct in material.contents:
            brought.setdefault(key, []).append(_by(material, share, pct))
    rows = (_row(sums, key, pct, tuple(brought.get(key, ()))) for key, pct in sums.substances.items() if pct)
    return tuple(sorted(rows, key=lambda row: (-row.pct, row.inci)))


def _by(material: Ingredient, share: Fraction, pct: Fraction) -> BroughtBy:
    supplier, code = material.get("supplier") or "", material.get("code") or ""
    return BroughtBy(material.id, material.title, supplier, code, share * 100, pct)


def _row(sums: Breakdown, key: str, pct: Fraction, brought: tuple[BroughtBy, ...]) -> CompositionRow:
    spelled, cas = sums.names[key]
    entry = entry_of(spelled)
    looked_up = ["EC"] if entry is not None and entry.ec else []
    functions = _functions(sums, brought)
    if not cas and entry is not None and entry.cas:
        cas = "; ".join(entry.cas)
        looked_up.append("CAS")
    if not functions and entry is not None and entry.functions:
        functions = tuple(name.casefold() for name in entry.functions)
        looked_up.append("function")
    ec = "; ".join(entry.ec) if entry is not None else ""
    return CompositionRow(spelled, cas, ec, functions, pct, brought, tuple(looked_up))


def _functions(sums: Breakdown, brought: tuple[BroughtBy, ...]) -> tuple[str, ...]:
    """What the materials state to do, of those that are mostly this substance; a trace states no function."""
    found = (name for one in brought if one.pct > 50 for name in sums.formula.ingredients[one.ingredient].functions)
    return tuple(dict.fromkeys(found))


def unknown_materials(sums: Breakdown) -> Iterator[tuple[str, Fraction]]:
    """The materials whose composition is not on file: title, and share of the product in %."""
    for name in sums.unnamed:
        yield sums.formula.title(name), sums.leaves[name] * 100


def band(pct: Fraction) -> str:
    """The range that a share lies in.

    >>> band(Fraction(1)), band(Fraction("1.001")), band(Fraction("0.05"))
    ('> 0.1 to 1 %', '> 1 to 5 %', 'at most 0.1 %')
    """
    high = next(edge for edge in EDGES[1:] if pct <= edge or edge == EDGES[-1])
    low = EDGES[EDGES.index(high) - 1]
    top, bottom = (f"{float(edge):g}" for edge in (high, low))
    return f"> {bottom} to {top} %" if low else f"at most {top} %"


# --- A row of a pack as plain data that JSON can hold, and back


_DEFAULT: Final = LawRow("", "", "", "", "")
_LISTS: Final = ("names", "spelled", "cas", "like", "others")


def row_data(row: LawRow) -> dict[str, Any]:
    """A row as a table of its fields but its pack, those that have their default left out."""
    return {
        name: plain(getattr(row, name))
        for name in LawRow.__slots__
        if name != "pack" and getattr(row, name) != getattr(_DEFAULT, name)
    }


def plain(value: object) -> object:
    """A value of a row as JSON can hold it: fractions as text, days as ISO text."""
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, Scope) and not value.claim:
        value = value[:-1]  # a law asks for no claim, a house may
    if isinstance(value, tuple):
        return tuple(plain(item) for item in value)
    return value


def row_of(pack: str, data: dict[str, Any]) -> LawRow:
    """The row that some data, read from JSON, came from."""
    fields = dict(data)
    for key in _LISTS:
        if key in fields:
            fields[key] = tuple(fields[key])
    if "at_most" in fields:
        fields["at_most"] = Fraction(fields["at_most"])
    if "windows" in fields:
        fields["windows"] = tuple((Fraction(low), Fraction(high)) for low, high in fields["windows"])
    if "above" in fields:
        fields["above"] = tuple((name, Fraction(value)) for name, value in fields["above"])
    if "ph" in fields:
        low, high, strict = fields["ph"]
        fields["ph"] = (_maybe(low), _maybe(high), strict)
    for key in ("where", "unless"):
        if key in fields:
            fields[key] = Scope(*map(tuple, fields[key]))
    for key in ("placed", "sold"):
        if key in fields:
            fields[key] = DateRange(*(None if day is None else datetime.date.fromisoformat(day) for day in fields[key]))
    return LawRow(pack=pack, **fields)


def _maybe(value: str | None) -> Fraction | None:
    return None if value is None else Fraction(value)


# --- Rows of a pack out of its facts, one way for the packs that ship and for those of the house


_PH: Final = late_pattern(r"(?P<open>below |at most )?(?P<one>[\d.]+)(?: to (?P<two>[\d.]+))?")


def rows(facts: Facts, pack: str, *, file: str = "", house: bool = False) -> Iterator[LawRow]:
    """The rows of a pack; a row with anything that could not be read is left out (its finding stands).

    So is one that lacks what its kind needs: with some of the changes to it made, a row may.
    """
    by_row: dict[str, dict[tuple[str, ...], Any]] = {}
    for path, value in facts.items():
        if path[0] == "rule" and len(path) > 2:
            by_row.setdefault(path[1], {})[path[2:]] = value
    for name, own in by_row.items():
        if any(isinstance(value, Unread) for value in own.values()):
            continue
        needed = ("kind", *NEEDS.get(own.get(("kind",), ""), ()))
        if all((key,) in own for key in needed):
            yield _pack_row(name, own, facts, pack, file=file, house=house)


def _pack_row(name: str, own: dict[tuple[str, ...], Any], facts: Facts, pack: str, *, file: str, house: bool) -> LawRow:
    group = facts.get(("group", own.get(("group",), "")), ())
    spelled = tuple(dict.fromkeys((*own.get(("substances",), ()), *group)))
    limit = own.get(("at_most",))
    return LawRow(
        id=name,
        kind=own[("kind",)],
        pack=pack,
        citation=_citation(own, facts),
        checked=own.get(("checked",), "house" if house else "memory"),
        names=tuple(map(law_key, spelled)),
        spelled=spelled,
        cas=own.get(("cas",), ()),
        like=tuple(pattern.casefold() for pattern in own.get(("like",), ())),
        others=tuple(map(law_key, own.get(("with",), ()))),
        at_most=_amount(limit) if limit is not None else None,
        windows=tuple((span.low.base * 100, span.high.base * 100) for span in own.get(("between",), ())),
        ph=ph_window(own.get(("ph",))),
        above=_above(own) or (_above(facts) if own[("kind",)] == "name" else ()),
        basis=own.get(("as",), ""),
        printed=own.get(("print",), ""),
        words=own.get(("words",), ""),
        function=own.get(("function",), ""),
        unless_function=own.get(("unless_function",), ""),
        unstated=own.get(("unstated",), ""),
        where=_scope(own, "where"),
        unless=_scope(own, "unless"),
        placed=_span(own, "placed"),
        sold=_span(own, "sold"),
        severity=own.get(("severity",), "block"),
        per_pack=("per",) in own,
        note=own.get(("because",), "") or own.get(("note",), ""),
        file=file,
        at=("rule", name) if file else (),
    )


def _citation(own: dict[tuple[str, ...], Any], facts: Facts) -> str:
    source: str | None = own.get(("source",))
    if source is not None:
        return source
    cite = facts.get(("cite",), "")
    entry = own.get(("entry",), "")
    return f"{cite}, {entry}" if cite and entry else cite or entry


def _amount(limit: Quantity) -> Fraction:
    return limit.base * 100 if limit.dimension == "share" else limit.base


def _above(facts: Mapping[tuple[str, ...], Any]) -> tuple[tuple[str, Fraction], ...]:
    whole = facts.get(("above",))
    if isinstance(whole, Quantity):
        return (("", whole.base * 100),)
    return tuple(
        (path[1], value.base * 100)
        for path, value in facts.items()
        if len(path) == 2 and path[0] == "above" and isinstance(value, Quantity)
    )


def ph_window(raw: str | None) -> tuple[Fraction | None, Fraction | None, bool] | None:
    """The lowest and the highest pH, and whether the highest itself is already too much."""
    match = _PH.fullmatch(raw) if raw is not None else None
    if match is None:
        return None
    if match["two"]:
        return Fraction(match["one"]), Fraction(match["two"]), False
    return None, Fraction(match["one"]), match["open"] == "below "


def _scope(own: dict[tuple[str, ...], Any], key: str) -> Scope:
    found = {path[1]: value for path, value in own.items() if len(path) == 2 and path[0] == key}
    return Scope(*(found.get(name, ()) for name in DIMENSIONS)) if found else EVERYTHING


def _span(own: dict[tuple[str, ...], Any], key: str) -> DateRange:
    first, last = own.get((key, "from")), own.get((key, "to"))
    return ALWAYS if first is None and last is None else DateRange(first, last)
