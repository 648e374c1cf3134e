"""Every report in every format: one golden each, and the same words in all that a reader reads."""

from __future__ import annotations

import html
import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable
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
_SHOP: Final = "shop"
_DEMO: Final = "island"
# each report, as it is asked for in a small shop, or of the demo where a shop has nothing of the kind
ASKED: Final = {
    "batch_cost": (_DEMO, "batch", "cost", "hc-041"),
    "blame": (_DEMO, "blame", "hand-cream"),
    "check": (_SHOP, "check", "--how"),
    "explain": (_SHOP, "explain", "zinkchlorid"),
    "horizon": (_DEMO, "check", "--horizon", "2y"),
    "label": (_SHOP, "label", "polish"),
    "listing": (_SHOP, "list"),
    "lot_uses": (_DEMO, "uses", "--lot", "kelp-gum-2291"),
    "peers": (_DEMO, "trace", "hc-041", "--against", "hand-cream"),
    "scale": (_DEMO, "batch", "hand-cream", "--dry-run", "--size", "400 kg", "--on", "anchor-vessel-300"),
    "show": (_SHOP, "show", "polish"),
    "survey": (_SHOP, "survey", "--on", "2026-06-01", "--price", "glycerin=+10 %"),
    "trace": (_DEMO, "trace", "hc-040", "hc-041"),
    "uses": (_SHOP, "uses", "glycerin"),
    "propose": (_SHOP, "propose", "polish", "--target", "glycerin at least 15 %"),
}
# what is shown in place of a sheet
PARTS: Final = {
    "process": (_DEMO, "show", "face-toner", "--process"),
    "preservation": (_DEMO, "show", "face-toner", "--preservation"),
    "evidence": (_DEMO, "show", "hand-cream", "--evidence"),
    "ingredient": (_SHOP, "show", "silica-polishing"),
}
# and more of the demo, for the words alone
MORE: Final = {
    "check": ("check",),
    "explain": ("explain", "salicylic", "acid"),
    "horizon": ("check", "--horizon", "10y"),
    "label": ("label", "hand-cream"),
    "list": ("list", "batches", "lots"),
    "lot": ("uses", "--lot", "water-2025-q3"),
    "lot-premix": ("uses", "--lot", "kg-003"),
    "peers": ("trace", "hc-027", "--against", "hand-cream"),
    "show": ("show", "hand-cream"),
    "show premix": ("show", "kelp-gel-4"),
    "show ingredient": ("show", "ingredient:kelp-gel-4"),
    "show parts": ("show", "gum-gel", "--process", "--preservation", "--evidence"),
    "process": ("show", "hand-cream", "--process"),
    "approvals": ("show", "hand-cream", "--approvals"),
    "trace": ("trace", "hc-036", "hc-041"),
    # both once said nothing of their verdict in markdown
    "trace without a difference": ("trace", "hc-039", "hc-040"),
    "trace in its spec": ("trace", "hc-040", "--against-recipe"),
    "uses": ("uses", "--inci", "Glycerin"),
    "uses-entry": ("uses", "--entry", "III/24"),
}
OF_DEMO: Final = {
    **{name: words for name, (where, *words) in [*ASKED.items(), *PARTS.items()] if where == _DEMO},
    **{f"{name} more": words for name, words in MORE.items()},
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
@pytest.mark.parametrize("name", [*ASKED, *PARTS])
def test_a_report_in_a_format(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, capsys: Capsys, name: str, form: str
) -> None:
    where, *asked = {**ASKED, **PARTS}[name]
    folder = request.getfixturevalue(where)
    monkeypatch.chdir(folder if where == _DEMO else folder.path)

    said = run(capsys, *asked, "--format", form)

    text = _STYLE.sub("<style></style>", said.out)
    assert said.status in (0, 1)
    assert golden(f"formats/{name}.{ENDINGS[form]}", text) == text
    if form == "json":
        said.json(formats.named("show" if name in PARTS else name).schema)
    if form == "text":
        assert 80 >= max(map(len, said.out.splitlines()))
    if form == "html":
        assert [] == helpers_html.strange(helpers_html.parsed(said.out))


def words(texts: Iterable[str]) -> Counter[str]:
    """Count words, whatever stands between them."""
    found = (word.strip(".,:;()[]*!-").casefold() for text in texts for word in text.split())
    return Counter(word for word in found if any(letter.isalnum() for letter in word))


def of_text(text: str) -> Counter[str]:
    # the numbers of an ordered list are no words
    return words(re.sub(r"^ {2,}\d+\. ", "", line) for line in text.splitlines())


def of_markdown(text: str, brief: Collection[str]) -> tuple[Counter[str], Counter[str]]:
    """Give the words, and those of them that only a page has: the heads of tables, and what is folded away.

    ``brief`` are the words of folds that a terminal has in place of what is in them.
    """
    own: list[str] = []
    only: list[str] = []
    in_head = False
    folds: list[bool] = []
    for token in _RENDERER.parse(text):
        in_head = (in_head or token.type == "thead_open") and token.type != "thead_close"
        for part in [token, *(token.children or [])]:
            if part.type in ("text", "code_block", "fence"):
                (only if in_head or any(folds) else own).append(part.content.replace("\u200b", ""))
            elif part.type == "softbreak":
                own.append(" ")
            elif part.type == "html_block":
                for summary in re.findall("<details.*>\n<summary>(.*)</summary>", part.content):
                    said = html.unescape(summary).replace("\u200b", "")
                    (only if any(folds) or said not in brief else own).append(f"{said}\n")
                    folds.append(said in brief)
                if "</details>" in part.content:
                    folds.pop()
        (only if in_head or any(folds) else own).append("\n")
    return words("".join(own).splitlines()) + words("".join(only).splitlines()), words("".join(only).splitlines())


def of_html(page: helpers_html.Element) -> tuple[Counter[str], Counter[str]]:
    """Give the words, and those of them that only a page has: captions, heads, pictures, what kind it is, folds."""
    body = page.one("body")
    beyond = [fold for fold in page.all("details") if fold.all("summary", "brief")]
    inside = {id(one) for fold in beyond for one in fold.all()}
    only: list[helpers_html.Element | str] = [part for fold in beyond for part in fold.inside[1:]]
    heads = [*page.all("thead"), *page.all("caption"), *page.all("nav"), *page.all("span", "kind")]
    heads += page.all("figure")  # a picture says again, for whoever does not see it, what stands beside it
    heads += [
        *page.all("a", "skip"),
        *page.all("p", "foot"),
        *(one for one in page.all("summary") if "brief" not in one.css),
    ]
    only += [one for one in heads if id(one) not in inside]
    return words([body.text]), words(part if isinstance(part, str) else part.text for part in only)


@pytest.mark.parametrize("name", OF_DEMO)
def test_all_formats_say_the_same_words(
    island: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys, name: str
) -> None:
    """What one says, each other says as often; but a page heads its tables, and a terminal cuts what has no room."""
    monkeypatch.chdir(island)
    said = {form: run(capsys, *OF_DEMO[name], "--format", form).out for form in ("text", "markdown", "html")}

    text = of_text(said["text"])
    page = helpers_html.parsed(said["html"])
    brief = {" ".join(one.text.split()) for one in page.all("summary", "brief")}
    markdown, of_its_own = of_markdown(said["markdown"], brief)
    shown, only_there = of_html(page)
    kind = words(element.text for element in page.all("span", "kind"))

    # a word that was cut stands for one that is not here
    text = Counter({word: count for word, count in text.items() if not word.endswith("\u2026")})
    cut = "\u2026" in said["text"]

    assert text
    assert Counter() == text - markdown, "in the text and not in markdown"
    assert Counter() == text - shown, "in the text and not in HTML"
    assert cut or Counter() == markdown - of_its_own - kind - text, "in markdown and not in the text"
    assert cut or Counter() == shown - only_there - text, "in HTML and not in the text"
