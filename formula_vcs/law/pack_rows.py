"""Rows of a pack out of its facts, one way for the packs that ship and for those of the house."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any, Final

from formula_vcs.law.identity import law_key
from formula_vcs.model.facts import Facts, Unread
from formula_vcs.model.law_row import ALWAYS, DIMENSIONS, EVERYTHING, NEEDS, DateRange, LawRow, Scope
from formula_vcs.model.quantity import Quantity
from formula_vcs.words.late_pattern import late_pattern

_PH: Final = late_pattern(r"(?P<open>below |at most )?(?P<one>[\d.]+)(?: to (?P<two>[\d.]+))?")


def rows(facts: Facts, pack: str, *, file: str = "", house: bool = False) -> Iterator[LawRow]:
    """Give the rows of a pack; a row with anything that could not be read is left out (its finding stands).

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
            yield _row(name, own, facts, pack, file=file, house=house)


def _row(name: str, own: dict[tuple[str, ...], Any], facts: Facts, pack: str, *, file: str, house: bool) -> LawRow:
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
    """Give the lowest and the highest pH, and whether the highest itself is already too much."""
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
