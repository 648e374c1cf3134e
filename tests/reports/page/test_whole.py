"""The top of the page: whether to merge, and why not."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from formula_vcs.evidence.duties import Duty
from formula_vcs.figures.figure import Terms
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.reports.page import whole
from formula_vcs.reports.page.first_facts import first_facts
from formula_vcs.review.compare import Comparison, NewFinding, compare
from formula_vcs.review.way_out import way_out
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.helpers_demo import DAY, texts
from tests.helpers_html import parsed
from tests.helpers_page import MORE_PRESERVATIVE, SWAP, review

POLISH = review("face-polish", SWAP, MORE_PRESERVATIVE)
CREAM = review("hand-cream", ("hand-cream.toml", '"6 min"', '"7 min"'))


NOTHING = Comparison("old", "new", (), (), (), 0)


def fresh(rule: str, severity: Severity, words: str = "wrong", cause: str = "") -> NewFinding:
    return NewFinding(Finding(rule, severity, words, "x.toml"), (cause,) if cause else ())


def test_what_blocks_stands_first_with_its_cause() -> None:
    page = parsed(whole.verdict(NOTHING, [POLISH, CREAM], blocked=True, evidence=False))

    assert "Do not merge" == page.one("p", "answer").text
    assert "3 findings block, in 1 of 2 changed recipes." in page.text
    first, second = page.all("li")
    assert "(and 1 more like it)" in first.text
    assert "because silica-thickening \u2192 silica-polishing (A): another grade" in first.text
    assert "Benzyl Alcohol: 1.056 %; 1.00 % is allowed" in second.text


def test_nothing_blocks() -> None:
    page = parsed(whole.verdict(NOTHING, [CREAM], blocked=False, evidence=True))

    assert "Nothing blocks this merge" == page.one("p", "answer").text
    assert "safety assessor" in page.text
    assert page.all("div", "good")


def test_warnings_are_counted() -> None:
    one = replace(CREAM, new=(fresh("a", "warn"), fresh("b", "note")), still=())

    page = parsed(whole.verdict(NOTHING, [one], blocked=False, evidence=True))

    assert "Besides: 1 warning, 1 note." in page.text
    assert page.all("div", "warn")


def test_fail_on_holds_a_merge_back() -> None:
    page = parsed(whole.verdict(NOTHING, [replace(CREAM, new=(fresh("a", "warn"),))], blocked=True, evidence=True))

    assert "Do not merge yet" == page.one("p", "answer").text
    assert "--fail-on" in page.text


def test_many_reasons_are_counted_and_long_ones_cut() -> None:
    news = tuple(fresh(f"rule-{n}", "block", "word " * 200) for n in range(9))

    page = parsed(whole.verdict(NOTHING, [replace(CREAM, new=news)], blocked=True, evidence=True))

    assert whole.MOST_REASONS + 1 == len(page.all("li"))
    assert f"and {9 - whole.MOST_REASONS} more reasons" in page.text
    assert max(len(line.text) for line in page.all("li")) < whole.MOST_LETTERS + 100


def test_a_finding_that_is_still_there_blocks_too() -> None:
    still = Finding("total", "block", "adds up to 99", "x.toml")

    page = parsed(whole.verdict(NOTHING, [replace(CREAM, still=(still,))], blocked=True, evidence=True))

    assert "adds up to 99" in page.one("li").text


def test_recipes_are_ordered_by_how_they_stand() -> None:
    warned = replace(CREAM, recipe="b", new=(fresh("a", "warn"),))

    assert [POLISH, warned, CREAM] == whole.worst_first([CREAM, warned, POLISH])


def test_the_contents_are_a_table_that_leads_to_every_recipe() -> None:
    nav = parsed(whole.contents([POLISH, CREAM])).one("nav")

    assert ["#r1", "#r2"] == [a.attributes["href"] for a in nav.all("a")]
    heads = ["recipe", "state", "changes", "cost of 1 kg", "nearest to a limit", "label", "to do"]
    assert heads == [cell.text for cell in nav.one("thead").all("th")]
    polish, cream = (row.text for row in nav.one("tbody").all("tr"))
    assert polish.startswith("Tideline face polish blocked 2 changes +1.0 %")
    assert "Benzyl Alcohol 1.056 %, at most 1.00 %" in polish
    assert cream.startswith("Skerry hand cream nothing blocks 1 change")


def test_costs_have_one_scale_over_all_recipes() -> None:
    """The larger of two differences takes 48 % of the width to one side, the other its part of that."""
    dear = review("hand-cream", ("hand-cream.toml", "glycerin          = 5.00", "glycerin          = 9.00"))
    shown = [
        abs(found.cost.relative or Fraction(0)) if found.cost is not None else Fraction(0)
        for found in map(first_facts, (POLISH, dear))
    ]
    bars = [float(bar.attributes["width"].rstrip("%")) for bar in parsed(whole.contents([POLISH, dear])).all("rect")]

    assert 48 == max(bars)
    assert float(min(shown) / max(shown)) == pytest.approx(min(bars) / max(bars), abs=0.01)


def test_the_answer_has_cost_limits_label_duties_and_the_way_out() -> None:
    text = parsed(whole.verdict(NOTHING, [POLISH, CREAM], blocked=True, evidence=True)).text

    assert "2 changes block" in text
    assert "without them nothing does, and the rest can be merged" in text
    assert "EUR/kg, +1.0 %" in text
    assert "Benzyl Alcohol 1.056 % (at most 1.00 %: over the limit)" in text


def test_the_way_out_is_tried_and_not_guessed() -> None:
    """Two reasons that hang together: without one change the other still blocks."""
    found = way_out(POLISH)
    assert found is not None
    assert {"benzyl-alcohol-dha", "silica-thickening"} == {change.where.rpartition("/")[2] for change in found.changes}
    assert ((), False) == (found.left, found.rest)
    before = ("face-polish.toml", "benzyl-alcohol-dha  = 0.80", "benzyl-alcohol-dha  = 1.20")
    old = Snapshot(Files(texts(before), "old"))
    new = Snapshot(Files(texts(before, SWAP), "new"))
    half = way_out(compare(old, new, Terms(DAY), ("face-polish",)).reviews[0])
    assert half is not None
    assert ["limit"] == [finding.rule for finding in half.left]
    assert way_out(CREAM) is None


def test_the_same_cause_in_several_recipes_is_one_reason() -> None:
    twin = replace(POLISH, recipe="other", title="Other polish")
    page = parsed(whole.verdict(NOTHING, [POLISH, twin], blocked=True, evidence=True))

    first = page.all("li")[0]
    assert ["#r1b", "#r2b"] == [a.attributes["href"] for a in first.all("a")]
    assert 2 == len(page.all("li"))


def test_duties_make_the_answer_amber_and_say_so() -> None:
    duty = Duty("Make the artwork anew", "packaging", (), "AW-1", "source")
    page = parsed(whole.verdict(NOTHING, [replace(CREAM, duties=(duty,))], blocked=False, evidence=True))

    assert "Nothing blocks this merge, but 1 thing has to be done" == page.one("p", "answer").text
    assert page.all("div", "warn")
    assert "packaging: make the artwork anew" in page.text
    assert "to be done" in parsed(whole.contents([replace(CREAM, duties=(duty,))])).text


def test_many_recipes_are_folded_behind_the_first() -> None:
    nav = parsed(whole.contents([CREAM] * (whole.MOST_NAMED + 7))).one("nav")

    assert "7 more recipes" == nav.one("summary").text
    assert whole.MOST_NAMED + 7 == len(nav.all("a"))
    assert 7 == len(nav.one("details").all("a"))
