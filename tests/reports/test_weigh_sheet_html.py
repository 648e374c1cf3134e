"""The page of a weigh sheet in a real browser: fits a phone and a screen, runs nothing, prints a sheet a page."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from formula_vcs.batches.plan import lines
from formula_vcs.batches.weigh_sheet import WeighSheet, sheet_of
from formula_vcs.errors import UserError
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.weighing import mass_text
from formula_vcs.model.batch import Batch
from formula_vcs.reports.weigh_sheet.html import page
from formula_vcs.reports.weigh_sheet.pdf import pdf
from formula_vcs.toml.batch_edit import batch_text, facts_in
from tests.helpers_browser import Browser, session
from tests.helpers_demo import demo

HAND = "Skerry hand cream (hand-cream), 25 kg"
EVIL = '"><script>document.title = "owned"</script>\u202e<img src=x onerror=alert(1)>'


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Give a browser for all tests here."""
    with session() as found:
        yield found


def sheet(recipe: str, name: str, *, dry_run: bool = False, more: str = "") -> WeighSheet:
    """Give the sheet of a recipe of the demo at 25 kg, with a name that means ill among its lots."""
    formula = demo(recipe)
    charges: dict[str, dict[str, dict[str, str]]] = {}
    for line in lines(Breakdown(formula)):
        phase, _, ingredient = line.key.partition("/")
        charges.setdefault(phase, {})[ingredient] = {"target": mass_text(line.share * 25), "lot": EVIL}
    steps = [{"id": step.id} for step in formula.recipe.steps]
    header = {"recipe": recipe, "size": "25 kg", "made_by": EVIL}
    text = batch_text(header, charges, steps, {}) + more
    return sheet_of(Batch(name, facts_in(text)), formula, formula.equipment.get, dry_run=dry_run)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the page of two sheets."""
    found = tmp_path_factory.mktemp("sheet") / "sheet.html"
    found.write_text(page([sheet("kelp-gel-4", "hc-1-gel"), sheet("hand-cream", "hc-1")]), "utf-8")
    return found


def test_headings_are_in_order(file: Path) -> None:
    levels = [int(level) for level in re.findall(r"<h([1-6])", file.read_text("utf-8"))]

    assert 1 == levels[0]
    assert 1 == levels.count(1)
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_a_pdf_of_very_many_lines_is_refused_before_it_is_laid_out() -> None:
    """WeasyPrint takes some 4 ms a line and 75 ms a sheet: 200 sheets would hang for a quarter of a minute."""
    with pytest.raises(UserError, match=r"200 sheets: .* html"):
        pdf([sheet("kelp-gel-4", "g")] * 200)


@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_reaches_over_the_edge(browser: Browser, file: Path, width: int) -> None:
    with browser.page(file, width=width) as seen:
        assert [] == seen.overflowing()


def test_nothing_runs_and_nothing_is_fetched(browser: Browser, file: Path) -> None:
    with browser.page(file) as seen:
        assert ([], [], []) == (seen.ran, seen.sent, seen.dialogs)
        assert "Weigh sheet hc-1" == seen.view.title()


def _on_paper(sheets: list[WeighSheet]) -> list[list[str]]:
    """Give the texts of the margins of every page, as WeasyPrint lays them out."""
    from weasyprint import HTML
    from weasyprint.formatting_structure import boxes

    def words_in(box: boxes.Box) -> str:
        if isinstance(box, boxes.TextBox):
            return str(box.text)
        return "".join(map(words_in, box.children)) if isinstance(box, boxes.ParentBox) else ""

    laid_out = HTML(string=page(sheets)).render()
    return [
        [words_in(box) for box in one._page_box.children if isinstance(box, boxes.MarginBox) and words_in(box)]
        for one in laid_out.pages
    ]


def test_every_page_names_the_batch_and_the_recipe_and_its_number() -> None:
    """Two sheets of two and more pages each, mixed on a bench, can be told apart."""
    pages = _on_paper([sheet("kelp-gel-4", "hc-1-gel"), sheet("hand-cream", "hc-1")])

    assert {("Weigh sheet hc-1-gel", "Kelp gel 4 % (kelp-gel-4), 25 kg"), ("Weigh sheet hc-1", HAND)} == {
        (one[0], one[1]) for one in pages
    }
    assert [f"page {n} of {len(pages)}" for n in range(1, len(pages) + 1)] == [one[-1] for one in pages]
    assert not any("dry run" in text for one in pages for text in one)


def test_a_dry_run_is_marked_on_every_page() -> None:
    pages = _on_paper([sheet("hand-cream", "dry-run-hand-cream", dry_run=True)])

    assert len(pages) > 1
    assert all("NOT A BATCH: dry run" in one for one in pages)


def test_masses_are_printed_in_14_pt(browser: Browser, file: Path) -> None:
    with browser.page(file) as seen:
        seen.view.emulate_media(media="print")
        size = seen.run("() => getComputedStyle(document.querySelector('.target strong')).fontSize")

    assert 14 * 4 / 3 == pytest.approx(float(size.removesuffix("px")), abs=0.01)


def test_a_closed_record_has_no_blank_and_shows_its_deviation() -> None:
    more = """
made = "24.6 kg"
packs = 331
closed = 2026-03-06

[[deviation]]
about = "viscosity"
why = "15.8 Pa*s <b>"
decided_by = "Ailsa Thorne"
"""
    header, rest = batch_parts()
    html = page([sheet_of(Batch("hc-1", facts_in(header + more + rest)), demo("hand-cream"), lambda _: None)])

    assert 'class="room"' not in html
    assert "viscosity: 15.8 Pa\u00b7s &lt;b&gt; (decided by Ailsa Thorne)" in html
    assert all(text in html for text in ("24.6 kg", "331", "closed on 2026-03-06, with 1 deviation on record"))


def batch_parts() -> tuple[str, str]:
    """Give the header of a record as text, and a charge of it."""
    return 'recipe = "hand-cream"\nsize = "25 kg"\n', '\n[phase.A.charge]\nwater = { target = "25 kg" }\n'


def test_a_sheet_begins_a_page_when_it_is_printed(browser: Browser, file: Path, tmp_path: Path) -> None:
    """Two recipes take at least as many pages as each by itself."""
    alone = []
    for name in ("hand-cream", "kelp-gel-4"):
        one = tmp_path / f"{name}.html"
        one.write_text(page([sheet(name, "hc-1")]), "utf-8")
        alone.append(_pages(browser, one, tmp_path))

    assert sum(alone) == _pages(browser, file, tmp_path)


def _pages(browser: Browser, file: Path, folder: Path) -> int:
    out = folder / "out.pdf"
    browser.print_pdf(file, out)
    return len(re.findall(rb"/Type\s*/Page[^s]", out.read_bytes()))
