"""A batch among its peers, as JSON by the schema peers.json."""

from __future__ import annotations

from math import isinf
from typing import Any, TextIO

from formula_vcs.reports.check.json import dump
from formula_vcs.reports.trace.json import batch
from formula_vcs.trace import robust
from formula_vcs.trace.peers import Among, PeerRow
from formula_vcs.words.numbers import exact_text


def write(found: Among, *, out: TextIO) -> None:
    """Write all values, those that stand out first."""
    dump(
        {
            "batch": batch(found.side),
            "recipe": found.recipe,
            "asked": found.asked,
            "peers": [peer.id for peer in found.peers],
            "least": robust.least(),
            "chance": robust.chance(),
            "judged": found.judged,
            "unusual": len(found.unusual),
            "values": [_row(row) for row in found.rows],
            "fresh_lots": list(found.fresh_lots),
            "fresh_version": found.fresh_version,
        },
        out,
    )


def _row(row: PeerRow) -> dict[str, Any]:
    found = row.found
    return {
        "kind": row.kind,
        "name": list(row.name),
        "value": str(row.value),
        "number": exact_text(row.number),
        "unit": row.unit,
        "others": 0 if found is None else found.others,
        "median": None if found is None else exact_text(found.median),
        "lowest": None if found is None else exact_text(found.lowest),
        "highest": None if found is None else exact_text(found.highest),
        "spread": None if found is None else round(found.spread, 9),
        "score": None if found is None or found.score is None else _finite(found.score),
        "limit": None if found is None else found.limit,
        "stands_out": row.stands_out,
        "spec": None if row.spec is None else str(row.spec),
        "verdict": row.place.verdict or None,
    }


def _finite(score: float) -> float | str:
    """Give a score; JSON knows no infinity, which is what all others alike make of any other value."""
    return ("-infinite" if score < 0 else "infinite") if isinf(score) else round(score, 6)
