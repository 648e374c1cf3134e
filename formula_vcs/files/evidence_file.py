"""Read an evidence file: what versions of a recipe passed, each pinned by commit and content hash."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.files import pin, reading
from formula_vcs.files.reading import Sheet, Taker
from formula_vcs.model.evidence import KINDS, PROOF
from formula_vcs.model.facts import Facts, Path

MOST: Final = 500  # proofs in one file
REQUIRED: Final = ("kind", "commit", "hash", "report", "passed")
_PROOF: Final[dict[str, Taker]] = {
    "kind": reading.one_of(*KINDS),
    "commit": pin.commit,
    "hash": pin.content_hash,
    "report": reading.text,
    "passed": reading.day,
    "until": reading.day,
    "called": reading.text,
    "by": reading.text,
    "size": reading.size("mass"),
    "pack": reading.size("mass", "volume"),
    "market": reading.text,
    "scheme": reading.text,
    "note": reading.text,
}


def _proof(sheet: Sheet, path: Path, raw: Any) -> None:
    required = (*REQUIRED, "scheme") if raw.get("kind") == "certificate" else REQUIRED
    reading.table(_PROOF, required=required, where=f"[[proof]] number {path[-1]}")(sheet, path, raw)


def _proofs(sheet: Sheet, path: Path, raw: Any) -> None:
    if isinstance(raw, list) and len(raw) > MOST:
        words = f"{len(raw)} proofs in one file; {MOST} are the most, and the rest is not read: begin another file"
        sheet.refuse(path, len(raw), words)
        raw = raw[:MOST]
    reading.rows(_proof)(sheet, path, raw)


_EVIDENCE: Final[dict[str, Taker]] = {
    "recipe": reading.text,
    "title": reading.text,
    "note": reading.text,
    PROOF: _proofs,
}


def read_evidence(data: dict[str, Any]) -> Facts:
    """Read the data of an evidence file into facts: ``("proof", "1", key)`` for the first of its proofs."""
    sheet = Sheet()
    reading.table(_EVIDENCE, required=("recipe", PROOF))(sheet, (), data)
    return sheet.facts


def place(facts: Facts, path: Path) -> tuple[str | int, ...]:
    """Turn a path of facts into the path of keys in the file: proofs by their position."""
    del facts
    if path[:1] == (PROOF,) and len(path) > 1 and path[1].isdigit():
        return (PROOF, int(path[1]) - 1, *path[2:])
    return path
