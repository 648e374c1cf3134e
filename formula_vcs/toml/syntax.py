"""The bytes of a file as plain TOML data, or everything that is wrong with them.

The bytes may be anybody's: whatever they are, this ends in data or in problems, and within a second or two.
"""

from __future__ import annotations

import re
import sys
import tomllib
from decimal import Decimal
from itertools import repeat
from typing import Any, Final

from formula_vcs.model.values import dataclass, field
from formula_vcs.toml.positions import (
    LARGE,
    MOST_ERRORS,
    Positions,
    SyntaxProblem,
    collector_at_rest,
    first_error,
    positions,
)
from formula_vcs.toml.table_cache import Pieces
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import quoted

__all__ = ["LIMIT", "Parsed", "Pieces", "Positions", "SyntaxProblem", "parse", "pieces", "positions"]

LIMIT: Final = 2 * 1024 * 1024
DEEPEST: Final = 32
MOST_PARTS: Final = 16
LONGEST_NUMBER: Final = 100

# tomllib reads TOML 1.0 up to Python 3.14.  One that reads 1.1 must not accept what the others refuse.
_MAY_READ_LATER_TOML: Final = sys.version_info >= (3, 15)

_MARKER: Final = late_pattern(r"^(?:<{7}|>{7})(?: [^\n]*)?\r?$", re.MULTILINE)
_ANY_MARKER: Final = late_pattern(r"^(?:<{7}|>{7}|\|{7}|={7})(?: [^\n]*)?\r?$", re.MULTILINE)
# A look at the letter before keeps this linear: a run is tried once, from its beginning.
_LONG_NUMBER: Final = late_pattern(rf"(?<![0-9A-Za-z_-])[0-9][0-9A-Za-z_]{{{LONGEST_NUMBER - 1}}}")
_BRACKET: Final = late_pattern(r"[\[\]{}]")
_NOT_A_DOT: Final = late_pattern(r"[^.,=\[\]{}]+")


@dataclass(frozen=True)
class Parsed:
    """A file's text (without a byte-order mark) and its data, which is empty where there are errors.

    Numbers with a point are `Decimal` with all their digits.
    """

    text: str
    data: dict[str, Any] = field(default_factory=dict)
    errors: tuple[SyntaxProblem, ...] = ()


def pieces() -> Pieces:
    """Give a memory of tables to `parse` many versions of a file with."""
    return Pieces(_toml)


def parse(data: bytes, known: Pieces | None = None) -> Parsed:
    """Read the bytes of a file.  Nothing is raised: `Parsed.errors` tells all that is wrong.

    With ``known`` tables are shared with other texts, so that nobody may change the data.
    """
    refused = _unreadable(data)
    if refused is not None:
        return Parsed("", errors=(refused,))
    text, problems = _decoded(data)
    marker = _conflict(text)
    if marker is not None:
        return Parsed(text, errors=(*problems, marker))
    problems += _hostile(text)
    values: dict[str, Any] = {}
    if not any(problem.message in _ENDS for problem in problems):
        values, more = _load(text, known)
        taken = {problem.line for problem in problems}
        problems += [problem for problem in more if problem.line not in taken]
    return Parsed(text, {} if problems else values, tuple(sorted(problems)[:MOST_ERRORS]))


_TOO_DEEP: Final = f"brackets stand more than {DEEPEST} deep in each other here"
_TOO_MANY_PARTS: Final = f"a name has more than {MOST_PARTS} parts here"
_TOO_LONG: Final = f"a number or name of {LONGEST_NUMBER} and more digits begins here"
# What a parser could choke on, so it is not tried.
_ENDS: Final = frozenset({_TOO_DEEP, _TOO_MANY_PARTS, _TOO_LONG})


def _unreadable(data: bytes) -> SyntaxProblem | None:
    """Refuse what is no text at all."""
    if len(data) > LIMIT:
        return SyntaxProblem(1, 1, f"the file has more than {LIMIT // 1024 // 1024} MB and is not read", "too-big")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return SyntaxProblem(1, 1, "the file is saved as UTF-16; save it as UTF-8", "unreadable")
    nul = data.find(b"\0")
    if nul < 0:
        return None
    before = data[:nul].decode("utf-8", "replace")
    return SyntaxProblem(*_spot(before, len(before)), "the file is binary, not text", "unreadable")


def _decoded(data: bytes) -> tuple[str, list[SyntaxProblem]]:
    """Give the text; bytes that are not UTF-8 are replaced and reported once a line."""
    problems = []
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
        words = "the file begins with a byte-order mark; save it as UTF-8 without one"
        problems.append(SyntaxProblem(1, 1, words, "unreadable"))
    try:
        return data.decode("utf-8"), problems
    except UnicodeDecodeError:
        return data.decode("utf-8", "replace"), problems + _bad_bytes(data)


