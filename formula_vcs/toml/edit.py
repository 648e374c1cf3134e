"""Change one thing in a TOML text and leave every other character as it is.

tomlkit spells texts and dates.  The place of a change comes from `positions` and the text around it is not
touched: tomlkit's own tree moves comments between tables, reorders split arrays of tables and takes no
Decimal.
"""

from __future__ import annotations

import copy
from datetime import date, time
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from formula_vcs.toml.syntax import parse, positions
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import quoted

if TYPE_CHECKING:
    from collections.abc import Callable

    from formula_vcs.toml.positions import Positions, TextPath, TextSpan

_BARE: Final = late_pattern(r"[A-Za-z0-9_-]+")
_ALIGNED: Final = late_pattern(r"([ \t]*)([^\s=][^=\n]*?)([ \t]*)=")
_REST_OF_LINE: Final = late_pattern(r"[ \t]*,?[ \t]*(?:#[^\n]*)?(?:\n|\Z|\r\n)")


class EditRefused(ValueError):
    """A change that cannot be written; nothing was changed."""


def set_value(text: str, path: TextPath, value: Any) -> str:
    """Give the text with another value at a path that exists: a pair, or an element of an array.

    A Decimal keeps its digits.  Raises `EditRefused`.
    """
    place = positions(text)
    span = place.value_span(path)
    if span is None:
        raise EditRefused(f"{_shown(path)} is no value of this file")
    edited = text[: span.start] + spelled(value) + text[span.end :]

    def change(data: Any) -> None:
        _parent(data, path)[path[-1]] = value

    return _checked(text, edited, change)


def remove(text: str, path: TextPath) -> str:
    """Give the text without a pair, an element, or a table with all below it.

    A comment in the line goes with it.  Raises `EditRefused`.
    """
    place = positions(text)
    span = place.span(path)
    if not path or span is None:
        raise EditRefused(f"{_shown(path)} does not stand in this file")
    edited = text
    for part in reversed(place.headings(path) or [span]):
        edited = _cut(edited, place, path, part)

    def change(data: Any) -> None:
        del _parent(data, path)[path[-1]]
        _drop_empty(data, path[:-1], positions(edited))

    return _checked(text, edited, change)


def add_pair(text: str, table: TextPath, key: str, value: Any) -> str:
    """Give the text with one more pair at the end of a table, its = under the one above.

    ``table`` is empty for the head of the file.  A table that has no heading yet gets one at the end of the
    file. Raises `EditRefused`, also where the key is there already.
    """
    place = positions(text)
    if place.key((*table, key)) is not None:
        raise EditRefused(f"{_shown((*table, key))} stands in this file already")
    line = f"{key_text(key)} = {spelled(value)}"
    if table and place.value_span(table) is not None:
        edited = _into_inline(text, place, table, line)
    else:
        edited = _into_table(text, place, table, key, spelled(value))

    def change(data: Any) -> None:
        _parent(data, (*table, key), make=True)[key] = value

    return _checked(text, edited, change)


def spelled(value: Any) -> str:
    """Write a value as TOML: a Decimal with its own digits, everything in one line.

    Raises `EditRefused` for what TOML cannot say, not-a-number and infinity among it.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, Decimal) and value.is_finite():
        return f"{value:f}"
    if isinstance(value, (str, date, time)):
        import tomlkit

        return tomlkit.item(value).as_string()
    if isinstance(value, list):
        return f"[{', '.join(map(spelled, value))}]"
    if isinstance(value, dict):
        pairs = ", ".join(f"{key_text(key)} = {spelled(inner)}" for key, inner in value.items())
        return f"{{ {pairs} }}" if pairs else "{}"
    raise EditRefused(f"{quoted(str(value))} cannot be written")


# --- text


def _cut(text: str, place: Positions, path: TextPath, span: TextSpan) -> str:
    line = text.rfind("\n", 0, span.start) + 1
    rest = _REST_OF_LINE.match(text, span.end)
    if rest is not None and not text[line : span.start].strip():
        return text[:line] + text[rest.end() :]
    members = place.members(path[:-1])
    after = next((member.start for member in members if member.start > span.start), None)
    if after is not None:
        return text[: span.start] + text[after:]
    before = next((member.end for member in reversed(members) if member.end < span.start), span.start)
    return text[:before] + text[span.end :]


def _into_inline(text: str, place: Positions, table: TextPath, line: str) -> str:
    members = place.members(table)
    if members:
        end = members[-1].end
        return f"{text[:end]}, {line}{text[end:]}"
    span = place.value_span(table)
    if span is None:
        raise EditRefused(f"{_shown(table)} is no table")
    return f"{text[: span.start]}{{ {line} }}{text[span.end :]}"


def _into_table(text: str, place: Positions, table: TextPath, key: str, value: str) -> str:
    newline = "\r\n" if "\r\n" in text else "\n"
    end = place.end_of_own(table)
    if end is None and table:
        heading = ".".join(key_text(str(part)) for part in table)
        gap = newline if text.endswith("\n") else newline * 2 * bool(text)
        return f"{text}{gap}[{heading}]{newline}{key_text(key)} = {value}{newline}"
    if end is None:
        return f"{key_text(key)} = {value}{newline}{text}"
    line_end = text.find("\n", end) + 1
    line = aligned(text[text.rfind("\n", 0, end) + 1 : end], key_text(key)) + f"= {value}"
    if not line_end:
        return f"{text}{newline}{line}{newline}"
    return f"{text[:line_end]}{line}{newline}{text[line_end:]}"


def aligned(above: str, key: str) -> str:
    """Give the key with the indent of the line above and its = under the other."""
    found = None if above.lstrip().startswith("[") else _ALIGNED.match(above)
    if found is None:
        return f"{key} "
    indent, name, gap = found.groups()
    return indent + key.ljust(len(name) + len(gap)) if len(key) < len(name) + len(gap) else f"{indent}{key} "


def key_text(key: str) -> str:
    """Write a key, in quotes where it needs them."""
    return key if _BARE.fullmatch(key) else spelled(key)


def _shown(path: TextPath) -> str:
    return quoted("/".join(map(str, path)))


# --- what the text must say afterwards


def _checked(text: str, edited: str, change: Callable[[Any], None]) -> str:
    """Give the edited text, if it says what was meant and nothing else changed."""
    before, after = parse(text.encode()), parse(edited.encode())
    if before.errors:
        raise EditRefused(f"the file has errors; the first is at line {before.errors[0].line}")
    meant = copy.deepcopy(before.data)
    try:
        change(meant)
    except (KeyError, IndexError, TypeError) as error:
        raise EditRefused("there is nothing of that name in this file") from error
    if after.errors or after.data != meant:
        raise EditRefused("this cannot be changed here without changing something else; edit the file by hand")
    return edited


def _parent(data: Any, path: TextPath, *, make: bool = False) -> Any:
    for part in path[:-1]:
        if make and isinstance(data, dict):
            data.setdefault(part, {})
        data = data[part]
    return data


def _drop_empty(data: Any, path: TextPath, left: Positions) -> None:
    """Drop the tables that existed only in the name of what was removed."""
    while (
        path
        and not (inner := _parent(data, (*path, "")))
        and left.key(path) is None
        and isinstance(inner, (dict, list))
    ):
        del _parent(data, path)[path[-1]]
        path = path[:-1]
