"""Merge what is no fact: the comments that theirs changed on lines that stayed, put into the text of the merge.

A comment line belongs to the line below it, the comment behind a value to that value.  Where both sides changed one,
both are kept.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from formula_vcs.files.fact_data import CannotWrite
from formula_vcs.files.layout import Layout
from formula_vcs.files.positions import TextPath

Anchor = tuple[str, ...]
Edit = tuple[int, int, str]

# What tells the rows of an array apart, as far as they have it.
_NAMES: Final = ("id", "kind", "report", "scheme", "number", "rule", "about", "from", "since", "step", "lot")
_END: Final[Anchor] = ("", "end of file")
_HEADING: Final = re.compile(r"""[ \t]*\[\[?(?:"(?:[^"\\\n]|\\.)*"|'[^'\n]*'|[^]"'#\n])*\]\]?""")


@dataclass(frozen=True, slots=True)
class Line:
    """A heading or a pair: what stands above it since the line before, and what stands behind its value."""

    above: tuple[str, ...]
    top: int
    start: int
    stop: int
    tail: str


def with_comments(text: str, base: str, theirs: str, clashing: Container[Anchor] = ()) -> str:
    """Give the text with the comments that theirs changed; a text that does not parse stays as it is.

    Lines that clash keep the comments of their side.
    """
    if _commented(base) == _commented(theirs):
        return text
    try:
        here, before, after = (_lines(Layout(side)) for side in (text, base, theirs))
    except CannotWrite:
        return text
    newline = "\r\n" if "\r\n" in text else "\n"
    edits: list[Edit] = []
    for name, line in here.items():
        if name in before and name in after and name not in clashing:
            edits += _above(text, line, before[name].above, after[name].above, newline)
            edits += _behind(line, before[name].tail, after[name].tail)
    for start, end, new in sorted(edits, reverse=True):
        text = text[:start] + new + text[end:]
    return text


def differing(one: str, other: str) -> set[Anchor]:
    """Name the lines that are not the same in two texts, comments aside."""
    sides = [
        {name: side[line.start : line.stop].split() for name, line in _lines(Layout(side)).items()}
        for side in (one, other)
    ]
    return {name for name in sides[0].keys() | sides[1].keys() if sides[0].get(name) != sides[1].get(name)}


def _commented(text: str) -> list[str]:
    return [line.strip() for line in text.split("\n") if "#" in line]


def _lines(layout: Layout) -> dict[Anchor, Line]:
    """Give the lines of a text by what they are, wherever they stand."""
    found: dict[Anchor, Line] = {}
    at = 0
    text = layout.text
    for start, stop, path in sorted(_spans(layout)):
        line = layout.line(start)
        if line >= at:  # else it shares the line of another
            name = anchor(layout.data, path)
            found.setdefault(name, Line(_comments(text[at:line]), at, line, stop, layout.tail(stop)))
        at = layout.line_end(stop)
    found[_END] = Line(_comments(text[at:]), at, len(text), len(text), "")
    return found


def _spans(layout: Layout) -> Iterator[tuple[int, int, TextPath]]:
    """Give each heading and pair with where it starts and where its value stops."""
    for path, span in layout.pairs.items():
        yield span.start, span.end, path
    for block in layout.blocks:
        found = _HEADING.match(layout.text, block.heading) if block.path else None
        if found is not None:
            yield block.heading, found.end(), block.path


def anchor(data: Any, path: TextPath) -> Anchor:
    """Name a place by ids in place of numbers, a charge without its phase."""
    found: list[str] = []
    node = data
    for part in path:
        node = node[part]
        if isinstance(part, int) and isinstance(node, dict):
            found.append(" ".join(str(node.get(key, "")) for key in _NAMES).strip())
        else:
            found.append(str(part))
    if len(found) > 3 and found[0] == "phase" and found[2] == "charge":
        found[1] = ""
    return tuple(found)


def _comments(gap: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in gap.split("\n") if line.strip().startswith("#"))


def _above(text: str, line: Line, before: Sequence[str], after: Sequence[str], newline: str) -> Iterator[Edit]:
    """Do with the comment lines above a line what theirs did with them."""
    if tuple(before) == tuple(after):
        return
    wanted = _woven([item for item in line.above if item in after or item not in before], after, set(before))
    if wanted == list(line.above):
        return
    gap = [f"{item}\n" for item in text[line.top : line.start].split("\n")[:-1]]
    noted = [number for number, item in enumerate(gap) if item.strip()]
    first, last = (noted[0], noted[-1] + 1) if noted else (len(gap), len(gap))
    indent = text[line.start : line.stop]
    indent = indent[: len(indent) - len(indent.lstrip(" \t"))]
    fresh = [f"{indent}{item}{newline}" for item in wanted]
    if not gap and line.start == len(text) and text and not text.endswith("\n"):
        fresh[0] = newline + fresh[0]
    yield line.top, line.start, "".join((*gap[:first], *_kept_gaps(gap[first:last], wanted, fresh), *gap[last:]))


def _kept_gaps(gap: Sequence[str], wanted: Sequence[str], fresh: Sequence[str]) -> Iterable[str]:
    """Put comment lines in place of others, and keep the blank lines between those that stay."""
    written: list[str] = []
    left = list(zip(wanted, fresh, strict=True))
    for line in gap:
        words = line.strip()
        if not words:
            written.append(line)
        elif any(words == item for item, _ in left):
            while left:
                item, new = left.pop(0)
                written.append(line if item == words else new)
                if item == words:
                    break
    return [*written, *(new for _, new in left)]


def _woven(found: list[str], after: Sequence[str], known: set[str]) -> list[str]:
    """Put the lines that theirs added behind those that stand before them in theirs."""
    for number, item in enumerate(after):
        if item in known or item in found:
            continue
        place = next((found.index(other) + 1 for other in reversed(after[:number]) if other in found), None)
        if place is None:
            place = next((found.index(other) for other in after[number:] if other in found), len(found))
        found.insert(place, item)
    return found


def _behind(line: Line, before: str, after: str) -> Iterator[Edit]:
    """Do with the comment behind a value what theirs did with it."""
    was, wanted, here = (_comment(tail) for tail in (before, after, line.tail))
    if wanted in (was, here) or (not wanted and here != was) or (wanted and wanted in here):
        return
    start = line.stop + len(line.tail) - len(here)
    if not here:
        gap = after[: len(after) - len(wanted)] or "  "
        yield line.stop, line.stop + len(line.tail), f"{gap}{wanted}"
    elif here == was and wanted:
        yield start, line.stop + len(line.tail), wanted
    elif here == was:
        yield line.stop, line.stop + len(line.tail), ""
    else:
        yield line.stop + len(line.tail), line.stop + len(line.tail), f"  {wanted}"


def _comment(tail: str) -> str:
    found = tail.find("#")
    return "" if found < 0 else tail[found:]
