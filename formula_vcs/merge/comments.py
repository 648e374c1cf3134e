"""Merge what is no fact: every comment of both sides, put into the text of the merge at the line that it is about.

A comment line that touches the line below it belongs to that line, the comment behind a value to that value; one with
blank lines around it stands apart, between two lines.  A line is known by what it is and not by where it stands: a
charge by its identity (`three_way`), a step by its id.  Where both sides changed a comment, both are kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any, Final

from formula_vcs.merge.three_way import OURS, WAYS, Id, Key, ThreeWay, charge_anchor
from formula_vcs.model.values import dataclass, field
from formula_vcs.toml.facts_to_toml import CannotWrite
from formula_vcs.toml.layout import Layout
from formula_vcs.toml.positions import TextPath
from formula_vcs.words.late_pattern import late_pattern

Anchor = tuple[str, ...]
Edit = tuple[int, int, str]
Names = Mapping[Key, Id]

# What tells the rows of an array apart, as far as they have it.
_NAMES: Final = ("id", "kind", "report", "scheme", "number", "rule", "about", "from", "since", "step", "lot")
_CLOSED: Final = "]"
_END: Final[Anchor] = ("", "end of file")
_HEADING: Final = late_pattern(r"""[ \t]*\[\[?(?:"(?:[^"\\\n]|\\.)*"|'[^'\n]*'|[^]"'#\n])*\]\]?""")
NO_NAMES: Final[ThreeWay[Names]] = ThreeWay({}, {}, {})


@dataclass(frozen=True, slots=True)
class CommentLine:
    """A heading or a pair: what is said of it above and behind, and what stands apart between it and the line before.

    ``top`` is where the text behind the line before begins, ``above_at`` where the comments that touch it do.
    """

    above: tuple[str, ...]
    apart: tuple[tuple[str, ...], ...]
    top: int
    above_at: int
    start: int
    stop: int
    tail: str

    @property
    def said(self) -> tuple[str, ...]:
        """What is said of the line itself."""
        return (*self.above, *((comment,) if (comment := _comment(self.tail)) else ()))


_BARE: Final = CommentLine((), (), 0, 0, 0, 0, "")  # a version that lacks a line says nothing of it


@dataclass(frozen=True)
class Comments:
    """The comments of three versions, to be merged.

    ``names`` say which charge is which in each version, ``merged`` in each way of the merge.  Lines that clash keep the
    comments of their side.  ``elsewhere`` are lines that another way of the merge has.
    """

    versions: ThreeWay[str]
    names: ThreeWay[Names] = NO_NAMES
    merged: ThreeWay[Names] = NO_NAMES
    clashing: Container[Anchor] = field(default_factory=frozenset)
    elsewhere: Container[Anchor] = field(default_factory=frozenset)

    def put_into(self, text: str, way: str = OURS) -> str:
        """The text of a way of a merge with the merged comments; what does not parse stays as it is."""
        if not any("#" in self.versions.way(version) for version in WAYS):
            return text
        try:
            here, sides = _lines(Layout(text), self.merged.way(way)), self._of_versions
        except CannotWrite:
            return text
        newline = "\r\n" if "\r\n" in text else "\n"
        apart = self._apart(here)
        edits: list[Edit] = []
        for name, line in here.items():
            both = name in sides.ours and name in sides.theirs
            if (name in sides.ours or name in sides.theirs) and not (both and name in self.clashing):
                own = ThreeWay(*(side.get(name, _BARE) for side in (sides.ours, sides.base, sides.theirs)))
                own = _only(own, in_ours=name in sides.ours, in_theirs=name in sides.theirs)
                edits += _above(text, line, own, newline)
                edits += _behind(line, own)
            edits += _set_apart(text, line, apart.get(name, ()), newline)
        for start, end, new in sorted(edits, reverse=True):
            text = text[:start] + new + text[end:]
        return text

    def orphans(self) -> frozenset[Anchor]:
        """Name the lines that one side took out while the other wrote something about them."""
        return frozenset(name for name, _ in self._orphans())

    def written(self) -> Counter[str]:
        """Count what either side wrote that the base does not say: none of it may be lost."""
        if not self._says_anything:
            return Counter()
        base, *sides = (self._words(side) for side in (self._of_versions.base, self._of_versions.ours,
                                                       self._of_versions.theirs))  # fmt: skip
        return (sides[0] - base) | (sides[1] - base)

    @property
    def _says_anything(self) -> bool:
        return "#" in self.versions.ours or "#" in self.versions.theirs

    @staticmethod
    def _words(lines: Mapping[Anchor, CommentLine]) -> Counter[str]:
        said = (words for line in lines.values() for words in (*line.said, *(w for group in line.apart for w in group)))
        return Counter(said)

    def _orphans(self) -> Iterator[tuple[Anchor, str]]:
        if not self._says_anything:
            return
        sides = self._of_versions
        for one, other in ((sides.ours, sides.theirs), (sides.theirs, sides.ours)):
            elsewhere = {words for line in other.values() for words in line.said}
            for name, line in one.items():
                was = sides.base.get(name)
                if was is not None and name not in other:
                    yield from ((name, said) for said in line.said if said not in was.said and said not in elsewhere)

    @cached_property
    def _of_versions(self) -> ThreeWay[dict[Anchor, CommentLine]]:
        return ThreeWay(*(_lines(Layout(self.versions.way(way)), self.names.way(way)) for way in WAYS))

    def _apart(self, here: Mapping[Anchor, CommentLine]) -> dict[Anchor, list[tuple[str, ...]]]:
        """Say before which line of the merge each comment goes that stands apart: as the side has it that wrote it."""
        sides = self._of_versions
        groups = [{group: name for name, line in side.items() for group in line.apart}
                  for side in (sides.ours, sides.base, sides.theirs)]  # fmt: skip
        ours, base, theirs = groups
        found: dict[Anchor, list[tuple[str, ...]]] = {}
        for group in dict.fromkeys((*ours, *theirs)):
            if group in base and (group not in ours or group not in theirs):
                continue  # taken out by one side
            moved = group in theirs and group in base and theirs[group] != base[group]
            side, at = (sides.theirs, theirs[group]) if group not in ours or moved else (sides.ours, ours[group])
            order = list(side)
            place = next((name for name in order[order.index(at) :] if name in here), _END)
            found.setdefault(place, []).append(group)
        for place, words in self._strays(here):
            found.setdefault(place, []).append((words,))
        return found

    def _strays(self, here: Mapping[Anchor, CommentLine]) -> Iterator[tuple[Anchor, str]]:
        """What a side wrote about a line that only its own layout has: in the merge it stands apart."""
        sides = self._of_versions
        known = {words for line in sides.base.values() for words in line.said}
        for side in (sides.ours, sides.theirs):
            order = list(side)
            for at, (name, line) in enumerate(side.items()):
                if name in here or name in self.elsewhere:
                    continue
                place = next((later for later in order[at:] if later in here), _END)
                yield from ((place, words) for words in line.said if words not in known)


def anchors(text: str, names: Names) -> frozenset[Anchor]:
    """Name the lines of a text."""
    return frozenset(_lines(Layout(text), names))


def differing(one: str, other: str, names: ThreeWay[Names]) -> set[Anchor]:
    """Name the lines that are not the same in two texts, those of ours and of theirs, comments aside."""
    sides = [
        {name: side[line.start : line.stop].split() for name, line in _lines(Layout(side), own).items()}
        for side, own in ((one, names.ours), (other, names.theirs))
    ]
    return {name for name in sides[0].keys() | sides[1].keys() if sides[0].get(name) != sides[1].get(name)}


def _only(sides: ThreeWay[CommentLine], *, in_ours: bool, in_theirs: bool) -> ThreeWay[CommentLine]:
    """Let a line that only one side has be as that side wrote it."""
    if in_ours and in_theirs:
        return sides
    one = sides.ours if in_ours else sides.theirs
    return ThreeWay(one, one, one)


def _lines(layout: Layout, names: Names) -> dict[Anchor, CommentLine]:
    """The lines of a text by what they are, wherever they stand."""
    found: dict[Anchor, CommentLine] = {}
    at = 0
    for start, stop, path in sorted(_spans(layout)):
        line = layout.line(start)
        if line >= at:  # else it shares the line of another
            name = _identity(anchor(layout.data, path), names)
            above, apart, touching = _gap(layout.text, at, line)
            found.setdefault(name, CommentLine(above, apart, at, touching, line, stop, layout.tail(stop)))
        at = layout.line_end(stop)
    end = len(layout.text)
    _, groups, _ = _gap(layout.text, at, end, last=True)
    found[_END] = CommentLine((), groups, at, end, end, end, "")
    return found


def _gap(
    text: str, start: int, end: int, *, last: bool = False
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...], int]:
    """The comments between two lines: those that touch the lower one, those apart, and where the first begin."""
    groups: list[list[str]] = [[]]
    at = touching = start
    for line in text[start:end].splitlines(keepends=True):
        at += len(line)
        if line.strip():
            groups[-1].append(line.strip())
        else:
            groups.append([])
            touching = at
    above = () if last else tuple(groups.pop())
    return above, tuple(tuple(group) for group in groups if group), touching


