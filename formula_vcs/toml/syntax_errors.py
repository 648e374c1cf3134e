"""Every syntax error of a TOML text in one run, in words for a chemist.

tomllib stops at the first error.  So the statement that it stops at is taken out and the rest is read again,
with care that one slip is reported once: a list or a text that is never closed would make nonsense of all
that follows.
"""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Final, NamedTuple

from formula_vcs.toml.positions import MOST_ERRORS, SyntaxProblem, positions
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import quoted

if TYPE_CHECKING:
    from formula_vcs.toml.positions import Double, TextPath

# Characters read again before we stop looking for more: 20 times an ordinary file, twice the largest.
BUDGET: Final = 4 * 1024 * 1024

_LONG_TEXT: Final = (
    r'"""[^"\\]*(?:(?:\\.|"(?!""))[^"\\]*)*"""(?:"{0,2})'
    r"|'''[^']*(?:'(?!'')[^']*)*'''(?:'{0,2})"
)
_SHORT_TEXT: Final = r'"(?:\\.|[^"\\\n])*"' + r"|'[^'\n]*'"
TEXTS_AND_COMMENTS: Final = late_pattern(rf"{_LONG_TEXT}|{_SHORT_TEXT}|#[^\n]*", re.DOTALL)
_TOKEN: Final = late_pattern(
    rf"(?P<text>{_LONG_TEXT})|(?P<open>\"\"\"|''')|{_SHORT_TEXT}|#[^\n]*|[\[\]{{}}\n]", re.DOTALL
)
_PART: Final = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
STATEMENT: Final = late_pattern(rf"\s*{_PART}(?:\s*\.\s*{_PART})*\s*=")
HEADING: Final = late_pattern(rf"\s*\[\[?\s*{_PART}(?:\s*\.\s*{_PART})*\s*\]\]?\s*(?:#.*)?$")
_WHERE: Final = late_pattern(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_TWICE: Final = ("Cannot ", "Duplicate ")


class _Stop(NamedTuple):
    """Where tomllib stopped: line and column from 1, offset from 0, and its words."""

    line: int
    column: int
    offset: int
    words: str
    at_end: bool


class _Statement(NamedTuple):
    """The statement around an offset: where it and its first open bracket begin, and how deep its line ends.

    ``unclosed`` is where a text of several lines begins that never ends, ``long_text`` where the last that
    does.
    """

    start: int
    bracket: int | None
    depth: int
    unclosed: int | None
    long_text: int | None


def toml_errors(text: str) -> list[SyntaxProblem]:
    """List the errors of a text that tomllib refuses, in the order of the lines; at most `MOST_ERRORS`."""
    found: dict[int, SyntaxProblem] = {}
    left = text.replace("\r\n", "\n")
    # tomllib says "at end of document" where the last line lacks its end; a line is said better.
    left += "" if left.endswith(("\n", "\r")) else "\n"
    budget = BUDGET
    while len(found) < MOST_ERRORS and budget > 0:
        stop = _stop(left)
        if stop is None:
            break
        budget -= stop.offset + len(left) // 16
        problems, mended = _judge(left, stop, len(found))
        for problem in problems:
            found.setdefault(problem.line, problem)
        if mended == left:
            break
        left = mended
    return sorted(found.values()) or [SyntaxProblem(1, 1, "this is not TOML 1.0")]


def _stop(text: str) -> _Stop | None:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        words = str(error)
    except (ValueError, RecursionError):
        return None
    else:
        return None
    where = _WHERE.search(words)
    if where is None or where.group(1) is None:
        lines = text.rstrip("\n").split("\n")
        return _Stop(len(lines), len(lines[-1]) + 1, len(text), _WHERE.sub("", words), at_end=True)
    line, column = int(where.group(1)), int(where.group(2))
    offset = sum(len(row) + 1 for row in text.split("\n")[: line - 1]) + column - 1
    return _Stop(line, column, offset, words[: where.start()], at_end=False)


def _judge(text: str, stop: _Stop, count: int) -> tuple[list[SyntaxProblem], str]:
    """Say what is wrong at a stop, and give the text without it."""
    if stop.words.startswith(_TWICE):
        doubles = _doubles(text, stop)
        if doubles:
            return [_twice(double) for double in doubles], _without(
                text, [_lines_of(double) for double in doubles], count
            )
    statement = _statement(text, stop.offset)
    lines = text.split("\n")
    first = text.count("\n", 0, statement.start) + 1
    unclosed = _unclosed_text(text, statement)
    if unclosed is not None:
        return [unclosed], _without(text, [(min(first, unclosed.line), len(lines))], count)
    if statement.bracket is not None and (stop.at_end or (first < stop.line and _begins(lines[stop.line - 1]))):
        kind, sign = ("table", "}") if text[statement.bracket] == "{" else ("list", "]")
        problem = _problem(text, statement.bracket, f"the {kind} that begins here is never closed: {sign} is missing")
        return [problem], _without(text, [(first, stop.line if stop.at_end else stop.line - 1)], count)
    last = _end(lines, stop.line, statement.depth)
    return [SyntaxProblem(stop.line, stop.column, _words(stop, lines))], _without(text, [(first, last)], count)


def _statement(text: str, offset: int) -> _Statement:
    """Find the statement around an offset.  All before it was read, so its quotes and brackets pair up."""
    start, depth = 0, 0
    bracket, long_text = None, None
    line_end = text.find("\n", offset)
    for token in _TOKEN.finditer(text, 0, len(text) if line_end < 0 else line_end):
        at, first = token.start(), token.group()[0]
        if token.group("open"):
            # Closed beyond the line that we look at, or never.
            closed = text.find(token.group(), token.end()) >= 0
            return _Statement(start, bracket, depth, None if closed else at, at if closed else long_text)
        if first in "[{":
            bracket = at if depth == 0 else bracket
            depth += 1
        elif first in "]}":
            depth = max(0, depth - 1)
            bracket = bracket if depth else None
        elif first == "\n" and depth == 0 and at < offset:
            start, bracket = at + 1, None
        elif token.group("text") and "\n" in token.group():
            long_text = at
    return _Statement(start, bracket, depth, None, long_text)


def _unclosed_text(text: str, statement: _Statement) -> SyntaxProblem | None:
    """Report a text of several lines without an end.  What follows cannot be told from it, so it all goes."""
    if statement.unclosed is not None:
        message = "the text that begins here is never closed: its last three quotes are missing"
        return _problem(text, statement.unclosed, message)
    odd = text.count('"""') % 2 or text.count("'''") % 2
    if statement.long_text is not None and (odd or statement.long_text >= statement.start):
        message = "the text that begins here is perhaps not closed: what follows it cannot be read"
        return _problem(text, statement.long_text, message)
    return None


def _end(lines: list[str], line: int, depth: int) -> int:
    """Give the last line of a broken statement: where a bracket is open, up to the next beginning."""
    if depth == 0:
        return line
    while line < len(lines) and lines[line].strip() and not _begins(lines[line]):
        line += 1
    return line


def _begins(line: str) -> bool:
    return STATEMENT.match(line) is not None or HEADING.match(line) is not None


def _without(text: str, spans: list[tuple[int, int]], count: int) -> str:
    """Empty lines (from 1, both ends included).

    A heading is replaced by one of a name that nobody writes, or its pairs would join those of the table
    before.
    """
    lines = text.split("\n")
    for number, (first, last) in enumerate(spans):
        heading = lines[first - 1].lstrip().startswith("[")
        lines[first - 1 : last] = [""] * (last - first + 1)
        if heading:
            lines[first - 1] = f'["\\u0000 {count} {number}"]'
    return "\n".join(lines)


def _problem(text: str, offset: int, message: str) -> SyntaxProblem:
    line = text.count("\n", 0, offset) + 1
    return SyntaxProblem(line, offset - text.rfind("\n", 0, offset), message)


# --- names written twice


def _doubles(text: str, stop: _Stop) -> list[Double]:
    """Find the names written twice up to a stop.  tomllib tells neither the name nor where it is first."""
    end = text.find("\n", stop.offset)
    return positions(text if end < 0 else text[: end + 1]).doubles


def _lines_of(double: Double) -> tuple[int, int]:
    """Give the lines to take out: of a heading itself, as what stands under it is read on."""
    return (double.again[0], double.again[0]) if double.heading else (double.span.start_line, double.span.end_line)


def _twice(double: Double) -> SyntaxProblem:
    first = f"first at line {double.first[0]}"
    if double.heading:
        return SyntaxProblem(*double.again, f"the heading {_table(double.path)} is written twice; {first}")
    *table, name = double.path
    return SyntaxProblem(*double.again, f"{quoted(str(name))} is written twice in {_table(tuple(table))}; {first}")


def _table(path: TextPath) -> str:
    if not path:
        return "the head of the file"
    names = ".".join(part for part in path if isinstance(part, str))
    numbers = [str(part + 1) for part in path if isinstance(part, int)]
    shown = quoted(names)[1:-1]
    return f"[[{shown}]] number {' '.join(numbers)}" if numbers else f"[{shown}]"


# --- words


def _words(stop: _Stop, lines: list[str]) -> str:
    """Put tomllib's words into a chemist's, with a look at what stands there."""
    line = lines[stop.line - 1]
    rest = line[stop.column - 1 :].strip()
    if line[stop.column - 1 : stop.column] == "\r":
        return "a carriage return stands alone here; lines end with a line feed"
    if re.search(r"=\s*[+-]?[0-9]+,[0-9]+\s*(?:#|$)", line):
        return "a number has a comma: write it with a point, as in 4.00"
    for beginning, words in _WORDS.items():
        if stop.words.startswith(beginning):
            return words
    if stop.words.startswith("Expected newline"):
        return _left_over(line, rest)
    if stop.words.startswith("Invalid value"):
        return _no_value(rest)
    if stop.words.startswith(("Found invalid character", "Illegal character")):
        return f"a character that cannot stand here: {quoted(line[stop.column - 1 : stop.column])}"
    return f"this is not TOML 1.0: {stop.words[:1].lower()}{stop.words[1:]}"


_NO_NAME: Final = "a name is written with the letters a to z, digits, - and _; put any other name in quotes"
_WORDS: Final = {
    "Expected '=' after": "after a name comes = and then the value; the = is missing",
    "Illegal character '\\n'": "the text is not closed: its last quote is missing in this line",
    "Unterminated string": "the text is not closed: its last quote is missing",
    'Expected "\'"': "the text is not closed: its last quote is missing",
    "Unclosed array": "a comma or the closing ] of the list is missing here",
    "Unclosed inline table": "a comma or the closing } is missing here; all of it stands in one line",
    "Unescaped '\\'": "a backslash in a text is written twice: \\\\",
    "Invalid hex value": "a backslash in a text is written twice: \\\\",
    "Escaped character": "there is no such character",
    "Expected ']'": "the closing ] of the heading is missing",
    "Expected ']]'": "the closing ]] of the heading is missing",
    "Invalid statement": _NO_NAME,
    "Invalid initial character": _NO_NAME,
    "Invalid date": "there is no such day or time; write 2026-06-30",
    "Cannot declare": "this heading stands twice, or its name is taken by a value above",
    "Cannot overwrite": "this name is written twice, or is taken by a table above",
    "Cannot mutate": "nothing can be added here: the table is complete in the line that gives it",
    "Cannot redefine": "this name is taken by another table above",
}


def _left_over(line: str, rest: str) -> str:
    if re.search(r"=\s*[+-]?[0-9][0-9.]*\s*[%A-Za-z\u00b0\u00b5]", line):
        return 'a value with a unit is a text: put it in quotes, as in "8 min"'
    if re.search(r"=\s*[+-]?0[0-9]", line) and "-" not in line:
        return "a number does not begin with 0 unless a point follows"
    if re.search(r"=\s*[0-9]{4}-[0-9]", line):
        return "there is no such day; write 2026-06-30"
    if rest.startswith("."):
        return "after the point of a number comes a digit"
    return f"the value ends before {quoted(rest)}; put text in quotes, and a remark behind #"


def _no_value(rest: str) -> str:
    if not rest or rest[0] == "#":
        return "the value is missing"
    if re.match(r"[+-]?\.[0-9]", rest):
        return "write a zero before the point, as in 0.5"
    if rest.lower().startswith(("true", "false")):
        return "write true and false in small letters"
    return f"{quoted(rest)} is not a value; put text in quotes"
