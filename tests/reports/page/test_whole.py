"""The top of the page: whether to merge, and why not."""

from __future__ import annotations

from dataclasses import replace

from formula_vcs.model.finding import Finding, Severity
from formula_vcs.reports.page import whole
from formula_vcs.review.compare import Comparison, NewFinding
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


def test_the_contents_lead_to_every_recipe() -> None:
    nav = parsed(whole.contents([POLISH, CREAM])).one("nav")

    assert ["#r1", "#r2"] == [a.attributes["href"] for a in nav.all("a")]
    assert [
        "Tideline face polish blocked 2 changes; by shear-at-most, limit",
        "Skerry hand cream nothing blocks 1 change",
    ] == [line.text for line in nav.all("li")]


def test_many_recipes_are_folded_behind_the_first() -> None:
    nav = parsed(whole.contents([CREAM] * (whole.MOST_NAMED + 7))).one("nav")

    assert "7 more recipes" == nav.one("summary").text
    assert whole.MOST_NAMED + 7 == len(nav.all("a"))
    assert 7 == len(nav.one("details").all("a"))
