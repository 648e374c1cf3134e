"""Every report in every format: one golden each, and the same words in all that a reader reads."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, Final

import pytest
from markdown_it import MarkdownIt

from formula_vcs.reports import formats
from formula_vcs.setup.demo_story import MAIN, commits
from formula_vcs.setup.history_writer import create
from formula_vcs.setup.shipped import texts
from tests import helpers_html
from tests.commands.bench_repo import SHOP, golden, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]
ENDINGS: Final = {"text": "txt", "json": "json", "markdown": "md", "html": "html"}
# each report, as it is asked for in a small shop
ASKED: Final = {
    "label": ("label", "polish"),
    "uses": ("uses", "glycerin"),
}
# and of the demo, where there is more to say
OF_DEMO: Final = {
    "label": ("label", "hand-cream"),
    "uses": ("uses", "--inci", "Glycerin"),
    "uses-entry": ("uses", "--entry", "III/24"),
}
_STYLE: Final = re.compile("<style>.*?</style>", re.DOTALL)
_RENDERER: Final = MarkdownIt("commonmark").enable("table")


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed shop and stand in it."""
    repo = git_repo(SHOP)
    monkeypatch.chdir(repo.path)
    return repo


@pytest.fixture(scope="module")
def island(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the demo's repository once."""
    folder = tmp_path_factory.mktemp("island")
    create(folder, commits(texts("recipes")), branch=MAIN)
    return folder


def test_every_report_is_asked_for() -> None:
    assert set(formats.NAMES) == set(ASKED)


@pytest.mark.parametrize("form", formats.EVERY)
@pytest.mark.parametrize("name", ASKED)
def test_a_report_in_a_format(shop: Any, capsys: Capsys, name: str, form: str) -> None:
    said = run(capsys, *ASKED[name], "--format", form)

    text = _STYLE.sub("<style></style>", said.out).replace(shop.git("rev-parse", "HEAD"), "0" * 40)
    assert 0 == said.status
    assert golden(f"{name}.{ENDINGS[form]}", text) == text
    if form == "json":
        said.json(name)
    if form == "text":
        assert 80 >= max(map(len, said.out.splitlines()))
    if form == "html":
        assert [] == helpers_html.strange(helpers_html.parsed(said.out))


def words(texts: Iterable[str]) -> Counter[str]:
    """Count words, whatever stands between them."""
    found = (word.strip(".,:;()[]*!-").casefold() for text in texts for word in text.split())
    return Counter(word for word in found if word)


def of_text(text: str) -> Counter[str]:
    # the numbers of an ordered list are no words
    return words(re.sub(r"^ *\d+\. ", "", line) for line in text.splitlines())


def of_markdown(text: str) -> tuple[Counter[str], Counter[str]]:
    """Give the words, and those of them that only a page has: the heads of tables, and what is folded away."""
    own: list[str] = []
    heads: list[str] = []
    in_head = False
    for token in _RENDERER.parse(text):
        in_head = (in_head or token.type == "thead_open") and token.type != "thead_close"
        for part in [token, *(token.children or [])]:
            if part.type in ("text", "code_block", "fence"):
                (heads if in_head else own).append(part.content.replace("\u200b", ""))
            elif part.type == "softbreak":
                own.append(" ")
            elif part.type == "html_block":
                heads += re.findall("<summary>(.*)</summary>", part.content)
        own.append("\n")
    return words("".join(own).splitlines()) + words(heads), words(heads)


def of_html(page: helpers_html.Element) -> tuple[Counter[str], Counter[str]]:
    """Give the words, and those of them that only a page has: captions, heads, what kind of report it is."""
    only = [*page.all("thead"), *page.all("caption"), *page.all("summary"), *page.all("span", "kind"), *page.all("nav")]
    only += page.all("a", "skip")
    body = page.one("body")
    return words([body.text]), words(element.text for element in only)


@pytest.mark.parametrize("name", OF_DEMO)
def test_all_formats_say_the_same_words(
    island: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys, name: str
) -> None:
    """What one says, each other says as often; but a page heads its tables, and a terminal cuts what has no room."""
    monkeypatch.chdir(island)
    said = {form: run(capsys, *OF_DEMO[name], "--format", form).out for form in ("text", "markdown", "html")}

    text = of_text(said["text"])
    markdown, of_its_own = of_markdown(said["markdown"])
    page = helpers_html.parsed(said["html"])
    html, only_there = of_html(page)
    kind = words(element.text for element in page.all("span", "kind"))

    assert text
    assert Counter() == text - markdown, "in the text and not in markdown"
    assert Counter() == text - html, "in the text and not in HTML"
    assert Counter() == markdown - of_its_own - kind - text, "in markdown and not in the text"
    assert Counter() == html - only_there - text, "in HTML and not in the text"
