"""The manual as HTML and for man says what its Markdown says; a Markdown library is asked as well."""

from __future__ import annotations

import re
import shutil
import subprocess
from html.parser import HTMLParser

import pytest
from markdown_it import MarkdownIt

from formula_vcs.reports.manual import html, man
from formula_vcs.setup.shipped import Chapter, chapters

TAGS = frozenset(("h1", "h2", "h3", "h4", "p", "pre", "ul", "ol", "li", "table", "tr", "th", "td", "strong", "em"))


class _Outline(HTMLParser):
    """The tags and the words of a page, without what only frames them."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag in TAGS:
            self.parts.append(f"<{tag}>")

    def handle_data(self, data: str) -> None:
        self.parts += data.split()


def _outline(page: str) -> list[str]:
    outline = _Outline()
    outline.feed(page)
    return outline.parts


def _by_library(text: str) -> str:
    # a list with blank lines between its items has paragraphs in them, which is only a matter of looks
    page = str(MarkdownIt("commonmark", {"html": True}).enable("table").render(text))
    return re.sub(r"<li>\s*<p>(.*?)</p>", r"<li>\1", page, flags=re.DOTALL)


@pytest.mark.parametrize("topic", chapters())
def test_a_chapter_has_the_outline_that_a_markdown_library_gives(topic: str) -> None:
    text = re.sub(r"`formula_vcs/manual/([\w-]+)\.md`", r"\1", chapters()[topic].text)

    assert _outline(_by_library(text)) == _outline(html.body(text))


@pytest.mark.parametrize(
    ("text", "page"),
    [
        ("A `<b>` & *c*.", "<p>A <code>&lt;b&gt;</code> &amp; <em>c</em>.</p>"),
        ("`formula_vcs/manual/law.md`", '<p><a href="#law">law</a></p>'),
        ("[x](javascript:alert)", "<p>x</p>"),
        ("[x](https://example.org/a)", '<p><a href="https://example.org/a">x</a></p>'),
        ("- a\n  - b\n- c", "<ul><li>a<ul><li>b</li></ul></li><li>c</li></ul>"),
        ("1. a\n2. b", "<ol><li>a</li><li>b</li></ol>"),
        ("2 * 3 * 4", "<p>2 * 3 * 4</p>"),
        ("snake_case and \\*", "<p>snake_case and *</p>"),
    ],
)
def test_marks_become_elements_and_nothing_else_does(text: str, page: str) -> None:
    assert page == html.body(text)


def test_links_of_the_manual_lead_to_what_is_there() -> None:
    page = html.manual(chapters(), "1.0")
    ids = re.findall(r'\bid="([^"]+)"', page)

    assert sorted(set(ids)) == sorted(ids)
    assert set(re.findall(r'href="#([^"]+)"', page)) - set(ids) == set()


@pytest.mark.skipif(shutil.which("groff") is None, reason="needs groff")
@pytest.mark.parametrize("topic", chapters())
def test_a_page_for_man_is_formatted_without_a_warning(topic: str) -> None:
    page = man.page(chapters()[topic], "1.0")
    done = subprocess.run(["groff", "-man", "-ww", "-Tutf8"], input=page.encode(), capture_output=True, check=True)

    assert b"" == done.stderr
    assert page.isascii()


@pytest.mark.skipif(shutil.which("groff") is None, reason="needs groff")
def test_man_shows_the_words_that_would_be_its_requests() -> None:
    text = (
        '# T\n\n.so /etc/passwd\n\n\'tis `\\fI` and \\*\n\n- `--x`: does "y"\n\n| a | b |\n|---|---|\n| .one | two |\n'
    )
    done = subprocess.run(
        ["groff", "-man", "-P-c", "-P-u", "-P-b", "-Tutf8"],
        input=man.page(Chapter("t", "T", text), "1").encode(), capture_output=True, check=True, text=False,
    )  # fmt: skip
    out = " ".join(re.sub(r"\x1b\[[0-9;]*m|.\x08", "", done.stdout.decode()).split())

    for words in (".so /etc/passwd", "'tis \\fI and *", '--x does "y"', ".one two"):
        assert words in out
