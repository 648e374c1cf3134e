"""Blame as JSON, by the schema blame.json."""

from __future__ import annotations

from typing import Any, TextIO

from formula_vcs.history.balance_blame import BalanceBlame
from formula_vcs.history.blame import NOT_YET
from formula_vcs.history.version_of_recipe import Version
from formula_vcs.reports import commit_words
from formula_vcs.reports.blame.sheet import BlameLine, BlamePart, BlameSheet
from formula_vcs.reports.document.data import dump
from formula_vcs.words.numbers import exact_text


def write(sheet: BlameSheet, *, out: TextIO) -> None:
    """Write all lines, and the commits that they name."""
    dump(
        {
            "recipe": sheet.recipe.id,
            "title": sheet.recipe.title,
            "revision": sheet.revision,
            "commit": sheet.commit,
            "file": sheet.file,
            "lines": [_line(line) for line in sheet.lines],
            "commits": [data for commit in sheet.commits if (data := commit_words.as_data(commit)) is not None],
            "shallow": sheet.cut,
        },
        out,
    )


def _line(line: BlameLine) -> dict[str, Any]:
    return {
        "kind": line.kind,
        "where": line.where,
        "name": line.name,
        "value": line.value or None,
        "commit": _id(line.last.version),
        "parts": [_part(part) for part in line.parts],
        "balance": None if line.balance is None else _balance(line.balance),
    }


def _part(part: BlamePart) -> dict[str, Any]:
    return {
        "what": part.what,
        "where": part.where,
        "value": part.value,
        "old": part.old,
        "text": part.text or None,
        "commit": _id(part.version),
        "or_earlier": part.version.status == "cut",
    }


def _balance(found: BalanceBlame) -> dict[str, Any]:
    return {
        "pct": exact_text(found.new),
        "old": None if found.old is None else exact_text(found.old),
        "commit": _id(found.version),
        "or_earlier": found.version.status == "cut",
        "moved_by": [
            {
                "change": mover.change.id,
                "text": mover.change.text,
                "points": None if mover.points is None else exact_text(mover.points),
                "commit": _id(mover.version),
            }
            for mover in found.movers
        ],
    }


def _id(version: Version) -> str | None:
    return None if version.commit.oid == NOT_YET else version.commit.oid
