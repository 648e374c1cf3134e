"""Somebody else's text, made harmless for terminals, markdown and the logs of CI."""

from __future__ import annotations

import io

import pytest

from formula_vcs.reports.terminal import Ink
from formula_vcs.words.escape import coloured, markdown, no_command, shortened, spreadsheet, summary, terminal
from tests.commands.bench_repo import HOSTILE


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain text, 5 %", "plain text, 5 %"),
        ("Huile d\u2019amande 50 \u00b0C", "Huile d\u2019amande 50 \u00b0C"),
        ("\x1b[31mred\x07", "\\x1b[31mred\\x07"),
        ("a\r\nb\tc", "a\\x0d\\x0ab\\x09c"),
        ("\u202egpj.exe", "\\u202egpj.exe"),
        ("zero\u200bwidth", "zero\\u200bwidth"),
        ("\x9b31m", "\\x9b31m"),
        ("\udcff", "\\udcff"),
        ("##[error]x ##vso[task] ##teamcity[a] ## b", "#\\#[error]x #\\#vso[task] #\\#teamcity[a] ## b"),
    ],
)
def test_terminal(text: str, shown: str) -> None:
    assert shown == terminal(text)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("glycerin, 5 %", "glycerin, 5 %"),
        ("=1+1", "'=1+1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("-1+1", "'-1+1"),
        ("\t=1", "'\\x09=1"),
        ("\uff1d1", "'\uff1d1"),
    ],
)
def test_spreadsheet(text: str, shown: str) -> None:
    """OWASP, "CSV Injection": what begins a formula, in full width too."""
    assert shown == spreadsheet(text)


def test_a_cell_has_room_for_what_is_in_it() -> None:
    """Microsoft, "Excel specifications and limits": 32,767 characters a cell."""
    assert len(spreadsheet("=" + "x" * 100_000)) <= 32_767


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("hand-cream, 5.00 % (A)", "hand-cream, 5.00 % (A)"),
        ("phase A: water", "phase A: water"),
        ("`code` *b* _i_ ~s~", "\\`code\\` \\*b\\* \\_i\\_ \\~&#8203;s\\~"),
        ("!12 %12 $12 &12 GH-12", "!&#8203;12 %&#8203;12 \\$&#8203;12 &amp;&#8203;12 GH&#8203;-12"),
        ("/merge", "\\/merge"),
        ("a | b", "a \\| b"),
        ("<script>&amp;", "&lt;script&gt;&amp;amp;"),
        ("[x](y) ![z]", "\\[x\\](y) !\\[z\\]"),
        ("@team #12", "@&#8203;team #&#8203;12"),
        ("::error::x", "\\:\\:error\\:\\:x"),
        ("https://x www.x", "https\\://x www\\.x"),
        (":tada:", "\\:tada:"),
        ("- item", "\\- item"),
        ("1. item", "1\\. item"),
        ("1.50 %", "1.50 %"),
        ("$x$ \\", "\\$x\\$ \\\\"),
        ("two\nlines\x1b", "two\\\\x0alines\\\\x1b"),
    ],
)
def test_markdown(text: str, shown: str) -> None:
    assert shown == markdown(text)


@pytest.mark.parametrize(
    ("line", "shown"), [("  ::error::x", "  \\::error::x"), ("::group", "\\::group"), ("a ::b", "a ::b"), ("", "")]
)
def test_no_line_is_a_command_of_a_runner(line: str, shown: str) -> None:
    assert shown == no_command(line)


def test_folding_makes_no_command_of_a_word() -> None:
    out = io.StringIO()

    Ink(out).wrapped(("word " * 15) + "::error file=a::boom " + HOSTILE, "    ")

    assert not [line for line in out.getvalue().splitlines() if line.lstrip().startswith("::")]


def test_colour_is_for_terminals_and_no_color_is_obeyed(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.delenv("GIT_PAGER_IN_USE", raising=False)
    assert (True, False) == (coloured(Terminal()), coloured(io.StringIO()))
    monkeypatch.setenv("GIT_PAGER_IN_USE", "true")
    assert coloured(io.StringIO())
    monkeypatch.setenv("NO_COLOR", "1")
    assert not coloured(Terminal())


def test_html_inside_markdown_shows_no_escapes_of_markdown() -> None:
    shown = summary("<b>*a* @team #1 :x: www.x\n</summary>")

    assert "&lt;b&gt;*a* @&#8203;team #&#8203;1 :&#8203;x: www&#8203;.x\\x0a&lt;/summary&gt;" == shown


def test_what_is_too_long_is_cut_with_a_mark() -> None:
    assert ("abcd", "a ...") == (shortened("abcd", 4), shortened("abcdef", 5))
