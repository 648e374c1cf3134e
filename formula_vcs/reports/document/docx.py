"""Blocks as DOCX, by python-docx, which is an extra and loaded only here: for whoever has to edit what we write.

The same document gives the same bytes: no moment of writing is in it, and the parts of the archive are all of one time.
"""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Iterable
from typing import TYPE_CHECKING, Final, NamedTuple

from formula_vcs.errors import UserError
from formula_vcs.reports.document import blocks
from formula_vcs.reports.document.blocks import Block, Document, Words, spans
from formula_vcs.words.escape import terminal

if TYPE_CHECKING:
    from docx.document import Document as Word
    from docx.table import _Row as TableRow
    from docx.text.paragraph import Paragraph as TextParagraph
    from docx.text.run import Run

_EXTRA: Final = (
    "a DOCX is written by python-docx, which is not installed; install it with: pip install 'formula-vcs[documents]'"
)
_MOMENT: Final = (1980, 1, 1, 0, 0, 0)  # the first that an archive can have
_MARKS: Final = {"block": "\u2716 ", "warn": "! ", "bad": "\u2716 "}
_RED: Final = "A1241C"


class PageTexts(NamedTuple):
    """What stands on every page: plain texts, a picture (PNG or JPEG) or None, a colour "#rrggbb" or ""; and a day."""

    head: str
    mark: str
    foot: str
    picture: bytes | None
    accent: str
    day: datetime.date


def written(document: Document, page: PageTexts) -> bytes:
    """Give a report as DOCX.

    :raises UserError: python-docx is not there.
    """
    try:
        import docx
    except ImportError:
        raise UserError(_EXTRA) from None
    word = docx.Document()
    _properties(word, document, page)
    _pages(word, page)
    for block in document.blocks:
        _WordWriter(word, page.accent).block(block)
    out = io.BytesIO()
    word.save(out)
    return _timeless(out.getvalue())


def clean(text: str) -> str:
    """Make text fit for XML: what no reader sees, and what XML cannot hold, is shown by its code."""
    return terminal(text)


def _properties(word: Word, document: Document, page: PageTexts) -> None:
    moment = datetime.datetime.combine(page.day, datetime.time(), datetime.UTC)
    core = word.core_properties
    core.title = clean(document.title)[:250]
    core.author = core.last_modified_by = "git-formula"
    core.comments = ""
    core.created = core.modified = moment
    core.revision = 1


def _pages(word: Word, page: PageTexts) -> None:
    from docx.shared import Mm, Pt

    section = word.sections[0]
    section.page_width, section.page_height = Mm(210), Mm(297)
    section.left_margin = section.right_margin = Mm(18)
    word.styles["Normal"].font.size = Pt(10)
    head = section.header.paragraphs[0]
    if page.picture is not None:
        head.add_run().add_picture(io.BytesIO(page.picture), height=Mm(12))
        head = section.header.add_paragraph()
    head.add_run(clean(page.head)).bold = True
    if page.mark:
        _red(section.header.add_paragraph().add_run(clean(page.mark)))
    foot = section.footer.paragraphs[0]
    if page.foot:
        foot.add_run(f"{clean(page.foot)}    ")
    foot.add_run("page ")
    _field(foot.add_run(), "PAGE")
    foot.add_run(" of ")
    _field(foot.add_run(), "NUMPAGES")
    if page.mark:
        _red(foot.add_run(f"    {clean(page.mark)}"))


def _red(run: Run) -> None:
    from docx.shared import RGBColor

    run.bold = True
    run.font.color.rgb = RGBColor.from_string(_RED)


