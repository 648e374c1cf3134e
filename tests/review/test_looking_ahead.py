"""What a review says of days to come, of what is accepted of the law, and of a market that is new."""

from __future__ import annotations

import datetime
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from formula_vcs.figures.figure import Terms
from formula_vcs.reports.hosts import remarks
from formula_vcs.reports.review import html, markdown, text
from formula_vcs.reports.review import json as json_format
from formula_vcs.review.compare import Comparison, compare
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.published.helpers_law import material

DAY = datetime.date(2026, 11, 24)
SCHEMA = json.loads((Path(__file__).resolve().parents[2] / "formula_vcs/reports/schemas/diff.json").read_text("utf-8"))
MATERIALS = {
    "workspace.toml": 'title = "x"\n',
    "ingredients/water.toml": material({"Aqua": 100}),
    "ingredients/zinc.toml": material({"Zinc Chloride": 100}),
    "ingredients/wax.toml": material({"Cera Alba": 100}),
    "ingredients/preservative.toml": material({"Phenoxyethanol": 100}),
}


def _rinse(charges: str, markets: str = '"EU"', more: str = "") -> dict[str, str]:
    head = f'title = "Rinse"\nproduct = "mouthwash"\nmarkets = [{markets}]\n[phase.A.charge]\nwater = "to 100"\n'
    return MATERIALS | {"rinse.toml": f"{head}{charges}\n{more}"}


def _compared(old: dict[str, str], new: dict[str, str], day: datetime.date = DAY) -> Comparison:
    with Snapshot(Files(old)) as before, Snapshot(Files(new)) as after:
        return compare(before, after, Terms(day))


def _written(writer: Any, comparison: Comparison) -> str:
    out = io.StringIO()
    writer.write(comparison, title="old, new", evidence=False, blocked=False, out=out)
    return " ".join(out.getvalue().split())


def _every(comparison: Comparison) -> Iterator[tuple[str, str]]:
    for writer in (text, markdown, html):
        yield writer.__name__, _written(writer, comparison)
    for form in ("github", "gitlab", "sarif", "junit"):
        out = io.StringIO()
        remarks.write(form, remarks.of_review(comparison), "review", blocked=False, out=out)
        yield form, " ".join(out.getvalue().split())


def test_what_a_change_brings_in_says_its_days() -> None:
    """III/24(c): 0.1 % Zn in mouthwash, placed from 2027-01-01, sold until 2028-06-30 (Regulation (EU) 2026/909)."""
    (review,) = _compared(_rinse(""), _rinse("zinc = 0.5")).reviews
    (item,) = review.ahead

    assert ("2027-01-01", "2028-06-30", "") == (str(item.day), str(item.sold), item.raised)
    assert "limit" == item.finding.rule
    assert "Regulation (EC) No 1223/2009, Annex III/24(c)" == item.finding.source
    assert ("added:phase/A/charge/zinc",) == item.causes
    assert [] == [new for new in review.new if new.finding.rule == "limit"]


def test_what_was_coming_and_is_raised() -> None:
    (review,) = _compared(_rinse("zinc = 0.5"), _rinse("zinc = 0.6")).reviews

    assert ["Zinc Chloride: 0.50 % → 0.60 %"] == [item.raised for item in review.ahead]


@pytest.mark.parametrize("now", ["zinc = 0.4", "zinc = 0.5\nwax = 1", "zinc = 0.2"])
def test_what_was_coming_and_is_not_more(now: str) -> None:
    """Less of it, as much of it, and 0.2 % (0.096 % Zn), which is allowed then too."""
    (review,) = _compared(_rinse("zinc = 0.5"), _rinse(now)).reviews

    assert () == review.ahead


def test_a_new_recipe_brings_all_of_it_in() -> None:
    (review,) = _compared(MATERIALS, _rinse("zinc = 0.5")).reviews

    assert ("added", 1) == (review.status, len(review.ahead))


@pytest.mark.parametrize(("day", "count"), [("2024-12-31", 0), ("2025-01-01", 1), ("2026-12-31", 1), ("2027-01-01", 0)])
def test_within_24_months(day: str, count: int) -> None:
    """The last day of the 24 months counts; on the day itself it is no deadline any more but a finding."""
    (review,) = _compared(_rinse(""), _rinse("zinc = 0.5"), datetime.date.fromisoformat(day)).reviews

    assert count == len(review.ahead)


def test_every_format_says_the_days() -> None:
    comparison = _compared(_rinse(""), _rinse("zinc = 0.5"))
    for form, said in _every(comparison):
        assert "from 2027-01-01 on" in said, form
        assert "on sale until 2028-06-30" in said, form
        assert "Annex III/24(c)" in said, form

    data = json.loads(_written(json_format, comparison))
    jsonschema.validate(data, SCHEMA)
    (item,) = data["recipes"][0]["findings"]["ahead"]
    assert ("2027-01-01", "2028-06-30") == (item["from"], item["sold_until"])


ACCEPTED = '[[accept]]\nrule = "limit"\nabout = "eu-v-29/phenoxyethanol"\nwhy = "for export"\n'


def test_what_is_accepted_of_the_law_is_said_first() -> None:
    comparison = _compared(_rinse("preservative = 1.2"), _rinse("preservative = 1.3", more=ACCEPTED))
    for form, words in _every(comparison):
        assert "(accepted: for export)" in words, form
    said = _written(text, comparison)

    assert said.index("Accepted, though the law says otherwise: rinse: limit 'eu-v-29") < said.index("What changed")
    data = json.loads(_written(json_format, comparison))
    jsonschema.validate(data, SCHEMA)
    assert ["limit"] == [finding["rule"] for finding in data["accepted"]]


def test_what_was_accepted_before_is_said_too() -> None:
    (review,) = _compared(
        _rinse("preservative = 1.2", more=ACCEPTED), _rinse("preservative = 1.2\nwax = 1", more=ACCEPTED)
    ).reviews

    assert ["limit"] == [finding.rule for finding in review.accepted]


def test_what_is_no_law_is_not_among_it() -> None:
    """A margin, a note, a rule of the trade: accepted under review like everything, and not said first."""
    more = '[[accept]]\nrule = "preserved"\nwhy = "used within a day"\n'
    (review,) = _compared(_rinse(""), _rinse("wax = 1", more=more)).reviews

    assert () == review.accepted


def test_a_market_that_is_new_brings_its_list() -> None:
    comparison = _compared(_rinse("wax = 2"), _rinse("wax = 2", '"EU", "US"'))
    (review,) = comparison.reviews

    assert [("US", ["Water", "Beeswax"])] == [(market, [line.inci for line in lines]) for market, lines in review.lists]
    for writer in (text, markdown, html):
        assert "ngredient list (US), a market that is new" in _written(writer, comparison), writer
        assert "Water, Beeswax" in _written(writer, comparison), writer
    data = json.loads(_written(json_format, comparison))
    jsonschema.validate(data, SCHEMA)
    assert [{"market": "US", "printed": "Water, Beeswax", "names": ["Water", "Beeswax"]}] == data["recipes"][0]["lists"]


@pytest.mark.parametrize("markets", ['"EU"', '"EU", "UK"'])
def test_no_list_for_a_market_that_was_there_or_that_nobody_knows(markets: str) -> None:
    reviews = _compared(_rinse("wax = 2"), _rinse("wax = 2.5", markets)).reviews

    assert [()] == [review.lists for review in reviews]
