"""A row of a pack as plain data that JSON can hold, and back."""

from __future__ import annotations

import datetime
from fractions import Fraction
from typing import Any, Final

from formula_vcs.model.law_row import DateRange, LawRow, Scope

_DEFAULT: Final = LawRow("", "", "", "", "")
_LISTS: Final = ("names", "spelled", "cas", "like", "others")


def row_data(row: LawRow) -> dict[str, Any]:
    """Give a row as a table of its fields but its pack, those that have their default left out."""
    return {
        name: plain(getattr(row, name))
        for name in LawRow.__slots__
        if name != "pack" and getattr(row, name) != getattr(_DEFAULT, name)
    }


def plain(value: object) -> object:
    """Give a value of a row as JSON can hold it: fractions as text, days as ISO text."""
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
    """Give the row that some data, read from JSON, came from."""
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
