"""The page as a reviewer sees it: on a laptop, on a phone, by keyboard, on paper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from formula_vcs.evidence.duties import Duty
from formula_vcs.reports.review import html as review_html
from formula_vcs.review.compare import Review
from tests.helpers_browser import Browser, Scheme, session
from tests.helpers_page import MORE_PRESERVATIVE, SWAP, compared

LONG = "a-very-long-name-of-a-material-that-somebody-thought-of-on-a-friday-afternoon"
EDITS = (
    SWAP, MORE_PRESERVATIVE, ("hand-cream.toml", 'time  = "6 min"', 'time  = "9 min"'),
    ("hand-cream.toml", "glycerin          = 5.00", f"glycerin = 4.00\n{LONG} = 1.00"),
)  # fmt: skip
LONG_FILE = {f"ingredients/{LONG}.toml": f'title = "{LONG.replace("-", " ")}"\n[substances]\n"{LONG}" = 100\n'}


def duty(of: Review) -> Duty:
    causes = tuple(change.id for change in of.changes)
    lines = tuple(f"{change.text} (beyond 10 %)" for change in of.changes)
    return Duty(
        "Repeat the stability study", "formulator", causes, "stability ST-2026-014", "SUPAC-SS III",
        standing=True, kind="stability", lines=lines,
    )  # fmt: skip


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with session() as started:
        yield started


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "review.html"
    found = compared(*EDITS, more=LONG_FILE)
    reviews = tuple(replace(one, duties=(duty(one),)) for one in found.reviews)
    with path.open("w", encoding="utf-8") as out:
        review_html.write(
            replace(found, reviews=reviews), title="main...proposal", evidence=False, blocked=True, out=out
        )
    return path


def test_a_laptop_shows_the_answer_without_scrolling(browser: Browser, page: Path) -> None:
    with browser.page(page, width=1280, height=800) as view:
        assert view.in_sight("#verdict")
        assert view.in_sight("#verdict .reasons")
        assert view.in_sight("nav")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390, 320])
def test_nothing_sticks_out_and_nothing_is_tiny(browser: Browser, page: Path, width: int, scheme: Scheme) -> None:
    """320 px is what WCAG 2.2 (1.4.10, reflow) asks for: a page of 1280 px at 400 %."""
    with browser.page(page, width=width, height=844, scheme=scheme) as view:
        view.run("() => document.querySelectorAll('details').forEach(d => { d.open = true; })")

        assert [] == view.overflowing()
        assert min(view.text_sizes()) >= 12


def test_words_in_pictures_stay_inside_them(browser: Browser, page: Path) -> None:
    script = """() => [...document.querySelectorAll('svg text')].filter(t => {
      const box = t.getBoundingClientRect(), frame = t.ownerSVGElement.getBoundingClientRect();
      return box.width > 0 && (box.left < frame.left - 2 || box.right > frame.right + 2);
    }).map(t => t.textContent)"""
    for width in (1280, 390):
        with browser.page(page, width=width) as view:
            assert [] == view.run(script)


def test_tab_goes_from_the_top_to_the_end(browser: Browser, page: Path) -> None:
    with browser.page(page) as view:
        stops = view.tab_stops()

    assert "a: To the content" == stops[0]
    assert "a: Tideline face polish" == stops[1]
    assert "a: Skerry hand cream" in stops
    assert any(stop.startswith("summary: ") for stop in stops)
    assert any(stop.startswith("div: Figures that move") for stop in stops)


def test_dark_and_light_differ(browser: Browser, page: Path) -> None:
    colours = []
    for scheme in ("light", "dark"):
        with browser.page(page, scheme=scheme) as view:
            colours.append(view.run("() => getComputedStyle(document.body).backgroundColor"))

    assert ["rgb(250, 248, 242)", "rgb(20, 25, 26)"] == colours


def test_every_mark_has_a_fill(browser: Browser, page: Path) -> None:
    """A class without a style, or a hatch that is not defined, would leave a bar black or unseen."""
    script = """() => [...document.querySelectorAll('svg:not(.defs) rect, svg:not(.defs) circle')].filter(e => {
      const fill = getComputedStyle(e).fill, hatch = fill.match(/url\\("#(.*)"\\)/);
      return hatch ? !document.getElementById(hatch[1]) : fill === 'rgb(0, 0, 0)' || fill === 'none';
    }).map(e => e.outerHTML)"""
    with browser.page(page) as view:
        assert [] == view.run(script)


def test_paper_shows_what_is_folded(browser: Browser, page: Path, tmp_path: Path) -> None:
    with browser.page(page) as view:
        view.view.emulate_media(media="print")
        heights = view.run("() => [...document.querySelectorAll('details > :not(summary)')].map(e => e.offsetHeight)")
    browser.print_pdf(page, tmp_path / "review.pdf")

    assert heights
    assert all(height > 0 for height in heights)
    assert (tmp_path / "review.pdf").read_bytes().startswith(b"%PDF")


def test_it_asks_for_nothing_and_runs_nothing(browser: Browser, page: Path) -> None:
    with browser.page(page) as view:
        assert ([], [], [], []) == (view.sent, view.ran, view.dialogs, view.errors)


def test_the_watch_sees_what_it_is_there_for(browser: Browser, tmp_path: Path) -> None:
    """A page without our policy runs, asks and pops up: the proofs above can fail."""
    bad = tmp_path / "bad.html"
    bad.write_text("<script>alert(1)</script><img src='https://example.org/x.png' onerror='fetch(2)'>", "utf-8")

    with browser.page(bad) as view:
        view.view.wait_for_timeout(300)
        assert ["https://example.org/x.png"] == view.sent
        assert "alert: 1" in view.ran