def _spans(layout: Layout) -> Iterator[tuple[int, int, TextPath]]:
    """Each heading and pair with where it starts and where its value stops."""
    for path, span in layout.pairs.items():
        value = layout.place.value_span(path)
        several = value is not None and "\n" in layout.text[value.start : value.end]
        members = layout.place.members(path) if several else []  # which looks through the whole file
        if value is None or not members:
            yield span.start, span.end, path
            continue
        # an array over several lines: its bracket, its elements, and the bracket that ends it are lines of their own
        yield span.start, value.start + 1, path
        for number, member in enumerate(members):
            yield member.start, member.end, (*path, number)
        if layout.line(value.end) > layout.line(members[-1].end):
            yield value.end - 1, value.end, (*path, _CLOSED)
    for block in layout.blocks:
        found = _HEADING.match(layout.text, block.heading) if block.path else None
        if found is not None:
            yield block.heading, found.end(), block.path


def anchor(data: Any, path: TextPath) -> Anchor:
    """Name a place by ids in place of numbers."""
    found: list[str] = []
    node = data
    for part in path:
        if part == _CLOSED:
            return (*found, _CLOSED)
        node = node[part]
        if isinstance(part, int) and isinstance(node, dict):
            found.append(" ".join(str(node.get(key, "")) for key in _NAMES).strip())
        elif isinstance(part, int):
            found.append(f"[{node}]")
        else:
            found.append(str(part))
    return tuple(found)


