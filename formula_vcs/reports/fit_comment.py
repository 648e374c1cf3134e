"""Make a page of markdown fit where only so much may stand: whole entries go, and how many went is said."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from formula_vcs.model.values import dataclass
from formula_vcs.reports.review_document import counted

# A comment on GitHub holds 65,536 characters.  Counted in bytes of UTF-8 the text is below it however a host counts:
# bytes, code points, UTF-16 units.
ROOM: Final = 64_000
LEAST: Final = 1_500  # below that a section says nothing; fewer sections are written then
_CLOSING: Final = 2_000
_NOTE: Final = 80
_HOW: Final = "'git formula review' in a clone shows all of it."


@dataclass(frozen=True, slots=True)
class Section:
    """What is said about one recipe: lines around, and parts of which entries may be left out."""

    name: str
    opening: str
    parts: tuple[str, ...]
    closing: str = ""

    @property
    def whole(self) -> str:
        """Give all of it."""
        return self.opening + "".join(self.parts) + self.closing


def fitted(head: str, sections: Sequence[Section], tail: str, room: int = ROOM) -> str:
    """Give a page of at most ``room`` bytes; the first sections are the last to go.

    ``head`` is written whole; entries are the items of lists and the rows of tables, a line each.
    """
    whole = head + "".join(section.whole for section in sections) + tail
    if _size(whole) <= room:
        return whole
    tail, gone = cut(tail, _CLOSING)
    left = room - _size(head) - _size(tail) - _CLOSING
    shown = sections[: max(left // LEAST, 0)]
    level = _level([_size(section.whole) for section in shown], left)
    written = []
    for section in shown:
        text, less = _narrowed(section, level)
        if _size(text) <= level:
            written.append(text)
            gone += less
    return head + "".join(written) + tail + _said(gone, [section.name for section in sections[len(written) :]])


def _narrowed(section: Section, room: int) -> tuple[str, int]:
    """Give a section of about ``room`` bytes, and how many entries were left out."""
    if _size(section.whole) <= room:
        return section.whole, 0
    left = room - _size(section.opening) - _size(section.closing)
    level = _level([_size(part) for part in section.parts], left)
    pieces = [cut(part, level) for part in section.parts]
    return section.opening + "".join(text for text, _ in pieces) + section.closing, sum(count for _, count in pieces)


def _level(sizes: Sequence[int], room: int) -> int:
    """Give the size that each may have at most so that all fit: who needs less leaves it to the others."""
    left = room
    for place, size in enumerate(sorted(sizes)):
        share = left // (len(sizes) - place)
        if size > share:
            return share
        left -= size
    return room


def cut(text: str, room: int) -> tuple[str, int]:
    """Give a part of at most ``room`` bytes, as far as its entries can be left out, and how many were."""
    if _size(text) <= room:
        return text, 0
    lines = _lines(text)
    left = room - sum(_size(line) for entry, line in lines if not entry) - _NOTE
    kept: list[str] = []
    gone = 0
    for entry, line in lines:
        gone += entry and (gone > 0 or _size(line) > left)
        if not entry or not gone:
            left -= _size(line) if entry else 0
            kept.append(line)
    if gone:
        kept.append(f"\n*{_entries(gone)} of this part left out.*\n\n")
    return "".join(kept), gone


def _lines(text: str) -> list[tuple[bool, str]]:
    """Part a text into lines, and say which of them are entries."""
    found: list[tuple[bool, str]] = []
    lines = text.splitlines(keepends=True)
    for number, line in enumerate(lines):
        # a table's head is known by the line of dashes below it
        below = lines[number + 1] if number + 1 < len(lines) else ""
        row = line.startswith("| ") and not line.startswith("| ---") and not below.startswith("| ---")
        found.append((row or line.lstrip(" ").startswith("- "), line))
    return found


def _said(gone: int, names: Sequence[str]) -> str:
    said = [_entries(gone)] if gone else []
    if names:
        listed = ""
        for name in names:
            if _size(listed) + _size(name) > _CLOSING // 2:
                break
            listed += f"{', ' if listed else ''}{name}"
        rest = f": {listed}{'' if listed.count(', ') + 1 == len(names) else ', ...'}" if listed else ""
        said.append(f"{counted(len(names), 'recipe')}{rest}")
    return f"\n**Left out, as a comment holds only so much: {' and '.join(said)}.** {_HOW}\n" if said else ""


def _entries(count: int) -> str:
    return "1 entry" if count == 1 else f"{count} entries"


def _size(text: str) -> int:
    return len(text.encode("utf-8", "surrogatepass"))
