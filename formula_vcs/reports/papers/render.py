"""Documents as HTML, PDF and DOCX: each page with recipe, version and number, and the mark that it needs."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable
from typing import Final

from formula_vcs.errors import UserError
from formula_vcs.reports.document import html
from formula_vcs.reports.document.blocks import Block, Document, Items, TableBlock
from formula_vcs.reports.document.markup import NOTHING, Markup, element
from formula_vcs.reports.page.paper import head_and_foot
from formula_vcs.reports.papers.letterhead import Logo
from formula_vcs.reports.papers.paper import Paper

# What is laid out: rows and entries; a few seconds of work.  Beyond, html and markdown have all of it.
_MOST: Final = 1_000


def page(paper: Paper, document: Document) -> str:
    """Give a document as one page of HTML."""
    house = paper.letterhead
    left = f"{document.title} ({paper.recipe.id})"
    foot = ", ".join(
        filter(None, (house.foot, f"commit {(paper.version.commit or 'none')[:12]}", f"as of {paper.day}"))
    )
    style = head_and_foot(0, left, paper.named, paper.mark, foot)
    if house.accent:
        # six hexadecimal digits and nothing else: `letterhead_file` holds it to that
        style += (
            f".part, h1, h2 {{ border-color: {house.accent}; }}\nh1 {{ border-bottom: .2rem solid {house.accent}; }}\n"
        )
    above = NOTHING if house.logo is None else _logo(house.logo)
    return html.page(document, above=above, more_style=style)


def _logo(logo: Logo) -> Markup:
    source = f"data:image/{logo.kind};base64,{b64encode(logo.data).decode('ascii')}"
    high = 64
    return element(
        "img", css="logo", src=source, alt="logo", height=high, width=max(1, logo.width * high // logo.height)
    )


def pdf(paper: Paper, document: Document) -> bytes:
    """Give a document as PDF.

    :raises UserError: what makes it is not installed.
    """
    from formula_vcs.reports.page.on_paper import laid_out

    _not_too_long(document, "PDF")
    return laid_out(page(paper, document))


def docx(paper: Paper, document: Document) -> bytes:
    """Give a document as DOCX.

    :raises UserError: what makes it is not installed.
    """
    from formula_vcs.reports.document import docx as writer

    _not_too_long(document, "DOCX")
    house = paper.letterhead
    texts = writer.PageTexts(
        head=f"{document.title} ({paper.recipe.id}), {paper.named}", mark=paper.mark, foot=house.foot,
        picture=None if house.logo is None else house.logo.data, accent=house.accent, day=paper.day,
    )  # fmt: skip
    return writer.written(document, texts)


def _not_too_long(document: Document, form: str) -> None:
    rows = sum(_rows(document.blocks))
    if rows > _MOST:
        raise UserError(f"{rows:,} rows take too long as a {form}; write html and print it from a browser")


def _rows(found: Iterable[Block]) -> Iterable[int]:
    for block in found:
        if isinstance(block, TableBlock):
            yield len(block.rows)
        elif isinstance(block, Items):
            yield len(block.entries)