def _identity(name: Anchor, names: Names) -> Anchor:
    """Name a charge by its place in the base, a new one by its own."""
    if len(name) < 4 or (name[0], name[2]) != ("phase", "charge"):
        return name
    known = names.get((name[1], name[3]))
    return name if known is None else (*charge_anchor(known), *name[4:])


def _above(text: str, line: CommentLine, sides: ThreeWay[CommentLine], newline: str) -> Iterator[Edit]:
    """Put the comment lines of ours above a line, with what theirs did to them."""
    before, after = sides.base.above, sides.theirs.above
    wanted = list(sides.ours.above)
    if before != after:
        wanted = _woven([item for item in wanted if item in after or item not in before], after, set(before))
    if wanted != list(line.above):
        indent = text[line.start : line.stop]
        indent = indent[: len(indent) - len(indent.lstrip(" \t"))]
        if text[line.start : line.stop].strip() == _CLOSED:
            indent += "  "  # as the elements before it
        yield line.above_at, line.start, "".join(f"{indent}{item}{newline}" for item in wanted)


def _set_apart(text: str, line: CommentLine, wanted: Sequence[tuple[str, ...]], newline: str) -> Iterator[Edit]:
    """Put the comments that stand apart before a line, each with a blank line behind it."""
    missing = [group for group in wanted if group not in line.apart]
    gone = [group for group in line.apart if group not in wanted]
    if not missing and not gone:
        return
    kept = list(_paragraphs(text[line.top : line.above_at], gone))
    gap = "".join(kept)
    at_end = line.start == len(text)
    if missing and gap.strip() and not gap.endswith((f"{newline}{newline}", "\n\n")):
        gap += newline
    fresh = "".join("".join(f"{item}{newline}" for item in group) + newline for group in missing)
    if at_end and missing:
        ended = "" if not text or text.endswith("\n") or gap else newline
        blank = "" if not text or gap.startswith(("\n", "\r")) or gap.strip() else newline
        gap, fresh = f"{ended}{blank}{gap}", fresh.removesuffix(newline)
    yield line.top, line.above_at, gap + fresh


def _paragraphs(gap: str, gone: Iterable[tuple[str, ...]]) -> Iterator[str]:
    """The lines of a gap without some groups of comments and the blank lines behind them."""
    lines = gap.splitlines(keepends=True)
    left = {tuple(group) for group in gone}
    at = 0
    while at < len(lines):
        end = at
        while end < len(lines) and lines[end].strip():
            end += 1
        if end > at and tuple(line.strip() for line in lines[at:end]) in left:
            at = end + (end < len(lines))
            continue
        end = max(end, at + 1)
        yield from lines[at:end]
        at = end


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


def _behind(line: CommentLine, sides: ThreeWay[CommentLine]) -> Iterator[Edit]:
    """Put the comment of ours behind a value, with what theirs did to it."""
    wanted = _merged(ThreeWay(*(_comment(side.tail) for side in (sides.ours, sides.base, sides.theirs))))
    here = _comment(line.tail)
    if wanted == here:
        return
    end = line.stop + len(line.tail)
    if here and wanted:
        yield end - len(here), end, wanted
        return
    like = sides.ours.tail if _comment(sides.ours.tail) else sides.theirs.tail
    before = like[: len(like) - len(_comment(like))]
    gap = before[len(before.rstrip()) :] or "  "
    own = line.tail[: len(line.tail) - len(here)].rstrip()  # a comma behind an element
    yield line.stop, end, f"{own}{gap}{wanted}" if wanted else own


def _merged(comments: ThreeWay[str]) -> str:
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
