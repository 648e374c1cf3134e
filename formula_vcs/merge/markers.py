"""Show a conflict: the lines in which the ways of a merge differ, between markers in the style of diff3."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from formula_vcs.merge.comments import Anchor, anchor
from formula_vcs.merge.three_way import ThreeWay
from formula_vcs.model.values import dataclass
from formula_vcs.toml.layout import Layout
from formula_vcs.words.late_pattern import late_pattern

Line = tuple[Anchor, str]
_LINE: Final = late_pattern(r"[^\n]*\n|[^\n]+")  # str.splitlines would also end a line at what a text may hold


@dataclass(frozen=True, slots=True)
class Style:
    """How markers look: how often their sign stands, and what the sides are called."""

    size: int = 7
    ours: str = "ours"
    base: str = "base"
    theirs: str = "theirs"


def with_markers(texts: ThreeWay[str], style: Style) -> str:
    """The text of ours with markers around what differs.

    What is the same in ours and theirs stands once.  Of the base, what stands between the same neighbours is shown.
    The texts must parse: two lines are the same only where they stand in the same table or row, so that a step which
    one side lacks is shown whole.
    """
    ours, base, theirs = (_lines(side) for side in (texts.ours, texts.base, texts.theirs))
    newline = "\r\n" if "\r\n" in texts.ours else "\n"
    was = _Base(ours, base)
    found: list[str] = []
    for same, (start, end), (there, stop) in _hunks(ours, theirs):
        if same:
            found += [text for _, text in ours[start:end]]
            continue
        sides = (ours[start:end], base[slice(*was.between(start, end))], theirs[there:stop])
        for sign, label, lines in zip("<|=", (style.ours, style.base, ""), sides, strict=True):
            found += [_marker(sign, label, style.size, newline), *_ended(lines, newline)]
        found.append(_marker(">", style.theirs, style.size, newline))
    return "".join(found)


def whole(texts: ThreeWay[str], style: Style) -> str:
    """The texts of ours and theirs as one conflict, each whole: where no line of one belongs to the other."""
    newline = "\r\n" if "\r\n" in texts.ours else "\n"
    found: list[str] = []
    for sign, label, text in zip(
        "<|=", (style.ours, style.base, ""), (texts.ours, texts.base, texts.theirs), strict=True
    ):
        found += [_marker(sign, label, style.size, newline), text]
        if text and not text.endswith("\n"):
            found.append(newline)
    return "".join([*found, _marker(">", style.theirs, style.size, newline)])


def _lines(text: str) -> list[Line]:
    """Each line with the name of the table or row that it stands in."""
    layout = Layout(text)
    found: list[Line] = []
    for block in layout.blocks:
        name = anchor(layout.data, block.path)
        found += [(name, line) for line in _LINE.findall(layout.text[block.start : block.end])]
    return found


def _hunks(ours: Sequence[Line], theirs: Sequence[Line]) -> Iterator[tuple[bool, tuple[int, int], tuple[int, int]]]:
    from difflib import SequenceMatcher  # 7 ms, and only where something clashes

    for tag, start, end, there, stop in SequenceMatcher(None, ours, theirs, autojunk=False).get_opcodes():
        yield tag == "equal", (start, end), (there, stop)


class _Base:
    """Finds the lines of the base that belong to lines of ours."""

    def __init__(self, ours: Sequence[Line], base: Sequence[Line]) -> None:
        from difflib import SequenceMatcher

        self._places: dict[int, int] = {}
        for start, there, length in SequenceMatcher(None, ours, base, autojunk=False).get_matching_blocks():
            self._places.update({start + number: there + number for number in range(length)})
        self._length = len(ours)
        self._end = len(base)

    def between(self, start: int, end: int) -> tuple[int, int]:
        """The lines of the base between what matches the lines before and after a part of ours."""
        first = next((self._places[number] + 1 for number in range(start - 1, -1, -1) if number in self._places), 0)
        later = (self._places[number] for number in range(end, self._length) if number in self._places)
        return first, max(first, next(later, self._end))


def _marker(sign: str, label: str, size: int, newline: str) -> str:
    return f"{sign * size} {label}".rstrip() + newline


def _ended(lines: Sequence[Line], newline: str) -> list[str]:
    """End the last line too: a marker has a line of its own."""
    return [line if line.endswith("\n") else line + newline for _, line in lines]
