"""The page of a recipe's versions: charts that say what the table says, for every reader, and nothing that runs."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from formula_vcs.reports.log import html as log_html
from formula_vcs.reports.page.time_chart import Dot, step_chart
from tests.commands.bench_repo import HOSTILE, HOSTILE_TOML, run
from tests.git.helpers_git import settle
from tests.helpers_browser import Browser, session
from tests.helpers_html import Element, parsed, strange
from tests.history.helpers_history import CREAM, Shed, material

Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def shed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shed:
    """Give a shed with four versions, and stand in it."""
    settle(monkeypatch, tmp_path)
    shed = Shed(tmp_path / "shed")
    shed.edit("Less glycerin\n\nReason: tack", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.commit("Price", {"ingredients/oil.toml": material("Oil", "Helianthus Annuus Seed Oil", price="4.00")})
    shed.edit("More oil", ("oil      = 6.00", "oil      = 8.00"))
    monkeypatch.chdir(shed.path)
    return shed


def page_of(capsys: Capsys, *words: str) -> Element:
    return parsed(run(capsys, "log", "cream", "--format", "html", *words).out)


def test_it_holds_only_what_a_page_of_ours_may(shed: Shed, capsys: Capsys) -> None:
    assert [] == strange(page_of(capsys))


def test_headings_go_down_one_level_at_a_time(shed: Shed, capsys: Capsys) -> None:
    page = page_of(capsys, "--figure", "water", "--below", "88.5")

    levels = [int(element.tag[1]) for element in page.all() if element.tag in ("h1", "h2", "h3", "h4")]
    assert 1 == levels[0]
    assert 1 == levels.count(1)
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_a_chart_for_each_figure_with_a_mark_for_each_version(shed: Shed, capsys: Capsys) -> None:
    page = page_of(capsys, "--figure", "cost_per_kg", "--figure", "water")

    pictures = [svg for svg in page.all("svg") if "defs" not in svg.css]
    assert 2 == len(pictures)
    for picture in pictures:
        assert "img" == picture.attributes["role"]
        assert picture.one("desc").text.startswith("4 versions from 2026-01-02 to 2026-01-05")
        assert (4, 1) == (len(picture.all("circle")), len(picture.all("circle", "open")))


def test_the_table_has_what_the_chart_has(shed: Shed, capsys: Capsys) -> None:
    """Water is what is left of 100: 89, 90 with less glycerin, the same at another price, 88 with more oil."""
    page = page_of(capsys, "--figure", "water")

    rows = [[cell.text for cell in row.all("td", "n")] for row in page.one("tbody").all("tr")]
    assert [["88.00"], ["90.00"], ["90.00"], ["89.00"]] == rows
    heads = [row.one("th").text for row in page.one("tbody").all("tr")]
    assert ["4. ", "3. ", "2. ", "1. "] == [head[:3] for head in heads]
    numbers = {text.text for text in page.all("text") if text.text.isdigit()}
    assert {"1", "2", "3", "4"} == numbers


def test_a_line_that_was_asked_for_is_drawn_and_named(shed: Shed, capsys: Capsys) -> None:
    page = page_of(capsys, "--figure", "water", "--below", "88.5")

    assert 1 == sum("limit" in line.css for line in page.all("line"))
    assert "below 88.5 %" in [text.text for text in page.all("text")]
    assert "First below 88.5 % on 2026-01-05" in page.one("main").text


def test_one_version_has_no_chart(shed: Shed, capsys: Capsys) -> None:
    shed.commit("Gel", {"gel.toml": CREAM})

    page = parsed(run(capsys, "log", "gel", "--format", "html").out)

    assert [] == [svg for svg in page.all("svg") if "defs" not in svg.css]
    assert "the recipe begins" in page.one("main").text


def test_versions_of_one_moment_and_an_unknown_figure(shed: Shed, capsys: Capsys) -> None:
    shed._day -= 1
    shed.commit("No price", {"ingredients/oil.toml": material("Oil", "Squalane").partition("\n[[price]]")[0] + "\n"})

    page = page_of(capsys, "--figure", "cost_per_kg", "-n", "2")

    (picture,) = [svg for svg in page.all("svg") if "defs" not in svg.css]
    assert 1 == len(picture.all("circle"))
    assert "is not known: oil: no price" in page.one("main").text


# In a browser


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start the browser once."""
    with session() as started:
        yield started


@pytest.fixture
def hostile(shed: Shed, capsys: Capsys, tmp_path: Path) -> Path:
    """Write a page whose every text comes from somebody who means harm."""
    words = HOSTILE.replace("\n", " ") + "<script>alert(1)</script><img src=x onerror=alert(2)>"
    shed.edit(f"{words}\n\nReason: {words}", ('title = "Cream"', f'title = "{HOSTILE_TOML}<svg onload=alert(3)>"'))
    shed.edit(f"{words} again", ("glycerin = 4.00", 'glycerin = { pct = 3, note = "<script>alert(4)</script>" }'))
    file = tmp_path / "log.html"
    file.write_text(run(capsys, "log", "cream", "--format", "html", "--figure", "water", "--above", "90").out, "utf-8")
    return file


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_reaches_over_the_edge_and_nothing_runs(
    browser: Browser, hostile: Path, width: int, scheme: str
) -> None:
    with browser.page(hostile, width=width, scheme="dark" if scheme == "dark" else "light") as page:
        assert [] == page.overflowing()
        assert [] == page.ran
        assert [] == page.sent
        assert [] == page.dialogs
        assert min(page.text_sizes()) >= 12


def test_a_page_draws_what_the_recipe_claims_with_the_mark_as_a_line(shed: Shed, capsys: Capsys) -> None:
    shed.edit("Claim", ('title = "Cream"', 'title = "Cream"\nclaims = ["natural-origin at least 95 %"]'))
    page = page_of(capsys)

    assert "claim: natural-origin at least 95 %" in page.text
    assert "cost per kg" in page.text.casefold()
    assert "made by git-formula" in page.text


def test_a_figure_that_never_moves_is_a_sentence_and_a_last_digit_no_cliff() -> None:
    flat = [dot(n, "99.30") for n in range(3)]
    assert "C: 99.30 in all 3 versions." == parsed(step_chart("C", "%", flat)).text
    near = parsed(step_chart("C", "%", [dot(0, "99.30"), dot(1, "99.31")]))
    steps = [abs(float(line.attributes["y1"]) - float(line.attributes["y2"])) for line in near.all("line", "l1")]

    # 0.01 on a scale of 1 % of 99.31, 112 px high: 1.13 px
    assert 1.13 == pytest.approx(max(steps), abs=0.01)


def dot(day: int, value: str) -> Dot:
    return Dot(datetime.datetime(2026, 1, 1 + day, tzinfo=datetime.UTC), Fraction(value), value, value, under=False)


def test_renewed_papers_are_folded_into_one_line() -> None:
    papers = [f"m{n}, origin source: supplier statement, 2025 \u2192 2026" for n in range(3)]
    papers.append("m9, certificate 1 valid to: 2026-06-30 \u2192 2027-06-30")
    told, renewed = log_html._parted(["glycerin: 5 \u2192 6 %", *papers])

    assert (["glycerin: 5 \u2192 6 %"], papers) == (told, renewed)
    assert "3 supplier statements and 1 certificate renewed" == log_html._renewed(renewed)
    assert (papers[:2], []) == log_html._parted(papers[:2])
