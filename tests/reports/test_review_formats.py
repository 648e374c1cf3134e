"""What every format of a review has to say: shares that were evened out, causes that were not sought, names to type."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from fractions import Fraction
from importlib import import_module

import pytest

from formula_vcs.commands.change_args import named
from formula_vcs.figures.figure import Terms
from formula_vcs.reports.hosts import remarks
from formula_vcs.review.change_names import names_of
from formula_vcs.review.compare import Comparison, compare
from formula_vcs.review.subset import picks
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.helpers_demo import DAY, Edit, texts
from tests.helpers_html import parsed
from tests.helpers_page import MORE_PRESERVATIVE, SWAP, compared

MakeWorkspace = Callable[..., Snapshot]
HOSTS = ("github", "gitlab", "sarif", "junit")
WORDS = ("text", "markdown", "html")


def written(comparison: Comparison, format_: str) -> str:
    """Write a review, its lines joined."""
    out = io.StringIO()
    if format_ in HOSTS:
        remarks.write(format_, remarks.of_review(comparison), "review", blocked=False, out=out)
        return " ".join(out.getvalue().split())
    writer = import_module(f"formula_vcs.reports.review.{format_}")
    writer.write(comparison, title="a..b", evidence=False, blocked=False, out=out)
    return " ".join(out.getvalue().split())


def many(workspace: MakeWorkspace, count: int) -> Comparison:
    """Change the amounts of some oils, each of another density."""

    def side(amount: int) -> Snapshot:
        names = [f"oil-{i}" for i in range(count)]
        charges = "".join(f"{name} = {amount}\n" for name in names)
        files = {
            f"ingredients/{name}.toml": f'title = "O"\ndensity = "0.8{i:02} g/mL"\n[substances]\n"Oil {i}" = 100\n'
            f'[[price]]\ncost = "{i + 2} EUR/kg"\n'
            for i, name in enumerate(names)
        }
        files["ingredients/wax.toml"] = (
            'title = "W"\ndensity = "0.96 g/mL"\n[substances]\nWax = 100\n[[price]]\ncost = "3 EUR/kg"\n'
        )
        files["workspace.toml"] = 'title = "S"\ncurrency = "EUR"\n'
        return workspace({**files, "mix.toml": f'title = "Mix"\n[phase.A.charge]\nwax = "to 100"\n{charges}'})

    return compare(side(2), side(3), Terms(DAY), ("mix",))


@pytest.mark.parametrize("format_", WORDS)
def test_above_ten_changes_it_is_said_that_small_ones_share(format_: str, workspace: MakeWorkspace) -> None:
    words = "more changes than can be tried in every order"
    found = written(many(workspace, 11), format_)

    assert words in found
    assert words not in written(many(workspace, 10), format_)


def test_json_says_which_shares_are_evened_out_and_they_add_up(workspace: MakeWorkspace) -> None:
    for count in (10, 11):
        (recipe,) = json.loads(written(many(workspace, count), "json"))["recipes"]
        effects = {effect["figure"]: effect for effect in recipe["effects"]}
        assert effects["density"]["grouped"] == (count > 10)
        assert not effects["cost_per_kg"]["grouped"]
        for effect in effects.values():
            shares = [Fraction(share["value"]) for share in effect["shares"]]
            assert not shares or sum(shares) == Fraction(effect["difference"]), effect["figure"]


@pytest.mark.parametrize("format_", WORDS)
def test_changes_that_count_only_together_are_said(format_: str, workspace: MakeWorkspace) -> None:
    """A price by the litre has no worth without the density that comes with it."""
    mix = {"mix.toml": 'title = "Mix"\n[phase.A.charge]\nwax = "to 100"\noil = 20\n'}

    def side(oil: str, wax: str) -> Snapshot:
        material = 'title = "M"\n{}[substances]\nStuff = 100\n[[price]]\ncost = "{}"\n'
        files = {"ingredients/oil.toml": oil, "ingredients/wax.toml": material.format("", wax)}
        return workspace({**mix, "workspace.toml": 'title = "S"\ncurrency = "EUR"\n', **files})

    material = 'title = "O"\n{}[substances]\nOil = 100\n[[price]]\ncost = "{}"\n'
    old = side(material.format("", "5 EUR/kg"), "2 EUR/kg")
    new = side(material.format('density = "0.8 g/mL"\n', "6 EUR/L"), "3 EUR/kg")
    found = compare(old, new, Terms(DAY), ("mix",))
    (review,) = found.reviews
    (cost,) = (effect for effect in review.effects if effect.figure == "cost_per_kg")

    # the wax: 80 % of 1 EUR; the oil: 20 % of 7.50 - 5.00 EUR, half of it each
    assert {
        "price:ingredient/wax/price": Fraction("0.8"),
        "price:ingredient/oil/price": Fraction("0.25"),
        "ingredient:ingredient/oil/density": Fraction("0.25"),
    } == {share.change: share.value for share in cost.shares}
    assert "changes that count only together share evenly" in written(found, format_).casefold()


@pytest.mark.parametrize("format_", [*WORDS, "github", "junit"])
def test_causes_and_cures_that_were_not_sought_are_said(format_: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("formula_vcs.diff.counterfactuals._WORK", 1)
    words = "which change is not known: more would have to be tried"

    assert words in written(compared(MORE_PRESERVATIVE), format_)


@pytest.mark.parametrize("format_", WORDS)
def test_cures_that_were_not_sought_are_said(format_: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("formula_vcs.diff.counterfactuals._WORK", 1)
    found = compare(workspace_of(SWAP), workspace_of(), Terms(DAY), ("face-polish",))

    assert "cured by (which change is not known" in written(found, format_)
    data = json.loads(written(found, "json"))["recipes"][0]["findings"]["gone"]
    assert [([], True)] * len(data) == [(item["cured_by"], item["untried"]) for item in data]


def workspace_of(*edits: Edit) -> Snapshot:
    """Read the demo after edits."""
    return Snapshot(Files(texts(*edits), "x"))


def test_the_page_names_each_change_as_only_and_without_take_it() -> None:
    old, new = workspace_of(), workspace_of(SWAP, MORE_PRESERVATIVE)
    found = compare(old, new, Terms(DAY))
    names = names_of(found)
    page = parsed(written(found, "html"))
    spelled = {span.text for span in page.all("span") if "id" in span.css}

    assert 2 == len(names)
    for (recipe, change), name in names.items():
        assert name in spelled
        (pick,) = named(picks(found, old, new), name)
        assert (recipe, change) == (pick.recipe, pick.change.id)
    # where there is nothing to choose from, there is nothing to type
    assert "--only" not in written(compared(MORE_PRESERVATIVE), "html")


def test_label_moves_are_in_words_also_where_no_picture_is_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    line = next(line for line in texts()["hand-cream.toml"].splitlines() if line.startswith("glycerin "))
    found = compared(("hand-cream.toml", line, line.replace("5.00", "4.00")))
    monkeypatch.setattr("formula_vcs.reports.page.budget.PICTURES_UP_TO", 0)

    assert "Glycerin: 5th" in written(found, "html")
