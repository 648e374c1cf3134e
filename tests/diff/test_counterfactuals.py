"""What brings a finding and what cures one: the smallest set of changes, found by trying."""

from __future__ import annotations

import datetime
from collections.abc import Callable

import pytest

from formula_vcs.diff.counterfactuals import (
    Counterfactuals,
    TooMuchError,
    all_findings,
    causes,
    cures,
    raises,
    smallest,
)
from formula_vcs.diff.diff import diff
from formula_vcs.figures.figure import Terms
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.review.compare import Review, compare
from formula_vcs.rules.registry import RULES
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
DAY = datetime.date(2026, 6, 1)

GOOD = """\
title = "Cream"

[phase.A.charge]
water    = "to 100"
glycerin = 5.00
gum      = 0.30

[[step]]
id    = "mix"
into  = "main"
add   = ["A"]
shear = "low"
"""
GUM = 'title = "Gum"\n[substances]\n"Xanthan Gum" = 100\n[handling]\nshear_at_most = "medium"\n'
FILES = {"cream.toml": GOOD, "ingredients/gum.toml": GUM}


def reviewed(workspace: MakeWorkspace, old: dict[str, str], new: dict[str, str]) -> Review:
    found = compare(workspace({**FILES, **old}), workspace({**FILES, **new}), Terms(DAY))
    (review,) = (item for item in found.reviews if item.recipe == "cream")
    return review


def brought(review: Review) -> dict[str, tuple[str, ...] | None]:
    return {item.finding.rule: item.causes for item in review.new}


def cured(review: Review) -> dict[str, tuple[str, ...] | None]:
    return {finding.rule: ids for finding, ids in zip(review.gone, review.cures, strict=True)}


def edited(*pairs: tuple[str, str]) -> dict[str, str]:
    text = GOOD
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    return {"cream.toml": text}


def test_two_changes_that_break_only_together_are_named_together(workspace: MakeWorkspace) -> None:
    """Two amounts that each fill the formula half way leave nothing to the balance; a third one has no part in it."""
    more = edited(("glycerin = 5.00", "glycerin = 60.00"), ("gum      = 0.30", "gum      = 60.00"), ("Cream", "Balm"))
    review = reviewed(workspace, {}, more)

    pair = ("amount:phase/A/charge/glycerin", "amount:phase/A/charge/gum")
    assert pair == brought(review)["balance-left"]
    back = reviewed(workspace, more, {})
    assert cured(back)["balance-left"] in (pair[:1], pair[1:])  # one of the two cures what both together broke


def test_shear_and_a_gentler_material_break_only_together(workspace: MakeWorkspace) -> None:
    rough = edited(('shear = "low"', 'shear = "medium"'))
    review = reviewed(workspace, {}, {**rough, "ingredients/gum.toml": GUM.replace('"medium"', '"low"')})

    assert {
        "shear-at-most": ("step-changed:step/mix/shear", "ingredient:ingredient/gum/handling/shear_at_most")
    } == brought(review)


def test_the_smallest_of_two_sets_is_named(workspace: MakeWorkspace) -> None:
    """High shear alone breaks; so would medium shear with a gentler gum, which takes two changes."""
    rough = edited(('shear = "low"', 'shear = "high"'))
    review = reviewed(workspace, {}, {**rough, "ingredients/gum.toml": GUM.replace('"medium"', '"low"')})

    assert {"shear-at-most": ("step-changed:step/mix/shear",)} == brought(review)


def test_what_is_gone_says_what_cured_it(workspace: MakeWorkspace) -> None:
    rough = edited(('shear = "low"', 'shear = "high"'), ("glycerin = 5.00", "glycerin = 6.00"))
    review = reviewed(workspace, rough, {})

    assert {"shear-at-most": ("step-changed:step/mix/shear",)} == cured(review)


def test_two_changes_that_cure_only_together_are_named_together(workspace: MakeWorkspace) -> None:
    """Either of them alone is too much already, so both have to go."""
    off = edited(("gum      = 0.30", "gum      = 0.30\nsalt     = 99.00\nsugar    = 99.00"))
    materials = {
        f"ingredients/{name}.toml": f'title = "{name}"\n[substances]\n"{name}" = 100\n' for name in ("salt", "sugar")
    }
    review = reviewed(workspace, {**off, **materials}, materials)

    assert cured(review)["balance-left"] == ("removed:phase/A/charge/salt", "removed:phase/A/charge/sugar")


