"""A pull request that means ill, as a page in a browser: nothing runs, nothing leaves, nothing is there but our own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.cli import main
from formula_vcs.reports.document.markup import Markup
from formula_vcs.reports.page.shell import document
from tests.conftest import MINIMAL
from tests.helpers_browser import Browser, session
from tests.helpers_html import parsed, strange
from tests.hostile.corpus import CASES

Make = Callable[..., Any]
Draw = Callable[..., Path]
Capsys = pytest.CaptureFixture[str]
pytestmark = pytest.mark.slow

# Recipes and ingredients with these are right, so the words stand in every part of the page; the others are refused.
SHOWN = "nasty words in files that are right"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with session() as started:
        yield started


@pytest.fixture
def draw(git_repo: Make, monkeypatch: pytest.MonkeyPatch, capsys: Capsys, tmp_path: Path) -> Draw:
    """Give a maker of pages: what a case does to the smallest workspace that passes."""

    def make(case: str, command: str = "review") -> Path:
        repo = git_repo(MINIMAL)
        repo.git("branch", "base")
        CASES[case]().write(repo.path)
        monkeypatch.chdir(repo.path)
        capsys.readouterr()
        assert main([command, "--format", "html"]) in (0, 1)
        path = tmp_path / "page.html"
        path.write_text(capsys.readouterr().out, "utf-8")
        return path

    return make


@pytest.mark.parametrize("case", CASES)
def test_a_page_holds_only_what_we_write(draw: Draw, browser: Browser, case: str) -> None:
    path = draw(case)
    html = path.read_text("utf-8")

    assert [] == strange(parsed(html))
    assert 5_000_000 > len(html.encode())
    with browser.page(path) as view:
        # whatever could be waited for, pressed or opened
        view.run("() => document.querySelectorAll('details').forEach(d => { d.open = true; })")
        view.run("() => document.querySelectorAll('a').forEach(a => a.click())")
        assert ([], [], [], []) == (view.sent, view.ran, view.dialogs, view.errors)
        assert path.resolve().as_uri() == view.view.url.partition("#")[0]
        tags = set(view.run("() => [...document.querySelectorAll('*')].map(e => e.tagName.toLowerCase())"))
        assert not tags & {"script", "img", "iframe", "object", "embed", "link", "base", "form", "input", "video", "b"}
        assert [] == view.overflowing()


def test_every_nasty_word_is_there_to_be_read(draw: Draw, browser: Browser) -> None:
    """Escaped, not dropped: a reviewer sees what somebody tried."""
    path = draw(SHOWN)

    with browser.page(path) as view:
        text = view.run("() => document.body.textContent")

    assert "<script>alert(1)</script>" in text
    assert "javascript:alert(1)" in text
    assert "\\u202egpj.exe" in text
    assert "\\x1b[31mred" in text
    active = {character for character in text if not character.isprintable() and character not in "\n\u00a0"}
    assert set() == active


@pytest.mark.parametrize("case", ["nasty words everywhere", SHOWN, "nasty keys", "names of files"])
def test_the_page_of_a_diff(draw: Draw, case: str) -> None:
    assert [] == strange(parsed(draw(case, "diff").read_text("utf-8")))


def test_a_page_without_escaping_would_be_caught(browser: Browser, tmp_path: Path) -> None:
    """The same words unescaped: the policy alone still keeps scripts from running, and the parser tells."""
    bad = "<script>alert(1)</script><img src='x:y' onerror='alert(2)'/><a href='javascript:alert(3)'>a</a>"
    html = document("x", Markup(f"<main id='content'>{bad}</main>"))
    path = tmp_path / "bad.html"
    path.write_text(html, "utf-8")

    assert ["<script>", "<img>", "<a href=javascript:alert(3)>"] == strange(parsed(html))[:3]
    with browser.page(path) as view:
        view.run("() => document.querySelector('a').click()")
        assert not [words for words in view.ran if words.startswith("alert")]
        assert [] == view.dialogs