def _field(run: Run, name: str) -> None:
    """Put a field that a word processor fills in: the number of the page, or of all pages."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    for kind, text in (("begin", ""), ("", name), ("separate", ""), ("text", "1"), ("end", "")):
        if kind == "text":
            run.add_text(text)
            continue
        part = OxmlElement("w:fldChar" if kind else "w:instrText")
        if kind:
            part.set(qn("w:fldCharType"), kind)
        else:
            part.text = text
        run._r.append(part)  # noqa: SLF001 - python-docx has no fields of its own


class _WordWriter:
    """Writes blocks into a document of python-docx."""

    def __init__(self, word: Word, accent: str) -> None:
        self.word = word
        self.accent = accent

    def all(self, found: Iterable[Block]) -> None:
        for block in found:
            self.block(block)

    def block(self, block: Block) -> None:  # noqa: C901, PLR0912  a line a kind
        match block:
            case blocks.Gap():
                pass
            case blocks.Heading():
                self._heading(block)
            case blocks.Paragraph():
                self._paragraph(block.words, block.look)
            case blocks.Items():
                for entry in block.entries:
                    style = "List Number" if block.numbered else "List Bullet"
                    self._paragraph(entry.words, entry.look, style)
                    self.all(entry.below)
            case blocks.TableBlock():
                self._table(block)
            case blocks.KeyValues():
                self._rows((), list(blocks.numbered_pairs(block)), ())
            case blocks.FindingLine():
                found = block.finding
                mend = "" if found.mend is None else f"; {found.mend.said}"
                words = f"{found.severity}: {block.message} ({found.rule}, {block.place}){mend}"
                self._paragraph(words, found.severity, "List Bullet")
                self.all(block.below)
            case blocks.ChangedLines():
                for row in block.rows:
                    sign = "follows:" if row.follows else row.sign
                    self._paragraph((f"{sign} ", *spans(row.words)), "", "List Bullet")
                    for more in row.more:
                        self._paragraph(more, "dim", "List Bullet 2")
            case blocks.Fold():
                self._paragraph(block.words, "strong")
                self.all(block.blocks)
            case blocks.Picture() | blocks.OnTerminal():
                self.all(block.blocks)
            case blocks.Verdict():
                for one in block.blocks:
                    if isinstance(one, blocks.Paragraph) and block.state == "bad":
                        self._paragraph(one.words, "block")
                    elif isinstance(one, blocks.Paragraph):
                        self._paragraph(one.words, "strong")
                    else:
                        self.block(one)
            case blocks.Lines():
                for line in block.lines:
                    self._paragraph(line, "", "Intense Quote")

    def _heading(self, block: blocks.Heading) -> None:
        from docx.shared import RGBColor

        heading = self.word.add_heading(level=min(block.level, 9))
        self._runs(heading, block.words)
        if block.name:
            heading.add_run(f"  {clean(block.name)}").italic = True
        for run in heading.runs:
            if self.accent:
                run.font.color.rgb = RGBColor.from_string(self.accent[1:].upper())

    def _paragraph(self, words: Words, look: str = "", style: str | None = None) -> None:
        paragraph = self.word.add_paragraph(style=style)
        if look in _MARKS:
            paragraph.add_run(_MARKS[look]).bold = True
        self._runs(paragraph, words, look)

    def _runs(self, paragraph: TextParagraph, words: Words, look: str = "") -> None:
        from docx.shared import Pt

        for part in spans(words):
            run = paragraph.add_run(clean(part.text))
            own = (part.look if isinstance(part, blocks.Span) else "") or look
            run.bold = True if own in ("strong", "block") else None
            run.italic = True if own == "dim" else None
            if own == "code":
                run.font.name, run.font.size = "Consolas", Pt(9)

    def _table(self, block: blocks.TableBlock) -> None:
        if not block.rows:
            if block.empty:
                self._paragraph(block.empty)
            return
        heads = [column.head for column in block.columns]
        below = block.below if any(row.below for row in block.rows) else None
        rows: list[tuple[Words, ...]] = []
        for row in block.rows:
            more = " ".join(blocks.plain(one.words) for one in row.below)
            rows.append((*row.cells, more) if below is not None else row.cells)
        above = {number: row.above for number, row in enumerate(block.rows) if row.above}
        self._rows(
            [*heads, *([below] if below is not None else [])], rows,
            tuple(column.align != "left" for column in block.columns), above,
        )  # fmt: skip

    def _rows(
        self,
        heads: Iterable[Words],
        rows: list[tuple[Words, ...]],
        right: tuple[bool, ...],
        above: dict[int, str] | None = None,
    ) -> None:
        from docx.enum.text import WD_ALIGN_PARAGRAPH

        if not rows:
            return
        names = list(heads)
        table = self.word.add_table(rows=0, cols=len(rows[0]), style="Table Grid")
        if names:
            row = table.add_row()
            _repeated(row)
            for cell, words in zip(row.cells, names, strict=False):
                self._runs(cell.paragraphs[0], words, "strong")
        for number, cells in enumerate(rows):
            group = (above or {}).get(number)
            if group is not None:
                row = table.add_row()
                self._runs(row.cells[0].merge(row.cells[-1]).paragraphs[0], group, "strong")
            row = table.add_row()
            for column, (cell, words) in enumerate(zip(row.cells, cells, strict=False)):
                self._runs(cell.paragraphs[0], words)
                if column < len(right) and right[column]:
                    cell.paragraphs[0].alignment = WD_ALIGN_PARAGRAPH.RIGHT
        self.word.add_paragraph()


def _repeated(row: TableRow) -> None:
    """Let the head of a table stand on each of its pages."""
    from docx.oxml import OxmlElement

    row._tr.get_or_add_trPr().append(OxmlElement("w:tblHeader"))  # noqa: SLF001 - python-docx has no name for it


def _timeless(data: bytes) -> bytes:
    """Write an archive again with all its parts of one time, so that the same document has the same bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            fresh = zipfile.ZipInfo(part.filename, _MOMENT)
            fresh.compress_type = zipfile.ZIP_DEFLATED
            fresh.external_attr = 0o600 << 16
            fresh.create_system = 3
            new.writestr(fresh, old.read(part.filename))
    return out.getvalue()
