"""Read records: deliveries of ingredients, proofs, approvals."""

from __future__ import annotations

import datetime
import re
from typing import Any, Final

from formula_vcs.model.approval import DECISIONS, PARTS
from formula_vcs.model.evidence import KINDS, PROOF
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.model.lot import STATUSES
from formula_vcs.toml import takers, version_pin
from formula_vcs.toml.takers import FactReader, Taker
from formula_vcs.words.late_pattern import late_pattern

# --- Read a lot file: one delivery of an ingredient, with what its supplier measured


def measured(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take what was measured, with its unit, or whether words conform; a bare number has no unit, as pH has none."""
    if isinstance(raw, bool):
        sheet.put(path, raw)
        return
    wants = takers.kinds_of(path[-1])
    if not wants and not isinstance(raw, str) and not isinstance(takers.exact(raw), str):
        raw = str(raw)
    takers.span(*wants)(sheet, path, raw)


_LOT: Final[dict[str, Taker]] = {
    "title": takers.text,
    "ingredient": takers.text,
    "lot": takers.text,
    "supplier": takers.text,
    "received": takers.day,
    "made": takers.day,
    "expires": takers.day,
    "status": takers.one_of(*STATUSES),
    "quantity": takers.size("mass", "volume"),
    "price": takers.quantity("price", "price by volume"),
    "certificate": takers.each(measured),
    "note": takers.text,
}


def read_lot(data: dict[str, Any]) -> Facts:
    """Read the data of a lot file into facts; refused values are among them as :class:`Unread`."""
    sheet = FactReader()
    takers.table(_LOT, required=("ingredient",))(sheet, (), data)
    return sheet.facts


# --- Read an evidence file: what versions of a recipe passed, each pinned by commit and content hash


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


# --- Read the files in approvals/: who may sign as what (trust.toml), and what was signed (a payload)


_HEX: Final = late_pattern(r"[0-9a-f]{40,64}")
_KEY: Final = late_pattern(r"(?:ssh|ecdsa|sk)-[A-Za-z0-9@.-]+ [A-Za-z0-9+/]+={0,2}(?: [^\r\n]*)?")
_EMAIL: Final = late_pattern(r"[^\s@<>]+@[^\s@<>]+")


def _keys(sheet: FactReader, path: Path, raw: Any) -> None:
    takers.members(sheet, path, raw)
    _each(sheet, path, _KEY, "is no public key; the line of a .pub file is one: ssh-ed25519 AAAA...")


def _key(sheet: FactReader, path: Path, raw: Any) -> None:
    takers.text(sheet, path, raw)
    if isinstance(sheet.facts.get(path), str) and not _KEY.fullmatch(raw.strip()):
        sheet.refuse(path, raw, f"'{takers.shown(raw)}' is no public key; the line of a .pub file is one")


def _emails(sheet: FactReader, path: Path, raw: Any) -> None:
    takers.members(sheet, path, raw)
    _each(sheet, path, _EMAIL, "is no address; write it as `git log` shows it: ailsa@example.org")


def _each(sheet: FactReader, path: Path, wanted: re.Pattern[str], why: str) -> None:
    for key, value in list(sheet.facts.items()):
        if key[:-1] == path and value is True and not wanted.fullmatch(key[-1]):
            sheet.refuse(key, key[-1], f"'{takers.shown(key[-1])}' {why}")


def _count(sheet: FactReader, path: Path, raw: Any) -> None:
    takers.number(sheet, path, raw)
    value = sheet.facts[path]
    if not isinstance(value, Unread) and (value != int(value) or not 1 <= value <= 9):
        sheet.refuse(path, raw, f"'{path[-1]}' is how many sign a change of this file: 1 to 9")


_PERSON: Final[dict[str, Taker]] = {
    "name": takers.text,
    "roles": takers.members,
    "emails": _emails,
    "keys": _keys,
    "note": takers.text,
}
_REVOKED: Final[dict[str, Taker]] = {"key": _key, "why": takers.text}
_TRUST: Final[dict[str, Taker]] = {
    "changes": _count,
    "person": takers.each(takers.table(_PERSON, required=("name", "roles", "emails", "keys"), where="[person.ID]")),
    "revoked": takers.rows(takers.table(_REVOKED, required=("key", "why"), where="[[revoked]]")),
    "note": takers.text,
}


def _hash(sheet: FactReader, path: Path, raw: Any) -> None:
    takers.text(sheet, path, raw)
    if isinstance(sheet.facts.get(path), str) and not _HEX.fullmatch(raw):
        sheet.refuse(path, raw, f"'{path[-1]}' is no hash: 40 or 64 digits of 0-9 and a-f")


def _moment(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take the signer's clock: nothing is judged by it."""
    if isinstance(raw, datetime.datetime):
        sheet.put(path, raw)
    else:
        takers.wrong_kind(sheet, path, raw, "a date with a time")


_PAYLOAD: Final[dict[str, Taker]] = {
    "approval": takers.number,
    "repository": _hash,
    "workspace": takers.text,
    "recipe": takers.text,
    "content": _hash,
    "rests_on": takers.table(dict.fromkeys(PARTS, _hash)),
    "role": takers.text,
    "decision": takers.one_of(*DECISIONS),
    "condition": takers.text,
    "why": takers.text,
    "after": _hash,
    "was": _hash,
    "signed": _moment,
}
_MUST: Final = ("approval", "repository", "workspace", "content", "role", "decision")


def read_approvals(data: dict[str, Any]) -> Facts:
    """Read the data of a file in approvals/: a payload where it states 'approval', else who may sign."""
    sheet = FactReader()
    if "approval" in data:
        takers.table(_PAYLOAD, required=_MUST)(sheet, (), data)
    else:
        takers.table(_TRUST, required=("person",))(sheet, (), data)
    return sheet.facts
