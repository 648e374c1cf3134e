"""When a figure crossed a line: on real histories, with the change that did it."""

from __future__ import annotations

import datetime
from fractions import Fraction
from pathlib import Path

import pytest

from formula_vcs.history.crossing import Crossing, Threshold, crossings, terms_at
from tests.git.helpers_git import settle
from tests.history.helpers_history import Shed, material

ORGANIC = ("oil      = 6.00", "oil-organic = 6.00")


@pytest.fixture
def shed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shed:
    """Give a shed with its first commit."""
    settle(monkeypatch, tmp_path)
    return Shed(tmp_path / "shed")


def asked(
    shed: Shed, figure: str, value: str, *, below: bool = True, day: datetime.date | None = None, first: bool = False
) -> list[Crossing]:
    found = shed.history(first_parent=first).versions
    return crossings(found, Threshold(figure, below, Fraction(value)), terms_at(day))


def told(found: list[Crossing]) -> list[tuple[str, bool, list[str]]]:
    return [
        (crossing.version.commit.subject, crossing.back, [doer.change.id for doer in crossing.doers])
        for crossing in found
    ]


def test_the_commit_that_took_the_organic_share_under_its_limit(shed: Shed) -> None:
    """6 % of organic oil; the swap of the grade takes the share to 0, and the spec changed with it has no part."""
    shed.edit("Organic", ORGANIC, ('"B/oil"', '"B/oil-organic"'))
    shed.edit("Glycerin", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.edit("Cheaper", (ORGANIC[1], ORGANIC[0]), ('"B/oil-organic"', '"B/oil"'), ("5 to 6", "5 to 7"))
    shed.edit("Later", ("5 min", "9 min"))

    found = asked(shed, "organic", "5")

    assert [("Begin", False, []), ("Organic", True, ["grade-swap:phase/B/charge/oil"]),
            ("Cheaper", False, ["grade-swap:phase/B/charge/oil-organic"])] == told(found)  # fmt: skip
    last = found[-1]
    assert last.before is not None
    assert (Fraction(6), Fraction(0)) == (last.before.value, last.after.value)
    assert [Fraction(-6)] == [doer.share for doer in last.doers]


def test_an_ingredient_file_alone_can_do_it(shed: Shed) -> None:
    """The index of the oil falls from 1 to 0.1: 6 % x 0.9 are lost, 100 to 94.6 %."""
    shed.edit("Glycerin", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.commit(
        "Statement", {"ingredients/oil.toml": material("Oil", "Helianthus Annuus Seed Oil", natural_origin="0.1")}
    )

    found = asked(shed, "natural_origin", "95")

    assert [("Statement", False, ["ingredient:ingredient/oil/origin/natural_origin"])] == told(found)
    assert Fraction("94.6") == found[0].after.value


def test_exactly_on_the_line_is_not_past_it(shed: Shed) -> None:
    shed.edit("More", ("glycerin = 5.00", "glycerin = 6.00"))

    assert [] == asked(shed, "water", "88")
    assert [] == asked(shed, "water", "89", below=False)
    assert [("More", False, ["amount:phase/A/charge/glycerin"])] == told(asked(shed, "water", "88.5"))


def test_several_changes_that_cross_only_together(shed: Shed) -> None:
    shed.edit(
        "Both", ("glycerin = 5.00", "glycerin = 6.00"), ("oil      = 6.00", "oil      = 7.00"), ("5 min", "9 min")
    )

    (crossing,) = asked(shed, "water", "87.5")

    assert {"amount:phase/A/charge/glycerin", "amount:phase/B/charge/oil"} == {
        doer.change.id for doer in crossing.doers
    }


def test_a_merge_of_two_harmless_sides(shed: Shed) -> None:
    """Each side takes 1 % of water, and only together they cross; the merge names the side's commit."""
    shed.branch("side")
    shed.edit("Side", ("oil      = 6.00", "oil      = 7.00"))
    shed.switch("main")
    shed.edit("Main", ("glycerin = 5.00", "glycerin = 6.00"))
    shed.git("merge", "--quiet", "--no-ff", "--no-commit", "--strategy=ours", "side")
    shed.edit("Merge", ("oil      = 6.00", "oil      = 7.00"))

    (crossing,) = asked(shed, "water", "87.5")

    assert "Merge" == crossing.version.commit.subject
    assert ["Side"] == [doer.version.commit.subject for doer in crossing.doers]


def test_a_side_that_crossed_is_named_and_not_its_merge(shed: Shed) -> None:
    shed.branch("side")
    shed.edit("Side", ("oil      = 6.00", "oil      = 8.00"))
    shed.switch("main")
    shed.edit("Main", ("5 min", "9 min"))
    shed.git("merge", "--quiet", "--no-ff", "--no-commit", "--strategy=ours", "side")
    shed.edit("Merge", ("oil      = 6.00", "oil      = 8.00"))

    assert ["Side"] == [item[0] for item in told(asked(shed, "water", "87.5"))]
    assert ["Merge"] == [item[0] for item in told(asked(shed, "water", "87.5", first=True))]


def test_a_price_that_came_into_force_between_two_commits(shed: Shed) -> None:
    """Stated on the 3rd to hold from the 4th: the commit of the 4th only changes a time, and the calendar did it."""
    dear = material("Oil", "Helianthus Annuus Seed Oil") + '\n[[price]]\ncost = "50 EUR/kg"\nsince = 2026-01-04\n'
    shed.commit("Letter", {"ingredients/oil.toml": dear})
    shed.edit("Time", ("5 min", "9 min"))

    found = asked(shed, "cost_per_kg", "1", below=False)

    assert [("Time", False, [])] == told(found)
    assert found[0].calendar
    assert ["Letter"] == [
        item[0] for item in told(asked(shed, "cost_per_kg", "1", below=False, day=datetime.date(2026, 2, 1)))
    ]


def test_an_unknown_figure_in_between_is_no_crossing(shed: Shed) -> None:
    """The price of the oil goes and comes back: the cost is not known in between, and is where it was."""
    text = material("Oil", "Helianthus Annuus Seed Oil")
    shed.commit("No price", {"ingredients/oil.toml": text.partition("\n[[price]]")[0] + "\n"})
    shed.commit("Again", {"ingredients/oil.toml": text})

    assert [("Begin", False, [])] == told(asked(shed, "cost_per_kg", "0.1", below=False))


def test_never(shed: Shed) -> None:
    shed.edit("Less", ("glycerin = 5.00", "glycerin = 4.00"))

    assert [] == asked(shed, "natural_origin", "50")


def test_with_very_many_changes_a_set_that_suffices_is_said_not_to_be_the_smallest(
    shed: Shed, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever is left when the work is done still takes the figure over the line."""
    monkeypatch.setattr("formula_vcs.history.crossing._WORK", 0)
    monkeypatch.setattr("formula_vcs.history.crossing._LEAST_TRIED", 0)
    shed.edit("Organic", ORGANIC, ('"B/oil"', '"B/oil-organic"'), ("glycerin = 5.00", "glycerin = 4.00"))

    found = asked(shed, "organic", "5")

    assert not found[-1].smallest
    assert {"grade-swap:phase/B/charge/oil", "amount:phase/A/charge/glycerin"} <= {
        doer.change.id for doer in found[-1].doers
    }
