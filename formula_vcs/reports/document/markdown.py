"""Blocks as markdown, harmless for the hosts that show it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Final, TextIO

from formula_vcs.reports.document import blocks
from formula_vcs.reports.document.blocks import Block, Document, Words, plain, spans
from formula_vcs.words import escape
from formula_vcs.words.escape import terminal

DEEPER: Final = "\u21b3"  # before a cell that stands further in on a terminal


def write(document: Document, out: TextIO) -> None:
    """Write a report."""
    out.write(rendered(document.blocks))


def rendered(found: Iterable[Block]) -> str:
    """Give blocks as markdown that ends with an empty line, or nothing."""
    return "".join(
        _list(list(run)) if listed else "".join(map(_block, run)) for listed, run in groupby(found, _is_finding)
    )


def _is_finding(block: Block) -> bool:
    return isinstance(block, blocks.FindingLine)


def _list(found: Sequence[Block]) -> str:
    """Write findings that stand one behind the other as one list."""
    lines = "".join(_finding(block) for block in found if isinstance(block, blocks.FindingLine))
    return lines if lines.endswith("\n\n") else f"{lines}\n"


def inline(words: Words) -> str:
    """Give words within a line."""
    return "".join(map(_part, spans(words)))


def _part(part: blocks.Span | blocks.PageLink) -> str:
    text = escape.markdown(part.text)
    look = part.look if isinstance(part, blocks.Span) else ""
    if not text.strip():
        return text
    if look == "code":
        # a code span knows no escapes: in an element they hold
        return f"<code>{text}</code>"
    return f"**{text}**" if look in ("strong", "block") else text


def _block(block: Block) -> str:  # noqa: C901, PLR0911, PLR0912  a line a kind
    match block:
        case blocks.Gap():
            return ""
        case blocks.Heading():
            name = f"({escape.markdown(block.name)})" if block.name else ""
            parts = (escape.markdown(block.kind), inline(_unmarked(block.words)), name)
            return f"{'#' * (block.level + 1)} {' '.join(filter(None, parts))}\n\n"
        case blocks.Paragraph():
            return f"{_styled(block.words, block.look)}\n\n"
        case blocks.Items():
            return f"{_items(block, '')}\n" if block.entries else ""
        case blocks.TableBlock():
            return _table(block)
        case blocks.KeyValues():
            rows = tuple(blocks.Row(pair) for pair in blocks.numbered_pairs(block))
            return _table(blocks.TableBlock((blocks.Column(), blocks.Column()), rows, block.caption))
        case blocks.FindingLine():
            return f"{_finding(block)}\n"
        case blocks.ChangedLines():
            return f"{''.join(map(_changed, block.rows))}\n"
        case blocks.Fold() if not block.blocks:
            return f"{inline(block.words)}\n\n"
        case blocks.Fold():
            opened = " open" if block.open else ""
            summary = f"<summary>{escape.summary(plain(block.words))}</summary>"
            return f"<details{opened}>\n{summary}\n\n{rendered(block.blocks)}</details>\n\n"
        case blocks.Picture() | blocks.Verdict() | blocks.OnTerminal():
            return rendered(block.blocks)
        case blocks.Lines() if block.language and not any("```" in line for line in block.lines):
            lines = "".join(f"{terminal(line)}\n" for line in block.lines)
            return f"```{block.language}\n{lines}```\n\n"
        case blocks.Lines():
            # an indented block: nothing in it is markdown
            return "".join(f"    {terminal(line)}\n" for line in block.lines) + "\n"


def _unmarked(words: Words) -> Words:
    """A heading is emphasised as it is."""
    return tuple(
        blocks.Span(part.text) if isinstance(part, blocks.Span) and part.look == "strong" else part
        for part in spans(words)
    )


def _styled(words: Words, look: str) -> str:
    text = inline(words)
    return f"**{text}**" if look in ("strong", "block") and isinstance(words, str) and text else text


def _items(block: blocks.Items, lead: str) -> str:
    lines = []
    for number, entry in enumerate(block.entries, 1):
        mark = f"{number}." if block.numbered else "-"
        sign = f"{escape.markdown(entry.mark.strip())} " if entry.mark.strip() else ""
        lines.append(f"{lead}{mark} {sign}{_styled(entry.words, entry.look)}\n")
        # what belongs to an entry stands below its first word
        lines += [_below(below, lead + " " * (len(mark) + 1)) for below in entry.below]
    return "".join(lines)


def _below(block: Block, lead: str) -> str:
    """Write what stands below an entry of a list, as entries of a list in it."""
    match block:
        case blocks.Items():
            return _items(block, lead)
        case blocks.Paragraph():
            return f"{lead}- {_styled(block.words, block.look)}\n"
        case blocks.FindingLine():
            return f"{lead}{_finding(block, lead)}"
        case blocks.OnTerminal():
            return "".join(_below(one, lead) for one in block.blocks)
        case _:
            # a block of its own begins behind an empty line: without one its lines would go on with the entry's
            return "\n" + "".join(f"{lead}{line}\n" if line else "\n" for line in _block(block).splitlines())


def _finding(block: blocks.FindingLine, lead: str = "") -> str:
    below = "".join(_below(one, f"{lead}  ") for one in block.below)
    found = block.finding
    severity = f"**{found.severity}**" if found.severity == "block" else found.severity
    owner = f"{escape.markdown(found.recipe or '')}: " if block.first == "recipe" else ""
    where = f"{severity} {escape.markdown(block.place)} \\[{escape.markdown(found.rule)}\\]"
    mend = "" if found.mend is None else f"; {escape.markdown(found.mend.said)}"
    return f"- {owner}{where} {escape.markdown(block.message)}{mend}\n{below}"


def _changed(row: blocks.ChangedLine) -> str:
    sign = "follows:" if row.follows else escape.markdown(row.sign)
    more = "".join(f"  - {escape.markdown(words)}\n" for words in row.more)
    return f"- {sign} {inline(row.words)}\n{more}"


def _table(block: blocks.TableBlock) -> str:
    if not block.rows:
        return f"{escape.markdown(block.empty)}\n\n" if block.empty else ""
    used = [n for n in range(len(block.columns)) if any(plain(row.cells[n]) for row in block.rows)]
    heads = [escape.markdown(block.columns[n].head) for n in used]
    marks = [" --- " if block.columns[n].align == "left" else " ---: " for n in used]
    below = any(row.below for row in block.rows)
    if below:
        heads, marks = [*heads, escape.markdown(block.below)], [*marks, " --- "]
    lines = [_line(heads), f"|{'|'.join(marks)}|\n"]
    for row in block.rows:
        if row.above:
            lines.append(_line([f"*{escape.markdown(row.above)}*", *[""] * (len(heads) - 1)]))
        cells = [_styled(row.cells[n], row.look or block.columns[n].look) for n in used]
        if row.indent:
            cells[-1] = f"{DEEPER} {cells[-1]}"
        lines.append(_line([*cells, *(["; ".join(inline(one.words) for one in row.below)] if below else [])]))
    return "".join(lines) + "\n"


def _line(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cell.strip() for cell in cells)} |\n"
