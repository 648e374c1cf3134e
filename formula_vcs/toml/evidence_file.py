"""Read an evidence file: what versions of a recipe passed, each pinned by commit and content hash."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.model.evidence import KINDS, PROOF
from formula_vcs.model.facts import Facts, Path
from formula_vcs.toml import takers, version_pin
from formula_vcs.toml.takers import FactReader, Taker

MOST: Final = 500  # proofs in one file
REQUIRED: Final = ("kind", "commit", "hash", "report", "passed")


def _kind(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a kind of evidence: one that ships, or an id, of which a rule says whether the house names it."""
    if isinstance(raw, str) and takers.ID.fullmatch(raw) and len(raw) <= takers.NAME_LIMIT:
        sheet.put(path, raw)
    else:
        takers.one_of(*KINDS)(sheet, path, raw)


_PROOF: Final[dict[str, Taker]] = {
    "kind": _kind,
    "commit": version_pin.commit,
    "hash": version_pin.content_hash,
    "report": takers.text,
    "passed": takers.day,
    "until": takers.day,
    "called": takers.text,
    "by": takers.text,
    "size": takers.size("mass"),
    "pack": takers.size("mass", "volume"),
    "market": takers.text,
    "scheme": takers.text,
    "value": takers.number,
    "claim": takers.text,
    "note": takers.text,
}


def _proof(sheet: FactReader, path: Path, raw: Any) -> None:
    required = (*REQUIRED, "scheme") if raw.get("kind") == "certificate" else REQUIRED
    takers.table(_PROOF, required=required, where=f"[[proof]] number {path[-1]}")(sheet, path, raw)


def _proofs(sheet: FactReader, path: Path, raw: Any) -> None:
    if isinstance(raw, list) and len(raw) > MOST:
        words = f"{len(raw)} proofs in one file; {MOST} are the most, and the rest is not read: begin another file"
        sheet.refuse(path, len(raw), words)
        raw = raw[:MOST]
    takers.rows(_proof)(sheet, path, raw)


_EVIDENCE: Final[dict[str, Taker]] = {
    "recipe": takers.text,
    "title": takers.text,
    "note": takers.text,
    PROOF: _proofs,
}


def read_evidence(data: dict[str, Any]) -> Facts:
    """Read the data of an evidence file into facts: ``("proof", "1", key)`` for the first of its proofs."""
    sheet = FactReader()
    takers.table(_EVIDENCE, required=("recipe", PROOF))(sheet, (), data)
    return sheet.facts


def place(facts: Facts, path: Path) -> tuple[str | int, ...]:
    """Turn a path of facts into the path of keys in the file: proofs by their position."""
    del facts
    if path[:1] == (PROOF,) and len(path) > 1 and path[1].isdigit():
        return (PROOF, int(path[1]) - 1, *path[2:])
    return path
