"""Merge what is no fact: the comments of lines that stayed, put into the text of the merge.

A comment line belongs to the line below it, the comment behind a value to that value.  Where both sides changed one,
both are kept.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

from formula_vcs.merge.three_way import Ways
from formula_vcs.toml.facts_to_toml import CannotWrite
from formula_vcs.toml.layout import Layout
from formula_vcs.toml.positions import TextPath

Anchor = tuple[str, ...]
Edit = tuple[int, int, str]

# What tells the rows of an array apart, as far as they have it.
_NAMES: Final = ("id", "kind", "report", "scheme", "number", "rule", "about", "from", "since", "step", "lot")
_END: Final[Anchor] = ("", "end of file")
_CHARGE: Final[Anchor] = ("phase", "", "charge")
_HEADING: Final = re.compile(r"""[ \t]*\[\[?(?:"(?:[^"\\\n]|\\.)*"|'[^'\n]*'|[^]"'#\n])*\]\]?""")


@dataclass(frozen=True, slots=True)
class Line:
    """A heading or a pair: what stands above it since the line before, and what stands behind its value."""

    above: tuple[str, ...]
    top: int
    start: int
    stop: int
    tail: str


_BARE: Final = Line((), 0, 0, 0, "")  # what both sides added has no comments in the base


@dataclass(frozen=True)
class Comments:
    """The comments of three versions, to be merged.

    ``swapped`` are ingredients that took the place of one of the base (`facts.MergedFacts`).  Lines that clash keep
    the comments of their side.
    """

    versions: Ways[str]
    swapped: Mapping[str, str] = field(default_factory=dict)
    clashing: Container[Anchor] = ()

    def put_into(self, text: str) -> str:
        """Give the text of a merge with the merged comments; what does not parse stays as it is.

        Lines that clash, and those that a side lacks, keep the comments that they have.
        """
        if "#" not in self.versions.ours and "#" not in self.versions.theirs:
            return text
        try:
            here, (ours, base, theirs) = self._lines(text), self._of_versions
        except CannotWrite:
            return text
        newline = "\r\n" if "\r\n" in text else "\n"
        edits: list[Edit] = []
        for name, line in here.items():
            if name in ours and name in theirs and name not in self.clashing:
                sides = Ways(ours[name], base.get(name, _BARE), theirs[name])
                edits += _above(text, line, sides, newline)
                edits += _behind(line, sides)
        for start, end, new in sorted(edits, reverse=True):
            text = text[:start] + new + text[end:]
        return text

    @cached_property
    def _of_versions(self) -> tuple[dict[Anchor, Line], ...]:
        return tuple(self._lines(side) for side in (self.versions.ours, self.versions.base, self.versions.theirs))

    def _lines(self, text: str) -> dict[Anchor, Line]:
        return _lines(Layout(text), self.swapped)


def differing(one: str, other: str, swapped: Mapping[str, str]) -> set[Anchor]:
    """Name the lines that are not the same in two texts, comments aside."""
    sides = [
        {name: side[line.start : line.stop].split() for name, line in _lines(Layout(side), swapped).items()}
        for side in (one, other)
    ]
    return {name for name in sides[0].keys() | sides[1].keys() if sides[0].get(name) != sides[1].get(name)}


def _lines(layout: Layout, swapped: Mapping[str, str]) -> dict[Anchor, Line]:
    """Give the lines of a text by what they are, wherever they stand."""
    found: dict[Anchor, Line] = {}
    at = 0
    text = layout.text
    for start, stop, path in sorted(_spans(layout)):
        line = layout.line(start)
        if line >= at:  # else it shares the line of another
            name = anchor(layout.data, path)
            if name[:3] == _CHARGE:
                name = (*_CHARGE, swapped.get(name[3], name[3]), *name[4:])
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
    if len(found) > 3 and (found[0], "", found[2]) == _CHARGE:
        found[1] = ""
    return tuple(found)


def _comments(gap: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in gap.split("\n") if line.strip().startswith("#"))


def _above(text: str, line: Line, sides: Ways[Line], newline: str) -> Iterator[Edit]:
    """Put the comment lines of ours above a line, with what theirs did to them."""
    before, after = sides.base.above, sides.theirs.above
    wanted = list(sides.ours.above)
    if before != after:
        wanted = _woven([item for item in wanted if item in after or item not in before], after, set(before))
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


def _behind(line: Line, sides: Ways[Line]) -> Iterator[Edit]:
    """Put the comment of ours behind a value, with what theirs did to it."""
    wanted = _merged(Ways(*(_comment(side.tail) for side in (sides.ours, sides.base, sides.theirs))))
    here = _comment(line.tail)
    if wanted == here:
        return
    end = line.stop + len(line.tail)
    if here and wanted:
        yield end - len(here), end, wanted
        return
    like = sides.ours.tail if _comment(sides.ours.tail) else sides.theirs.tail
    gap = like[: len(like) - len(_comment(like))] or "  "
    yield line.stop, end, f"{gap}{wanted}" if wanted else ""


def _merged(comments: Ways[str]) -> str:
    """Merge a comment; where both sides changed it, both are kept."""
    ours, base, theirs = comments.ours, comments.base, comments.theirs
    if theirs == base:
        return ours
    if ours == base:
        return theirs
    if theirs in ours:
        return ours
    if ours in theirs:
        return theirs
    return f"{ours}  {theirs}"


def _comment(tail: str) -> str:
    found = tail.find("#")
    return "" if found < 0 else tail[found:]