def test_a_finding_that_is_accepted_is_gone_as_it_was_and_there_as_it_is(workspace: MakeWorkspace) -> None:
    rough = edited(('shear = "low"', 'shear = "high"'))
    accept = {"cream.toml": rough["cream.toml"] + '\n[[accept]]\nrule = "shear-at-most"\nwhy = "trial batch"\n'}
    review = reviewed(workspace, rough, accept)

    assert {"shear-at-most": ("accept:accept/shear-at-most/",)} == cured(review)
    assert [] == list(review.new)
    assert [("shear-at-most", "note")] == [
        (finding.rule, finding.severity) for finding in review.still if finding.rule != "preserved"
    ]


def test_a_finding_that_got_worse_is_new_and_not_gone(workspace: MakeWorkspace) -> None:
    rough = edited(('shear = "low"', 'shear = "high"'))
    accept = {"cream.toml": rough["cream.toml"] + '\n[[accept]]\nrule = "shear-at-most"\nwhy = "trial batch"\n'}
    review = reviewed(workspace, accept, rough)

    assert {"shear-at-most": ("accept:accept/shear-at-most/",)} == brought(review)
    assert "shear-at-most" not in cured(review)
    assert "shear-at-most" not in {finding.rule for finding in review.still}


def test_a_finding_is_tried_by_its_own_rule_as_by_all(workspace: MakeWorkspace) -> None:
    """What one rule alone says of a formula is what it says among all: else causes would be looked for in vain."""
    text = edited(
        ('shear = "low"', 'shear = "high"'), ("gum      = 0.30", "gum      = 99.00"), ("glycerin", "glycerol")
    )
    snapshot = workspace({**FILES, **text})
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    formula = snapshot.formula(recipe)
    found = all_findings(formula, DAY)

    assert found
    for finding in found:
        assert raises(formula, finding, DAY), finding.rule


def _formulas(workspace: MakeWorkspace, new: dict[str, str]) -> tuple[Formula, Formula]:
    sides = [workspace({**FILES, **side}) for side in ({}, new)]
    recipes = [side.recipe("cream") for side in sides]
    old, after = (side.formula(recipe) for side, recipe in zip(sides, recipes, strict=True) if recipe is not None)
    return old, after


def test_where_more_would_have_to_be_tried_it_ends_and_says_so(
    workspace: MakeWorkspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    old, new = _formulas(workspace, edited(('shear = "low"', 'shear = "high"')))
    finding = next(finding for finding in all_findings(new, DAY) if finding.rule == "shear-at-most")
    monkeypatch.setattr("formula_vcs.diff.counterfactuals._WORK", 1)

    with pytest.raises(TooMuchError):
        causes(old, diff(old, new), finding, DAY)
    with pytest.raises(TooMuchError):
        cures(Counterfactuals(new, diff(new, old)), finding, DAY)
    broken = reviewed(workspace, {}, edited(('shear = "low"', 'shear = "high"')))
    assert {"shear-at-most": None} == brought(broken)
    mended = reviewed(workspace, edited(('shear = "low"', 'shear = "high"')), {})
    assert {"shear-at-most": None} == cured(mended)


def test_a_finding_of_no_rule_has_no_causes(workspace: MakeWorkspace) -> None:
    old, new = _formulas(workspace, edited(("Cream", "Balm")))
    finding = Finding("syntax", "block", "broken", "cream.toml", recipe="cream", subject="x")

    assert "syntax" in RULES
    assert () == cures(Counterfactuals(old, diff(old, new), new), finding, DAY)


class TestSmallest:
    """A smallest set for which something holds."""

    @pytest.mark.parametrize(
        ("count", "sets", "expected"),
        [
            (0, [set()], set()),
            (1, [{0}], {0}),
            (8, [{3}], {3}),
            (8, [{2, 5}], {2, 5}),
            (8, [{0, 1, 2, 3, 4}, {6, 7}], {6, 7}),
            (8, [{0, 7}, {3}], {3}),
            (40, [{1, 20, 39}], {1, 20, 39}),
            (5, [set()], set()),
        ],
    )
    def test_it_finds_the_smallest(self, count: int, sets: list[set[int]], expected: set[int]) -> None:
        assert expected == smallest(count, lambda chosen: any(some <= chosen for some in sets))

    def test_taking_one_away_is_enough_to_lose_it_also_where_more_is_less(self) -> None:
        """A thing that holds for odd numbers of changes only, so that taking away can bring it back."""
        found = smallest(7, lambda chosen: len(chosen) % 2 == 1)

        assert 1 == len(found)
