"""Blocks as text, markdown and HTML: the same words, and nothing that comes from a file is markup."""

from __future__ import annotations

import io
import re
from typing import Final

import pytest
from markdown_it import MarkdownIt

from formula_vcs.model.finding import Finding
from formula_vcs.reports.document import html, markdown, text
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    ChangedLine,
    ChangedLines,
    Column,
    Document,
    FindingLine,
    Fold,
    Heading,
    Items,
    KeyValues,
    Lines,
    ListEntry,
    OnTerminal,
    PageLink,
    Paragraph,
    Picture,
    Row,
    Span,
    TableBlock,
    Verdict,
    code,
    paragraphs,
    strong,
)  # fmt: skip
from formula_vcs.reports.document.markup import Markup, element, escaped, joined
from formula_vcs.reports.terminal import Ink
from tests import helpers_hosts, helpers_html
from tests.hostile.corpus import NASTY


def _draw(ink: Ink) -> None:
    ink.line("drawn by itself")


def every(words: str) -> tuple[Block, ...]:
    """Give a block of each kind that says some words wherever words can stand."""
    finding = Finding("total", "block", words, "a.toml", line=3, column=1)
    return (
        Heading(words, kind="Uses of", name=words),
        Paragraph(("see ", strong(words), ", ", code(words), ", ", PageLink(words, "part1"), " ", Span(words, "warn"))),
        GAP,
        Heading(words, 2, id="part1"),
        Items(
            (ListEntry(words, (Paragraph(words), Items((ListEntry(words),)))), ListEntry(words, look="strong")),
            mark="- ",
        ),
        Items((ListEntry(words),), numbered=True),
        TableBlock(
            (Column(words, "point"), Column(words, most=30), Column("empty"), Column(words, ragged=True, lead=", ")),
            (
                Row(("1.50 %", words, "", words), (Paragraph(words, indent=6),)),
                Row(("10 %", words, "", ""), above=words),
            ),
            words,
            below="by way of",
            heads=True,
        ),
        TableBlock((Column(),), (), words, empty=words),
        KeyValues(((words, words),), words),
        KeyValues(((words, words),), words, aligned=True),
        FindingLine(finding, (Paragraph(words, indent=8),)),
        ChangedLines(
            (ChangedLine("+", words, "more", more=(words,)), ChangedLine("", words, follows=True, name=words))
        ),
        Fold(words, (Paragraph(words),)),
        Picture(element("figure", element("figcaption", words)), (Paragraph(words, "dim"),)),
        Verdict((Paragraph(words, "warn"),), "bad"),
        OnTerminal(_draw, (Paragraph(words),)),
        *paragraphs([words]),
    )


def as_text(*blocks: Block) -> str:
    out = io.StringIO()
    text.write(Document("title", blocks), out)
    return out.getvalue()


@pytest.mark.parametrize("words", [*NASTY, "glycerin"])
def test_words_of_a_file_are_words_in_every_format(words: str) -> None:
    document = Document(words, every(words))

    assert [] == helpers_html.strange(helpers_html.parsed(html.page(document)))
    helpers_hosts.markdown(markdown.rendered(document.blocks))
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f\u202e]", as_text(*document.blocks))


def test_lines_to_copy_are_not_folded_and_hold_no_markup() -> None:
    line = "[accept] # <b>*a*</b> " + "x" * 90
    block = Lines((line, "b"), indent=4)

    assert f"    {line}\n    b\n" == as_text(block)
    assert f"    {line}\n    b\n\n" == markdown.rendered([block])
    assert [f"{line}\nb"] == helpers_html.parsed(html.rendered([block])).one("pre").inside


def test_lines_to_copy_below_a_finding_are_no_markup_either() -> None:
    """Without the empty line before them they would be words of the finding, where markdown is read."""
    finding = Finding("total", "block", "said", "a.toml", line=3, column=1)
    found = (FindingLine(finding, (Lines(("[[accept]]", "*a* <b>")),)), FindingLine(finding))

    tokens = MarkdownIt("commonmark").parse(markdown.rendered(found))

    assert ["[[accept]]\n*a* <b>\n"] == [token.content for token in tokens if token.type == "code_block"]
    assert 1 == sum(token.type == "bullet_list_open" for token in tokens)
    assert 1 == len(helpers_html.parsed(html.rendered(found)).all("ul"))


