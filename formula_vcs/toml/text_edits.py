"""Edit a TOML text so that it holds other data, and leave everything else in it as it is: comments, order, layout.

The two data are walked side by side.  A value is changed where it stands, a pair is written under its neighbours, and
a whole table or row comes with its comments, from the donor where that has it.  Every place of a pass is found in
one reading of the text; what one pass cannot do, because it needs the result of another, the next one does.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from formula_vcs.toml import layout
from formula_vcs.toml.edit import EditRefused, aligned, key_text, spelled
from formula_vcs.toml.facts_to_toml import CannotWrite
from formula_vcs.toml.layout import Block, Layout

if TYPE_CHECKING:
    from formula_vcs.toml.positions import TextPath, TextSpan

_MOST_PASSES: Final = 8


def with_data(text: str, data: dict[str, Any], donor: str | None = None, base: str | None = None) -> str:
    """Give the text edited so that it holds the data.

    ``donor`` is another version, from which what is not in the text is taken as it is written there.  A comment
    behind a changed value comes along where the donor changed it since ``base`` (the text itself where left out).
    Raises `CannotWrite`.
    """
    other = Layout(donor) if donor is not None else None
    before = Layout(base) if base is not None and base != text else None
    for _ in range(_MOST_PASSES):
        here = Layout(text)
        if same(here.data, data):
            return text
        text = _Pass(here, other, before).run(data)
    raise CannotWrite("this cannot be written here without changing something else; edit the file by hand")


def same(one: Any, other: Any) -> bool:
    """Say whether two TOML data are the same: 5 and 5.0 are, 1 and true are not."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(value, other[key]) for key, value in one.items())
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, Decimal) and isinstance(other, Decimal) and not (one.is_finite() and other.is_finite()):
        return str(one) == str(other)
    return bool(one == other)


