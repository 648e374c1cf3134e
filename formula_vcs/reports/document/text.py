"""Blocks for a terminal: 80 columns, nothing said by colour alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import TextIO

from formula_vcs.model.values import replace
from formula_vcs.reports.document import blocks
from formula_vcs.reports.document.blocks import Block, Document, Words, plain, spans
from formula_vcs.reports.terminal import WIDTH, Ink, at_point, columns, cut, folded, left, right
from formula_vcs.words.escape import terminal


def write(document: Document, out: TextIO) -> None:
    """Write a report."""
    write_blocks(Ink(out), document.blocks)


def write_blocks(ink: Ink, found: Iterable[Block], indent: int = 0) -> None:
    """Write blocks, ``indent`` columns further in than they say."""
    for block in found:
        _block(ink, block, indent)


def _block(ink: Ink, block: Block, indent: int) -> None:  # noqa: C901, PLR0912  a line a kind
    match block:
        case blocks.Gap():
            ink.line()
        case blocks.Heading():
            _heading(ink, block, indent)
        case blocks.Paragraph():
            _paragraph(ink, block, indent)
        case blocks.Items():
            _items(ink, block, indent)
        case blocks.TableBlock():
            _table(ink, block, indent)
        case blocks.KeyValues():
            _key_values(ink, block, indent)
        case blocks.FindingLine():
            _finding(ink, block, indent)
        case blocks.ChangedLines():
            _changed(ink, block, indent)
        case blocks.Fold(brief=True):
            _paragraph(ink, blocks.Paragraph(block.words, "", block.indent, block.hang), indent)
        case blocks.Fold() | blocks.Picture() | blocks.Verdict():
            write_blocks(ink, block.blocks, indent)
        case blocks.Lines():
            for line in block.lines:
                # not folded: it is there to be copied
                ink.line(f"{' ' * (indent + block.indent)}{terminal(line)}")
        case blocks.OnTerminal():
            block.draw(ink)


def wrapped(ink: Ink, words: Words, first: str = "", rest: str | None = None, look: str = "") -> None:
    """Write words folded to 80 columns, each part as it looks; ``look`` is that of all of them."""
    parts = spans(words)
    looks = {_look(part) for part in parts}
    if len(looks) <= 1 or look:
        ink.wrapped(plain(words), first, rest, look or next(iter(looks), ""))
        return
    hanging = " " * columns(first) if rest is None else rest
    texts = [(terminal(part.text), _look(part)) for part in parts]
    whole = "".join(text for text, _ in texts)
    each = [style for text, style in texts for letter in text if not letter.isspace()]
    for number, line in enumerate(folded(whole, WIDTH - columns(first), WIDTH - columns(hanging))):
        seen = sum(not letter.isspace() for letter in line)
        ink.line(f"{hanging if number else first}{_painted(ink, line, each[:seen])}")
        del each[:seen]


def _look(part: blocks.Span | blocks.PageLink) -> str:
    return part.look if isinstance(part, blocks.Span) and part.look != "code" else ""


def _painted(ink: Ink, line: str, looks: Sequence[str]) -> str:
    """Paint the letters of a line, each in its look; a blank is painted as the letter before it."""
    styles, seen = [], -1
    for letter in line:
        seen += not letter.isspace()
        styles.append(looks[max(seen, 0)])
    runs = groupby(zip(line, styles, strict=True), key=lambda pair: pair[1])
    return "".join(ink.paint("".join(letter for letter, _ in run), style) for style, run in runs)


def _heading(ink: Ink, block: blocks.Heading, indent: int) -> None:
    if not plain(block.words):
        return
    if not block.name:
        look = "strong" if isinstance(block.words, str) else ""
        lead = " " * (indent + block.indent)
        wrapped(ink, block.words, lead, lead + " " * block.hang, look)
        return
    name = terminal(block.name)
    words = cut(terminal(plain(block.words)), WIDTH - columns(name) - 2)
    if block.name_at == "right":
        ink.line(f"{left(ink.paint(words, 'strong'), WIDTH - columns(name))}{name}")
    else:
        ink.line(f"{ink.paint(name, 'strong')}  {words}")


def _paragraph(ink: Ink, block: blocks.Paragraph, indent: int) -> None:
    lead = " " * (indent + block.indent)
    wrapped(ink, block.words, lead, lead + " " * block.hang, "" if block.look == "code" else block.look)


def _items(ink: Ink, block: blocks.Items, indent: int) -> None:
    lead = " " * (indent + block.indent)
    for number, entry in enumerate(block.entries, 1):
        mark = f"{number}. " if block.numbered else block.mark
        wrapped(ink, entry.words, f"{lead}{mark}{entry.mark}", lead + " " * block.hang, entry.look)
        write_blocks(ink, entry.below, indent)


def _key_values(ink: Ink, block: blocks.KeyValues, indent: int) -> None:
    lead = " " * (indent + block.indent)
    names = [terminal(plain(name)) for name, _ in block.pairs]
    width = min(max(map(columns, names), default=0), block.most)
    for number, ((name, words), shown) in enumerate(zip(block.pairs, names, strict=True), 1):
        if block.aligned:
            first = f"{lead}{f'{number:>2} ' if block.numbered else ''}{left(shown, width)}  "
            longest = max(map(columns, terminal(plain(words)).split()), default=0)
            if columns(first) + longest <= WIDTH:
                wrapped(ink, words, first)
            else:  # a checksum, an address: it stands below its name
                ink.line(first.rstrip())
                wrapped(ink, words, f"{lead}    ")
        else:
            wrapped(ink, (*spans(name), ": ", *spans(words)), lead, lead + " " * block.hang)


def _finding(ink: Ink, block: blocks.FindingLine, indent: int) -> None:
    found, lead = block.finding, " " * (indent + block.indent)
    severity = f"{ink.paint(found.severity, found.severity)} [{found.rule}]"
    if block.first == "place":
        ink.line(f"{lead}{terminal(block.place)}: {severity}")
    else:
        owner = f"{terminal(found.recipe or '')}: " if block.first == "recipe" else ""
        ink.line(f"{lead}{owner}{severity} {terminal(block.place)}")
    ink.wrapped(block.message, f"{lead}    ")
    if found.mend is not None:
        ink.wrapped(found.mend.said, f"{lead}    ")
    write_blocks(ink, block.below, indent + block.indent)


def _changed(ink: Ink, block: blocks.ChangedLines, indent: int) -> None:
    lead = " " * (indent + block.indent)
    for row in block.rows:
        sign = "follows:" if row.follows else ink.paint(row.sign, row.look)
        wrapped(ink, row.words, f"{lead}{sign} ", lead + " " * (4 if row.follows else 2))
        for more in row.more:
            ink.wrapped(more, f"{lead}    ", f"{lead}      ")


def _table(ink: Ink, block: blocks.TableBlock, indent: int) -> None:
    lead = " " * (indent + block.indent)
    if not block.rows:
        if block.empty:
            wrapped(ink, block.empty, lead)
        return
    if _too_wide(block, (ink.width if block.wide else WIDTH) - len(lead)):
        _entries(ink, block, lead)
        return
    texts = [_cells(column, block, number) for number, column in enumerate(block.columns)]
    for number, column in enumerate(block.columns):
        if column.flexible:
            others = [
                len(lead),
                *(columns(cells[0]) + 2 for at, cells in enumerate(texts) if at != number and cells[0]),
            ]
            room = max((ink.width if block.wide else WIDTH) - sum(others), 10)
            texts[number] = _cells(replace(column, most=min(room, column.most or room)), block, number)
    used = [number for number, column in enumerate(texts) if any(column) or _kept(block.columns[number])]
    if block.heads:
        heads = [_head(block.columns[number], max(map(columns, texts[number]))) for number in used]
        line = "".join(
            f"{block.columns[number].lead if at else ''}{head}"
            for at, (number, head) in enumerate(zip(used, heads, strict=True))
        )
        ink.line(f"{lead}{ink.paint(line.rstrip(), block.heads_look)}")
    for position, row in enumerate(block.rows):
        if row.above:
            ink.line(f"{lead}{ink.paint(f'-- {terminal(row.above)} --', 'dim')}")
        _row(ink, block, row, [(number, texts[number][position]) for number in used], lead)
        write_blocks(ink, row.below, indent)


def _too_wide(block: blocks.TableBlock, room: int) -> bool:
    """Say whether a table of which no column may be cut or folded does not fit."""
    if not block.heads or any(column.most or column.flexible or column.ragged for column in block.columns):
        return False
    widths = (
        max(columns(terminal(text)) for text in (column.head, *(plain(row.cells[number]) for row in block.rows)))
        for number, column in enumerate(block.columns)
    )
    return sum(widths) + 2 * (len(block.columns) - 1) > room


def _entries(ink: Ink, block: blocks.TableBlock, lead: str) -> None:
    """Write the rows of a table below each other: the first cell, then each other one after its head."""
    for row in block.rows:
        if row.above:
            ink.line(f"{lead}{ink.paint(f'-- {terminal(row.above)} --', 'dim')}")
        name, *others = row.cells
        wrapped(ink, name, lead, f"{lead}  ", "strong")
        said = [
            f"{column.head}: {plain(cell)}"
            for column, cell in zip(block.columns[1:], others, strict=True)
            if plain(cell)
        ]
        ink.wrapped("; ".join(said), f"{lead}    ")
        write_blocks(ink, row.below, len(lead))


def _kept(column: blocks.Column) -> bool:
    return column.flexible or column.least > 0


def _row(ink: Ink, block: blocks.TableBlock, row: blocks.Row, cells: Sequence[tuple[int, str]], lead: str) -> None:
    line = lead
    room = ink.width if block.wide else WIDTH
    for at, (number, text) in enumerate(cells):
        column = block.columns[number]
        if column.ragged and not text.strip():
            continue
        gap = column.lead if at else ""
        if number == len(block.columns) - 1 and not column.ragged and column.align == "left":
            if block.wrap:
                ink.wrapped(text.rstrip(), f"{line}{gap}{' ' * row.indent}", style=row.look or column.look)
                return
            line += gap + _cell(ink, block, row, number, cut(text.rstrip(), room - columns(line) - columns(gap)))
        else:
            line += gap + _cell(ink, block, row, number, text)
    ink.line(line.rstrip())


def _cell(ink: Ink, block: blocks.TableBlock, row: blocks.Row, number: int, text: str) -> str:
    own = next((_look(part) for part in spans(row.cells[number])), "")
    return ink.paint(text, row.look or block.columns[number].look or own)


def _cells(column: blocks.Column, block: blocks.TableBlock, number: int) -> list[str]:
    """Lay out a column: each cell filled up to the width of all of them, but ragged ones."""
    texts = [terminal(plain(row.cells[number])) for row in block.rows]
    if column.most and not column.whole:
        texts = [cut(text, column.most) for text in texts]
    if column.align == "point":
        parts = [text.partition(" ") for text in texts]
        numbers = at_point([number for number, _, _ in parts])
        pairs = zip(numbers, parts, strict=True)
        texts = [f"{aligned}{blank}{rest}" if part else "" for aligned, (part, blank, rest) in pairs]
    if column.ragged or not (any(texts) or column.least):
        return texts
    heads = columns(terminal(column.head)) if block.heads else 0
    width = max(column.least, heads, *map(columns, texts))
    width = min(width, column.most) if column.whole else width
    return [(right if column.align == "right" else left)(text, width) for text in texts]


def _head(column: blocks.Column, width: int) -> str:
    return (left if column.align == "left" else right)(terminal(column.head), width)
