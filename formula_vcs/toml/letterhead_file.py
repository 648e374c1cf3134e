"""Read ``documents.toml``: what a house adds to its documents."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.toml import takers
from formula_vcs.toml.positions import positions
from formula_vcs.toml.syntax import parse
from formula_vcs.toml.takers import FactReader, Taker, shown
from formula_vcs.words.late_pattern import late_pattern

LETTERHEAD_FILE: Final = "documents.toml"
PAPER_KINDS: Final = (
    "composition", "specification", "ingredients", "allergens", "instructions", "change-note", "claims",
)  # fmt: skip
_COLOUR: Final = late_pattern(r"#[0-9a-fA-F]{6}")


def _colour(sheet: FactReader, path: Path, raw: Any) -> None:
    if not isinstance(raw, str):
        takers.wrong_kind(sheet, path, raw, 'a colour, "#1f5560",')
    elif not _COLOUR.fullmatch(raw):
        sheet.refuse(path, raw, f"'{shown(raw)}' is no colour; write six hexadecimal digits, \"#1f5560\"")
    else:
        sheet.put(path, raw)


_OF_A_KIND: Final[dict[str, Taker]] = {"before": takers.text, "after": takers.text}
_LETTERHEAD: Final[dict[str, Taker]] = {
    "name": takers.text,
    "address": takers.text,
    "foot": takers.text,
    "logo": takers.text,
    "accent": _colour,
    **_OF_A_KIND,
    **{kind: takers.table(_OF_A_KIND) for kind in PAPER_KINDS},
}


def read_letterhead(data: bytes) -> tuple[Facts, list[tuple[int, int, str]]]:
    """Read the bytes of the file: its facts, and what is wrong with it, each with line and column."""
    parsed = parse(data)
    if parsed.errors:
        return {}, [(error.line, error.column, error.message) for error in parsed.errors]
    sheet = FactReader()
    takers.table(_LETTERHEAD)(sheet, (), parsed.data)
    return sheet.facts, list(_problems(sheet.facts, parsed.text))


def _problems(facts: Facts, text: str) -> Iterator[tuple[int, int, str]]:
    found = positions(text)
    for path, value in facts.items():
        if isinstance(value, Unread):
            line, column = found.key(path) or found.nearest(path)
            yield line, column, value.message