class _Pass:
    """All edits of one reading of a text."""

    def __init__(self, here: Layout, donor: Layout | None, base: Layout | None) -> None:
        self.here = here
        self.donor = donor
        self.base = base
        self.splices: list[tuple[int, int, int, str]] = []
        self.headings: set[TextPath] = set()
        self.cut: list[tuple[int, int]] = []
        self.went: dict[str, list[TextPath]] = {}
        self.above: dict[str, list[str]] = {}  # of pairs that went: the comment lines that touched them
        self.waiting: list[tuple[TextPath, str, Any, TextPath | None]] = []

    def run(self, data: dict[str, Any]) -> str:
        """Give the edited text."""
        try:
            self.walk((), self.here.data, data, () if self.donor is not None else None)
            self.uncomment()
            for add in self.waiting:  # what went is known now, so a charge that moved takes its comment along
                self.add(*add)
        except EditRefused as error:
            raise CannotWrite(str(error)) from error
        return self.done()

    def splice(self, start: int, end: int, text: str) -> None:
        self.splices.append((start, end, len(self.splices), text))

    def done(self) -> str:
        parts: list[str] = []
        at = 0
        for start, end, _, text in sorted(self.splices):
            if start < at:
                raise CannotWrite("two edits meet in one place")
            parts += [self.here.text[at:start], text.replace("\r\n", "\n").replace("\n", self.here.newline)]
            at = end
        rest = self.here.text[at:]
        joined = "".join([*parts, rest])
        if not rest and self.splices:  # the last block went: no blank lines are left behind it
            joined = joined.rstrip("\r\n") + self.here.newline if joined.strip() else ""
        return joined

    # the walk

    def walk(self, path: TextPath, old: dict[str, Any], new: dict[str, Any], donor: TextPath | None) -> None:
        for key, value in old.items():
            if key not in new:
                self.remove((*path, key))
            elif not same(value, new[key]):
                self.change((*path, key), value, new[key], self.child(donor, key))
        fresh = [key for key in new if key not in old]
        for key in self.in_order_of(donor, fresh):
            self.waiting.append((path, key, new[key], donor))

    def child(self, donor: TextPath | None, key: str | int) -> TextPath | None:
        if donor is None or self.donor is None:
            return None
        node = self.donor.node(donor)
        there = key in node if isinstance(node, dict) else isinstance(node, list) and isinstance(key, int)
        return (*donor, key) if there else None

    def in_order_of(self, donor: TextPath | None, keys: list[str]) -> list[str]:
        node = None if donor is None or self.donor is None else self.donor.node(donor)
        order = {key: index for index, key in enumerate(node)} if isinstance(node, dict) else {}
        return sorted(keys, key=lambda key: order.get(key, len(order)))

    def change(self, path: TextPath, old: Any, new: Any, donor: TextPath | None) -> None:
        inline = self.here.place.value_span(path) is not None
        if isinstance(old, dict) and isinstance(new, dict) and old and new:
            if not inline or old.keys() == new.keys():
                self.walk(path, old, new, donor)
            else:
                self.set(path, new, donor, self.inline(path, old, new, donor))
        elif not inline and _rows(old) and _rows(new):
            self.arrange(path, old, new, donor)
        elif inline and isinstance(old, list) and isinstance(new, list) and not self.given(donor, new):
            self.set(path, new, donor, self.array(path, old, new, donor))
        elif inline:
            self.set(path, new, donor)
        else:
            self.remove(path)
            self.waiting.append((path[:-1], str(path[-1]), new, None if donor is None else donor[:-1]))

    # values

    def given(self, donor: TextPath | None, value: Any) -> bool:
        """Say whether the donor has the value as one: not as a table with a heading."""
        if donor is None or self.donor is None or not same(self.donor.node(donor), value):
            return False
        return self.donor.place.value_span(donor) is not None

    def raw(self, donor: TextPath | None, value: Any) -> str:
        if donor is not None and self.donor is not None and self.given(donor, value):
            span = self.donor.place.value_span(donor)
            if span is not None:
                return self.donor.text[span.start : span.end]
        return spelled(value)

    def set(self, path: TextPath, value: Any, donor: TextPath | None, text: str | None = None) -> None:
        span = self.here.place.value_span(path)
        if span is None:
            raise CannotWrite(f"'{'/'.join(map(str, path))}' is no value")
        new = self.raw(donor, value) if text is None else text
        if path in self.here.pairs and donor is not None and self.given(donor, value):
            tail = self.new_tail(path, donor)
            if tail is not None:
                self.splice(span.start, span.end + len(self.here.tail(span.end)), new + tail)
                return
        self.splice(span.start, span.end, new)

    def new_tail(self, path: TextPath, donor: TextPath) -> str | None:
        """Give the donor's comment behind a value, where it is another than it was."""
        if self.donor is None or donor not in self.donor.pairs:
            return None
        tail = self.donor.tail(self.donor.pairs[donor].end)
        if self.base is None:
            before = self.here.tail(self.here.pairs[path].end)
        else:
            pair = self.base.pairs.get(donor)
            before = "" if pair is None else self.base.tail(pair.end)
        return tail if tail.strip() != before.strip() else None

    def inline(self, path: TextPath, old: dict[str, Any], new: dict[str, Any], donor: TextPath | None) -> str:
        """Write an inline table with other keys; what stays keeps its spelling."""
        parts = []
        for key, value in new.items():
            span = self.here.place.value_span((*path, key))
            if span is not None and same(old.get(key), value):
                text = self.here.text[span.start : span.end]
            else:
                text = self.raw(self.child(donor, key), value)
            parts.append(f"{key_text(key)} = {text}")
        return f"{{ {', '.join(parts)} }}"

    def array(self, path: TextPath, old: list[Any], new: list[Any], donor: TextPath | None) -> str:
        """Write an array with other elements, one a line where it was so; what stays keeps its spelling and comment."""
        span = self.here.place.value_span(path)
        if span is None:
            raise CannotWrite(f"'{'/'.join(map(str, path))}' is no value")
        texts = [self.element(path, old, value, donor) for value in new]
        whole = self.here.text[span.start : span.end]
        if "\n" not in whole or not old:
            pad = " " if whole.startswith("[ ") and texts else ""
            return f"[{pad}{', '.join(text for text, _ in texts)}{pad}]"
        first = self.here.place.members(path)[0].start
        indent = self.here.text[self.here.line(first) : first]
        indent = indent if not indent.strip() else "  "
        lines = "".join(f"\n{indent}{text},{tail}" for text, tail in texts)
        closing = whole[whole.rfind("\n") + 1 : -1]  # an element may stand in the last line too
        return f"[{lines}\n{closing if not closing.strip() else ''}]"

    def element(self, path: TextPath, old: list[Any], value: Any, donor: TextPath | None) -> tuple[str, str]:
        """Give the text of an element, and the comment behind it."""
        there = None if donor is None or self.donor is None else self.donor.node(donor)
        places = [(self.here, path, old)]
        if self.donor is not None and donor is not None and isinstance(there, list):
            places.append((self.donor, donor, there))
        for owner, where, items in places:
            index = next((index for index, item in enumerate(items) if same(item, value)), None)
            span = None if index is None else owner.place.value_span((*where, index))
            if span is not None:
                tail = owner.tail(span.end)
                comment = tail.strip().removeprefix(",").strip()
                gap = tail[: len(tail) - len(tail.lstrip(", \t"))].replace(",", "") or " "
                return owner.text[span.start : span.end], f"{gap}{comment}" if comment.startswith("#") else ""
        return spelled(value), ""

    # what goes

    def remove(self, path: TextPath) -> None:
        blocks = self.here.inside(path)
        for block in blocks:
            self.cut_block(block.start, block.body)
        for pair, span in self.here.pairs.items():
            if pair[: len(path)] == path and not any(block.start <= span.start < block.end for block in blocks):
                self.went.setdefault(str(pair[-1]), []).append(pair)
                self.splice(self.here.line(span.start), self.here.line_end(span.end), "")
            elif pair[: len(path)] == path:
                self.went.setdefault(str(pair[-1]), []).append(pair)

    def uncomment(self) -> None:
        """Take away the comments above pairs that went: with a charge that moved they go along.

        Above one that is gone for good they stay, unless the donor took them away too.
        """
        moved = {key for _, key, _, _ in self.waiting}
        base = (self.base or self.here).text
        for key, paths in self.went.items():
            for path in paths:
                span = self.here.pairs.get(path)
                if span is None or any(start <= span.start < end for start, end in self.cut):
                    continue
                at = line = self.here.line(span.start)
                for comment in reversed(self.here.comments_above(line)):
                    words = comment.strip()
                    at = self.here.line(at - 1)
                    gone = self.donor is not None and words in base and words not in self.donor.text
                    if key in moved or gone:
                        self.splice(at, self.here.line_end(at), "")
                    if key in moved and not gone:
                        self.above.setdefault(key, []).insert(0, words)

    def cut_block(self, start: int, body: int) -> None:
        """Cut a block with the blank lines behind it; a comment behind those stays."""
        end = body
        while end < len(self.here.text) and not self.here.text[end : self.here.line_end(end)].strip():
            end = self.here.line_end(end)
        self.cut.append((start, end))
        self.splice(start, end, "")

    # what comes

    def add(self, table: TextPath, key: str, value: Any, donor: TextPath | None) -> None:
        path, source = (*table, key), self.child(donor, key)
        if not self.dotted(table) and isinstance(value, dict | list) and value:
            blocks = [] if self.donor is None or source is None else self.donor.inside(source)
            if isinstance(value, list) and _rows(value) and (blocks or not table):
                self.insert(path, self.row_texts(path, value, source), blocks)
                return
            if isinstance(value, dict) and blocks and self.donor is not None:
                self.insert(path, [self.donor.text[block.start : block.body] for block in blocks], blocks)
                return
            if isinstance(value, dict) and source is None and self.headable(path):
                self.insert(path, [layout.table(_names(path), value)], [])
                return
        self.add_pair(table, key, value, donor)

    def headable(self, path: TextPath) -> bool:
        return len(path) == 1 or (path[0] == "phase" and len(path) < 4)

    def dotted(self, table: TextPath) -> bool:
        """Say whether a table exists by dotted names or inside a value, so that it can have no heading."""
        found = [pair for pair in self.here.pairs if pair[: len(table)] == table and len(pair) > len(table)]
        if not table or not found or table in self.here.by_path:
            return False
        return any(len(self.here.block_at(self.here.pairs[pair].start).path) < len(table) for pair in found)

    def row_texts(self, path: TextPath, rows: list[Any], source: TextPath | None) -> list[str]:
        return [self.row_text(path, row, there) for row, there in zip(rows, self.sources(rows, source), strict=True)]

    def sources(self, rows: list[Any], source: TextPath | None) -> list[TextPath | None]:
        """Give where the donor has each of some rows."""
        there = None if source is None or self.donor is None else self.donor.node(source)
        if source is None or not isinstance(there, list) or not _rows(there):
            return [None] * len(rows)
        return [None if index is None else (*source, index) for index in matched(rows, there)]

    def row_text(self, path: TextPath, row: dict[str, Any], source: TextPath | None) -> str:
        if self.donor is not None and source is not None and self.donor.place.value_span(source) is None:
            start, body = self.donor.group(source)
            return self.donor.text[start:body]
        return layout.table(_names(path), row, row=True)

    def insert(self, path: TextPath, texts: list[str], blocks: list[Block]) -> None:
        """Put blocks behind the one that they follow in the donor, or behind their relatives, or at the end."""
        anchor = self.anchor(path, blocks)
        body = "\n".join(text if text.endswith("\n") else f"{text}\n" for text in texts)
        if anchor is None:
            first = self.here.blocks[1].start if len(self.here.blocks) > 1 else len(self.here.text)
            lead = "" if first == 0 or self.here.text[:first].endswith("\n\n") else "\n"
            self.splice(first, first, f"{lead}{body}" + "\n" * (first < len(self.here.text)))
        else:
            lead = "\n" if self.here.text[:anchor].endswith("\n") else "\n\n"
            self.splice(anchor, anchor, lead + body)

    def anchor(self, path: TextPath, blocks: list[Block]) -> int | None:
        """Give the offset behind a block; None for the place in front of all."""
        if self.donor is not None and blocks:
            order = self.donor.blocks
            for block in reversed(order[: order.index(blocks[0])]):
                there = self.translated(block.path)
                if block.path and there is not None and there in self.here.by_path:
                    return self.here.by_path[there].body
            return None
        relatives = [block for length in range(len(path) - 1, 0, -1) for block in self.here.inside(path[:length])[-1:]]
        return (relatives or self.here.blocks)[0 if relatives else -1].body if len(self.here.blocks) > 1 else None

    def translated(self, path: TextPath) -> TextPath | None:
        """Give the path here of a block of the donor: rows by what they are."""
        if self.donor is None:
            return None
        found: TextPath = ()
        old: Any = self.donor.data
        new: Any = self.here.data
        for part in path:
            if isinstance(part, int):
                index = matched([old[part]], new)[0] if _rows(new) else None
                if index is None:
                    return None
                found, old, new = (*found, index), old[part], new[index]
            elif isinstance(new, dict) and part in new:
                found, old, new = (*found, part), old[part], new[part]
            else:
                return None
        return found

    def add_pair(self, table: TextPath, key: str, value: Any, donor: TextPath | None) -> None:
        line, above = self.line_of(key, value, donor)
        siblings = {pair[-1]: span for pair, span in self.here.pairs.items() if pair[:-1] == table}
        block = self.here.by_path.get(table)
        if not siblings and block is None:
            self.with_heading(table, line, above, donor)
            return
        before, after = self.neighbours(key, donor, list(siblings))
        if before is None and after is not None and block is not None:
            offset, model = self.top(siblings[after])
        else:
            offset, model = self.spot(block, siblings, before)
        name = aligned(model, self.written(key, donor))
        if siblings and (block is None or self.prefix(table, siblings)):
            name = f"{self.prefix(table, siblings)}{self.written(key, donor)} "
        indent = name[: len(name) - len(name.lstrip())]
        text = "".join(f"{indent}{comment.strip()}\n" for comment in above) + f"{name}= {line}\n"
        lead = "" if offset == 0 or self.here.text[:offset].endswith("\n") else "\n"
        self.splice(offset, offset, lead + text)

    def written(self, key: str, donor: TextPath | None) -> str:
        """Write a name with the quotes that the donor gives it."""
        source = self.child(donor, key)
        if self.donor is not None and source is not None and source in self.donor.pairs:
            start = self.donor.pairs[source].start
            if self.donor.text.startswith((f'"{key}"', f"'{key}'"), start) and "\\" not in key:
                return self.donor.text[start : start + len(key) + 2]
        return key_text(key)

    def prefix(self, table: TextPath, siblings: dict[str | int, Any]) -> str:
        """Give the dotted beginning of the names of a table's pairs, as they are written."""
        last, span = list(siblings.items())[-1]
        spot = self.here.place.key((*table, last))
        if spot is None:
            return ""
        line = self.here.line(span.start)
        return self.here.text[span.start : line + spot[1] - 1]

    def spot(self, block: Block | None, siblings: dict[str | int, Any], neighbour: str | None) -> tuple[int, str]:
        """Give the offset of a new line, and the line whose layout it takes."""
        text = self.here.text
        if neighbour is not None:
            span = siblings[neighbour]
        elif siblings and neighbour is None:
            span = list(siblings.values())[-1]
        elif block is not None and block.path:
            end = self.here.line_end(block.heading)
            return end, ""
        else:
            return (block.body if block is not None else 0), ""
        return self.here.line_end(span.end), text[self.here.line(span.start) : span.end]

    def top(self, first: TextSpan) -> tuple[int, str]:
        """Give the offset above a pair and its comments, and the line whose layout a new one takes."""
        line = at = self.here.line(first.start)
        for _ in self.here.comments_above(line):
            at = self.here.line(at - 1)
        return at, self.here.text[line : first.end]

    def neighbours(self, key: str, donor: TextPath | None, siblings: list[str | int]) -> tuple[str | None, str | None]:
        """Name the pairs that the new one follows and precedes in the donor."""
        node = None if donor is None or self.donor is None else self.donor.node(donor)
        if not isinstance(node, dict) or key not in node:
            return None, None
        order = list(node)
        place = order.index(key)
        before = next((name for name in reversed(order[:place]) if name in siblings), None)
        return before, next((name for name in order[place + 1 :] if name in siblings), None)

    def line_of(self, key: str, value: Any, donor: TextPath | None) -> tuple[str, list[str]]:
        """Give a pair's value with the comment behind it, and the comments above: the donor's, or those it had here."""
        source = self.child(donor, key)
        above = list(self.above.get(key, []))
        there = self.donor.pairs.get(source) if self.donor is not None and source is not None else None
        if self.donor is not None and there is not None:
            others = [line.strip() for line in self.donor.comments_above(there.start)]
            fresh = [line for line in others if line in above or line not in self.here.text]
            above = fresh + [line for line in above if line not in fresh and line not in (self.base or self.here).text]
            if self.given(source, value):
                return self.raw(source, value) + self.donor.tail(there.end), above
        for path in self.went.get(key, ()):
            old = self.here.place.value_span(path)
            if old is not None and same(self.here.node(path), value):
                return self.here.text[old.start : old.end] + self.here.tail(old.end), above
        return self.raw(source, value), above

    def with_heading(self, table: TextPath, line: str, above: list[str], donor: TextPath | None) -> None:
        """Give a table a heading of its own for its first pair; more of them are for the next pass."""
        if table in self.headings:
            return
        self.headings.add(table)
        inner = self.here.inside(table)
        if not inner or any(isinstance(part, int) for part in table):
            raise CannotWrite(f"'{'/'.join(map(str, table))}' cannot be added to")
        del line, above
        if self.donor is not None and donor is not None and donor in self.donor.by_path:
            block = self.donor.by_path[donor]
            text = self.donor.text[block.start : block.body]
        else:
            text = f"{layout.heading(_names(table))}\n"
        self.splice(inner[0].start, inner[0].start, text if text.endswith("\n\n") else f"{text}\n")

    # rows

    def arrange(self, path: TextPath, old: list[Any], new: list[Any], donor: TextPath | None) -> None:
        """Change rows where they stand; once their contents are right, put them in order, take away and add."""
        pairs = matched(new, old)
        source = self.sources(new, donor)
        changed = [(n, o) for n, o in enumerate(pairs) if o is not None and not same(old[o], new[n])]
        for n, o in changed:
            self.walk((*path, o), old[o], new[n], source[n])
        if changed:
            return
        groups = [self.here.group((*path, index)) for index in range(len(old))]
        kept = [o for o in pairs if o is not None]
        slots = sorted(kept)
        for slot, row in zip(slots, kept, strict=True):
            if slot != row:
                start, body = groups[row]
                self.splice(*groups[slot], _ended(self.here.text[start:body]))
        for index, (start, body) in enumerate(groups):
            if index not in kept:
                self.cut_block(start, body)
        self.new_rows(path, new, pairs, groups, source)

    def new_rows(
        self,
        path: TextPath,
        new: list[Any],
        pairs: list[int | None],
        groups: list[tuple[int, int]],
        source: list[TextPath | None],
    ) -> None:
        """Put rows that come behind the place of the row that they follow."""
        slots = sorted(o for o in pairs if o is not None)
        before = 0
        for row, o, there in zip(new, pairs, source, strict=True):
            if o is not None:
                before += 1
            elif before == 0:
                self.splice(groups[0][0], groups[0][0], f"{_ended(self.row_text(path, row, there))}\n")
            else:
                end = groups[slots[before - 1]][1]
                self.splice(end, end, f"\n{_ended(self.row_text(path, row, there))}")