def test_a_list_in_a_numbered_list_belongs_to_its_entry() -> None:
    inner = Items((ListEntry("c"),))
    found = Items((ListEntry("a", (Paragraph("b"), inner)), ListEntry("d")), numbered=True)

    tokens = MarkdownIt("commonmark").parse(markdown.rendered([found]))

    assert 1 == sum(token.type == "ordered_list_open" for token in tokens)
    assert [2] == [token.level for token in tokens if token.type == "bullet_list_open"]


def test_the_text_of_each_block() -> None:
    """What a reader of code needs to see once: how each kind looks on a terminal."""
    assert """\
glycerin  glycerin
see glycerin, glycerin, glycerin glycerin

glycerin
  - glycerin
glycerin
  glycerin
  - glycerin
  1. glycerin
  glycerin  glycerin, glycerin
   1.50 %   glycerin, glycerin
      glycerin
  -- glycerin --
  10    %   glycerin
  glycerin
  glycerin: glycerin
  glycerin  glycerin
a.toml:3:1: block [total]
    glycerin
        glycerin
    + glycerin
        glycerin
    follows: glycerin
glycerin
glycerin
glycerin
drawn by itself
glycerin
""" == as_text(*every("glycerin"))


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_parts_keep_their_colours_where_a_line_is_folded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    out = _Terminal()

    text.write(Document("", (Paragraph(("a" * 70, " ", Span("bold words here", "strong"), " end")),)), out)

    # the blank behind them is painted as they are
    assert f"{'a' * 70} \033[1mbold\033[0m\n\033[1mwords here \033[0mend\n" == out.getvalue()


def test_numbers_stand_at_their_points_and_the_last_column_is_cut_or_folded() -> None:
    columns = (Column("share", "point"), Column("name"))
    rows = (Row(("9.5 %", "x" * 90)), Row(("10.25 %", "short")))

    cut = as_text(TableBlock(columns, rows, "c"))
    folded = as_text(TableBlock(columns, (Row(("9.5 %", "word " * 30)),), "c", wrap=True))

    assert f"   9.5  %  {'x' * 68}\u2026\n  10.25 %  short\n" == cut
    assert [True] * 3 == [len(line) <= 80 for line in folded.splitlines()]
    assert [" " * 9] * 2 == [line[:9] for line in folded.splitlines()[1:]]


def test_a_column_without_a_word_is_in_no_format() -> None:
    table = TableBlock((Column("a"), Column("none"), Column("b")), (Row(("1", "", "2")),), "c", heads=True)

    assert "  a  b\n  1  2\n" == as_text(table)
    assert "| a | b |\n| --- | --- |\n| 1 | 2 |\n\n" == markdown.rendered([table])
    assert "none" not in html.rendered([table])


EVIL: Final = "<script>\"&'"


def test_text_is_escaped_and_only_markup_is_not() -> None:
    assert '<p class="a" title="&lt;script&gt;&quot;&amp;&#x27;">&lt;script&gt;&quot;&amp;&#x27;</p>' == element(
        "p", EVIL, css="a", title=EVIL
    )
    assert "<p><b>&lt;</b></p>" == element("p", element("b", "<"))
    assert "a&lt;b" == joined(("a", Markup("&lt;"), "b"))
    assert "<br>" == element("br")
    assert "<details open></details>" == element("details", open=True)
    assert "<details></details>" == element("details", open=False)


def test_what_python_makes_of_markup_is_text_again() -> None:
    made = element("b", "x")

    assert [str, str, str] == [type(made + "<i>"), type(f"{made}<i>"), type(made[:2])]
    assert "&lt;b&gt;x&lt;/b&gt;&lt;i&gt;" == escaped(f"{made}<i>")
