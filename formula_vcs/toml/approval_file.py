"""Read the files in approvals/: who may sign as what (trust.toml), and what was signed (a payload)."""

from __future__ import annotations

import datetime
import re
from typing import Any, Final

from formula_vcs.model.approval import DECISIONS, PARTS
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker
from formula_vcs.words.late_pattern import late_pattern

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
