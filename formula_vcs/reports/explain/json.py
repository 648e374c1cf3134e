"""A dossier as JSON by the schema explain.json."""

from __future__ import annotations

from typing import Any, TextIO

from formula_vcs.law.dossier import Dossier, Ruling, known_as
from formula_vcs.model.law_row import DIMENSIONS, DateRange, Scope
from formula_vcs.reports.check.json import dump
from formula_vcs.words.numbers import exact_text


def write(found: Dossier, *, out: TextIO) -> None:
    """Write all of it."""
    entry = found.entry
    dump(
        {
            "asked": found.asked,
            "name": known_as(found),
            "inci": found.found.inci,
            "how": found.found.how,
            "cas": list(entry.cas) if entry is not None else [],
            "ec": list(entry.ec) if entry is not None else [],
            "functions": list(entry.functions) if entry is not None else [],
            "names": [{"name": name, "kind": kind, "source": source} for name, kind, source in found.names],
            "counts_as": [
                {"basis": basis, "factor": exact_text(factor.value), "doubt": exact_text(factor.doubt)}
                for basis, factor in found.counts_as
            ],
            "entries": [_ruling(ruling) for ruling in found.rulings],
        },
        out,
    )


def _ruling(ruling: Ruling) -> dict[str, Any]:
    row = ruling.row
    return {
        "id": row.id,
        "market": ruling.market,
        "pack": row.pack,
        "citation": row.citation,
        "checked": row.checked,
        "kind": row.kind,
        "severity": row.severity,
        "by_name": ruling.surely,
        "words": ruling.what,
        "at_most": None if row.at_most is None else exact_text(row.at_most),
        "per_pack": row.per_pack,
        "basis": row.basis,
        "function": row.function,
        "where": _scope(row.where),
        "unless": _scope(row.unless),
        "placed": _span(row.placed),
        "sold": _span(row.sold),
    }


def _scope(scope: Scope) -> dict[str, list[str]]:
    return {name: list(names) for name, names in zip(DIMENSIONS, scope, strict=True) if names}


def _span(span: DateRange) -> dict[str, str | None]:
    return {
        "from": None if span.first is None else span.first.isoformat(),
        "to": None if span.last is None else span.last.isoformat(),
    }