def _ended(text: str) -> str:
    return text if text.endswith("\n") else f"{text}\n"


def _names(path: TextPath) -> tuple[str, ...]:
    return tuple(part for part in path if isinstance(part, str))


def _rows(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(row, dict) for row in value)


def matched(new: list[Any], old: list[Any]) -> list[int | None]:
    """Say of each new row which old one it is: the same one, else the one of its id, else the one most like it."""
    found: list[int | None] = []
    left = list(range(len(old)))
    for row in new:
        found.append(next((o for o in left if same(old[o], row)), None))
        left = [o for o in left if o != found[-1]]
    by_id = any("id" in row for row in (*new, *old))
    for n, row in enumerate(new):
        if found[n] is None and left:
            found[n] = _of_id(row, old, left) if by_id else _most_like(row, old, left)
            left = [o for o in left if o != found[n]]
    return found


def _of_id(row: dict[str, Any], old: list[Any], left: list[int]) -> int | None:
    return next((o for o in left if "id" in row and same(old[o].get("id"), row["id"])), None)


def _most_like(row: dict[str, Any], old: list[Any], left: list[int]) -> int | None:
    likeness = {o: sum(key in old[o] and same(old[o][key], value) for key, value in row.items()) for o in left}
    best = max(left, key=lambda o: likeness[o])
    return best if likeness[best] else None