def _bad_bytes(data: bytes) -> list[SyntaxProblem]:
    problems: list[SyntaxProblem] = []
    for number, line in enumerate(data.split(b"\n"), start=1):
        try:
            line.decode("utf-8")
        except UnicodeDecodeError as error:
            column = len(line[: error.start].decode("utf-8")) + 1
            message = f"the byte 0x{line[error.start]:02X} is not UTF-8; save the file as UTF-8"
            problems.append(SyntaxProblem(number, column, message, "unreadable"))
        if len(problems) == MOST_ERRORS:
            break
    return problems


def _conflict(text: str) -> SyntaxProblem | None:
    """Report conflict markers once: with both sides in the file, anything else would be nonsense."""
    if "<<<<<<<" not in text and ">>>>>>>" not in text:
        return None
    first = _ANY_MARKER.search(text)
    if first is None or _MARKER.search(text) is None:
        return None
    message = f"git left a conflict here: {first.group()[:7]}; choose between the two sides and remove the markers"
    return SyntaxProblem(*_spot(text, first.start()), message, "conflict")


def _hostile(text: str) -> list[SyntaxProblem]:
    """Find what no person writes and a parser could hang or crash on."""
    if not _suspicious(text):
        return []
    from formula_vcs.toml.syntax_errors import HEADING, STATEMENT, TEXTS_AND_COMMENTS

    depth = 0
    for number, line in enumerate(TEXTS_AND_COMMENTS.sub(_emptied, text).split("\n"), start=1):
        if STATEMENT.match(line) is not None or HEADING.match(line) is not None:
            depth = 0
        digits = _LONG_NUMBER.search(line)
        if digits is not None:
            return [SyntaxProblem(number, digits.start() + 1, _TOO_LONG)]
        if line.count(".") > MOST_PARTS and "." * MOST_PARTS in _NOT_A_DOT.sub("", line):
            return [SyntaxProblem(number, 1, _TOO_MANY_PARTS)]
        for bracket in _BRACKET.finditer(line):
            depth = depth + 1 if bracket.group() in "[{" else max(0, depth - 1)
            if depth > DEEPEST:
                return [SyntaxProblem(number, bracket.start() + 1, _TOO_DEEP)]
    return []


def _suspicious(text: str) -> bool:
    """Look quickly, as every file of every commit passes here."""
    if len(text) > LARGE or text.count("[") + text.count("{") > DEEPEST:
        return True
    if _LONG_NUMBER.search(text) is not None:
        return True
    return max(map(str.count, text.split("\n"), repeat("."))) > MOST_PARTS


def _emptied(found: re.Match[str]) -> str:
    """Replace a text by an empty one that takes as many lines, and a comment by nothing."""
    inside = found.group()
    return "" if inside[0] == "#" else '""' + "\n" * inside.count("\n")


class _OutOfRange(Exception):
    """A number that no decimal can hold, as it is written."""

    def __init__(self, number: str) -> None:
        self.number = number
        super().__init__(number)


def _number(text: str) -> Decimal:
    try:
        return Decimal(text)
    except ArithmeticError:
        raise _OutOfRange(text) from None


def _toml(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text, parse_float=_number)
    except (_OutOfRange, ArithmeticError, RecursionError) as error:
        raise ValueError from error


def _load(text: str, known: Pieces | None) -> tuple[dict[str, Any], list[SyntaxProblem]]:
    if known is not None and not _MAY_READ_LATER_TOML:
        found = known.data(text)
        if found is not None:
            return found, []
    try:
        with collector_at_rest(len(text) > LARGE):
            values = tomllib.loads(text, parse_float=_number)
    except tomllib.TOMLDecodeError:
        from formula_vcs.toml.syntax_errors import toml_errors  # its patterns take 3 ms; a sound file needs none

        return {}, toml_errors(text)
    except _OutOfRange as error:
        spot = re.search(rf"(?<![\w.+-]){re.escape(error.number)}(?![\w.])", text)
        words = f"{quoted(error.number)} is a number out of all range"
        return {}, [SyntaxProblem(*_spot(text, spot.start() if spot else 0), words)]
    except (ValueError, ArithmeticError, RecursionError):
        return {}, [SyntaxProblem(1, 1, "the file holds numbers or brackets that cannot be read")]
    return values, _later_toml(text) if _MAY_READ_LATER_TOML else []


def _later_toml(text: str) -> list[SyntaxProblem]:
    """Report what is TOML 1.1 only."""
    spot = first_error(text)
    return [] if spot is None else [SyntaxProblem(*spot, "this is not TOML 1.0, which every tool here reads")]


def _spot(text: str, offset: int) -> tuple[int, int]:
    return text.count("\n", 0, offset) + 1, offset - text.rfind("\n", 0, offset)
