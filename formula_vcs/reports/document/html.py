"""Blocks as HTML: one page with its style inside, no script."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, groupby, pairwise
from typing import Final, TextIO

from formula_vcs.reports.document import blocks
from formula_vcs.reports.document.blocks import Block, Document, Words, plain, spans
from formula_vcs.reports.document.markdown import DEEPER
from formula_vcs.reports.document.markup import NEW_LINE, NOTHING, Markup, element, joined
from formula_vcs.reports.page import shell

# how bad a finding is, as the style calls it
STATES: Final = {"block": "bad", "warn": "warn", "note": "note"}
_CSS: Final = {"dim": "muted", "more": "more", "less": "less"}


def write(document: Document, out: TextIO) -> None:
    """Write a report as a whole page."""
    out.write(page(document))


def page(document: Document, *, above: Markup = NOTHING, more_style: str = "") -> str:
    """Give a report as a whole page: its first heading is the page's, each of level 2 opens a sheet.

    ``above`` stands before all of it, a picture perhaps; ``more_style`` is CSS.
    """
    found = list(document.blocks)
    first = next((n for n, block in enumerate(found) if isinstance(block, blocks.Heading)), None)
    head = NOTHING
    if first is not None:
        head = element("header", rendered(found[: first + 1]))
        found = found[first + 1 :]
    skip = element("a", "To the content", css="skip", href="#content")
    foot = element("p", document.foot, css="small muted foot") if document.foot else NOTHING
    main = element("main", joined(_sheets(found)), foot, id="content")
    whole = joined(filter(None, (skip, above, head, main)), NEW_LINE)
    return shell.document(document.title, whole, more_style=more_style, pictures=bool(above))


def _sheets(found: Sequence[Block]) -> Iterator[Markup]:
    """Put each part on a sheet that its heading names; what stands before the first part stands by itself."""
    starts = [n for n, block in enumerate(found) if isinstance(block, blocks.Heading) and block.level == 2]
    yield rendered(found[: starts[0] if starts else None])
    for number, (start, end) in enumerate(pairwise((*starts, len(found))), 1):
        head = found[start]
        if isinstance(head, blocks.Heading):
            name = head.id or f"s{number}"
            body = joined((_heading(head, name), rendered(found[start + 1 : end])))
            yield element("section", body, NEW_LINE, css="sheet", aria_labelledby=name)


def rendered(found: Iterable[Block]) -> Markup:
    """Give blocks as HTML."""
    runs = (
        [element("ul", joined(map(_finding, _findings(run)), NEW_LINE), css="findings")] if listed else map(_block, run)
        for listed, run in groupby(found, lambda block: isinstance(block, blocks.FindingLine))
    )
    return joined(filter(None, chain.from_iterable(runs)), NEW_LINE)


def _findings(found: Iterable[Block]) -> Iterator[blocks.FindingLine]:
    return (block for block in found if isinstance(block, blocks.FindingLine))


def inline(words: Words) -> Markup:
    """Give words within a line."""
    return joined(map(_part, spans(words)))


def _part(part: blocks.Span | blocks.PageLink) -> str:
    if isinstance(part, blocks.PageLink):
        return element("a", part.text, href=f"#{part.to}")
    match part.look:
        case "":
            return part.text
        case "strong":
            return element("strong", part.text)
        case "code":
            return element("span", part.text, css="id")
        case "block" | "warn" | "note":
            return element("span", part.text, css=f"tag {STATES[part.look]}")
        case _:
            return element("span", part.text, css=_CSS[part.look])


def _block(block: Block) -> Markup:  # noqa: C901, PLR0911, PLR0912  a line a kind
    match block:
        case blocks.Gap():
            return NOTHING
        case blocks.Heading():
            return _heading(block, block.id)
        case blocks.Paragraph():
            return _paragraph(block)
        case blocks.Items():
            return _items(block)
        case blocks.TableBlock():
            return _table(block)
        case blocks.KeyValues():
            pairs = (
                joined((element("dt", inline(name)), element("dd", inline(words))))
                for name, words in blocks.numbered_pairs(block)
            )
            return element("dl", joined(pairs), css="facts") if block.pairs else NOTHING
        case blocks.FindingLine():
            return element("ul", _finding(block), css="findings")
        case blocks.ChangedLines():
            return element("ul", joined(map(_changed, block.rows)), css="changes") if block.rows else NOTHING
        case blocks.Fold() if not block.blocks:
            return element("p", inline(block.words))
        case blocks.Fold():
            summary = element("summary", inline(block.words), css="brief" if block.brief else "")
            return element("details", summary, rendered(block.blocks), open=block.open)
        case blocks.Picture():
            words = element("div", rendered(block.blocks), css="seen-by-readers") if block.blocks else NOTHING
            return joined((block.svg, words))
        case blocks.Verdict():
            return element("div", rendered(block.blocks), css=f"verdict {block.state}".rstrip())
        case blocks.Lines():
            return element("pre", joined(block.lines, NEW_LINE))
        case blocks.OnTerminal():
            return rendered(block.blocks)


def _heading(block: blocks.Heading, name: str) -> Markup:
    about = [" ", element("span", block.name, css="muted small id")] if block.name else []
    kind = element("span", block.kind, css="kind") if block.kind else NOTHING
    kind = joined((kind, " ")) if kind and plain(block.words) else kind
    return element(f"h{block.level}", kind, inline(block.words), *about, **({"id": name} if name else {}))


def _paragraph(block: blocks.Paragraph) -> Markup:
    words = inline(block.words)
    match block.look:
        case "strong":
            return element("p", element("strong", words))
        case "block" | "warn" | "note":
            return element("p", words, css=STATES[block.look])
        case _:
            return element("p", words, css={"code": "id", **_CSS}.get(block.look, ""))


def _items(block: blocks.Items) -> Markup:
    entries = (
        element("li", entry.mark.lstrip(), _looking(entry.words, entry.look), rendered(entry.below))
        for entry in block.entries
    )
    return element("ol" if block.numbered else "ul", joined(entries)) if block.entries else NOTHING


def _looking(words: Words, look: blocks.Look) -> Markup:
    if look in ("block", "warn", "note"):
        return element("span", inline(words), css=STATES[look])
    return joined([_part(blocks.Span(words, look)) if isinstance(words, str) else inline(words)])


def _finding(block: blocks.FindingLine) -> Markup:
    found = block.finding
    where = joined((element("span", found.rule, css="id"), ", ", element("span", block.place, css="id")))
    owner = f" {found.recipe or ''}:" if block.first == "recipe" else ""
    mend = joined((element("br"), element("span", found.mend.said, css="small"))) if found.mend else NOTHING
    tag = element("span", found.severity, css=f"tag {STATES[found.severity]}")
    return element(
        "li", tag, owner, " ", block.message, mend, element("br"),
        element("span", where, css="small muted"), rendered(block.below),
    )  # fmt: skip


def _changed(row: blocks.ChangedLine) -> Markup:
    sign = element("span", "follows:" if row.follows else row.sign, css="muted" if row.follows else "sign")
    more = element("ul", joined(element("li", words) for words in row.more), css="muted") if row.more else NOTHING
    name = joined((" ", element("span", row.name, css="small muted id"))) if row.name else NOTHING
    return element("li", sign, " ", inline(row.words), name, more)


def _table(block: blocks.TableBlock) -> Markup:
    """Make a table whose first cell in a row is the head of it, in a region that scrolls by itself."""
    if not block.rows:
        return element("p", block.empty) if block.empty else NOTHING
    used = [n for n in range(len(block.columns)) if any(plain(row.cells[n]) for row in block.rows)]
    css = {n: "n" if block.columns[n].align != "left" else "" for n in used}
    heads = [element("th", block.columns[n].head, css=css[n], scope="col") for n in used]
    below = any(row.below for row in block.rows)
    if below:
        heads.append(element("th", block.below, scope="col"))
    body: list[Markup] = []
    for row in block.rows:
        if row.above:
            body.append(element("tr", element("th", row.above, scope="colgroup", colspan=len(heads), css="above")))
        first, *rest = used
        cells = [element("th", _cell(block, row, first), css=css[first], scope="row")]
        cells += [element("td", _cell(block, row, n), css=css[n]) for n in rest]
        if row.indent:
            cells[-1] = element("td", f"{DEEPER} ", _cell(block, row, used[-1]))
        if below:
            cells.append(element("td", joined(element("div", inline(one.words)) for one in row.below)))
        body.append(element("tr", *cells))
    table = element(
        "table", element("caption", block.caption, css="seen-by-readers"), element("thead", element("tr", *heads)),
        element("tbody", *body),
    )  # fmt: skip
    return element("div", table, css="wide", tabindex=0, role="region", aria_label=block.caption)


def _cell(block: blocks.TableBlock, row: blocks.Row, number: int) -> Markup:
    return _looking(row.cells[number], row.look or block.columns[number].look)
