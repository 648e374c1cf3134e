"""Findings as workflow commands: a runner shows each beside its line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, TextIO

from formula_vcs.model.finding import Finding
from formula_vcs.reports import host_annotations
from formula_vcs.reports.host_annotations import Remark, path_text
from formula_vcs.words.escape import terminal

_COMMANDS: Final = {"block": "error", "warn": "warning", "note": "notice"}


def write(findings: list[Finding], *, blocked: bool, recipes: int, out: TextIO) -> None:
    """Write one command for each finding."""
    del blocked, recipes
    commands(host_annotations.of_check(findings), out)


def commands(found: Iterable[Remark], out: TextIO) -> None:
    """Write commands, one a line."""
    for item in found:
        values = {"file": terminal(path_text(item.path)), "line": item.line, "col": item.column, "title": item.rule}
        properties = ",".join(f"{key}={_property(str(value))}" for key, value in values.items())
        out.write(f"::{_COMMANDS[item.severity]} {properties}::{_data(item.text)}\n")


# as actions/toolkit escapes them, packages/core/src/command.ts: escapeData and escapeProperty
def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")
