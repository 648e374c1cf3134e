"""Findings as workflow commands: a runner shows each beside its line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, TextIO

from formula_vcs.reports.hosts.remarks import Remark, path_text
from formula_vcs.words.escape import terminal

_COMMANDS: Final = {"block": "error", "warn": "warning", "note": "notice"}


def write(found: Iterable[Remark], command: str, *, blocked: bool, out: TextIO) -> None:
    """Write one workflow command for each finding, one a line."""
    del command, blocked
    for item in found:
        values = {"file": terminal(path_text(item.path)), "line": item.line, "col": item.column, "title": item.rule}
        properties = ",".join(f"{key}={_property(str(value))}" for key, value in values.items())
        out.write(f"::{_COMMANDS[item.severity]} {properties}::{_data(item.text)}\n")


# as actions/toolkit escapes them, packages/core/src/command.ts: escapeData and escapeProperty
def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")
