"""A review of what does not go together: it names the change that brought the pair, and the house's rows that moved."""

from __future__ import annotations

import datetime
from collections.abc import Callable

from formula_vcs.figures.figure import Terms
from formula_vcs.review.compare import Review, compare
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
TERMS = Terms(datetime.date(2026, 6, 1))
STEP = '\n[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "low"\n'
FILES = {
    "wash.toml": (
        'title = "Wash"\nproduct = "shampoo"\n[phase.A.charge]\nwater = "to 100"\nsles = 14\nglycerin = 2\n' + STEP
    ),
    "oil.toml": f'title = "Oil"\n[phase.A.charge]\nglycerin = 100\n{STEP}',
    "ingredients/sles.toml": 'title = "Sles"\n[substances]\n"Sodium Laureth Sulfate" = 70\n"Aqua" = 30\n',
    "ingredients/care.toml": 'title = "Care"\n[substances]\n"Behentrimonium Methosulfate" = 25\n"Talc" = 75\n',
}
HOUSE = (
    '[[pair]]\nid = "ours"\none = { substances = ["Glycerin"] }\nother = { class = ["sulfate surfactant"] }\n'
    'what = "sticky"\nsource = "house standard HS-1"\n'
)


def reviews(workspace: MakeWorkspace, new: dict[str, str], old: dict[str, str] | None = None) -> dict[str, Review]:
    before = {**FILES, **(old or {})}
    found = compare(workspace(before), workspace({**before, **new}), TERMS)
    return {review.recipe: review for review in found.reviews}


def test_the_change_that_brings_the_other_side_is_named(workspace: MakeWorkspace) -> None:
    text = FILES["wash.toml"].replace("glycerin = 2", "glycerin = 1\ncare = 2")
    (item,) = reviews(workspace, {"wash.toml": text})["wash"].new

    assert ("incompatible", "anionic-cationic") == (item.finding.rule, item.finding.subject)
    assert ("added:phase/A/charge/care",) == item.causes


def test_a_pair_of_the_house_shows_under_the_recipes_that_it_is_about(workspace: MakeWorkspace) -> None:
    found = reviews(workspace, {"rules/house.toml": HOUSE})

    assert {"wash"} == set(found)
    (change,) = [change for change in found["wash"].changes if not change.derived]
    assert "other:rule/house/pair/ours" == change.id
    assert change.text.startswith("house pair ours: new (")
    (item,) = found["wash"].new
    assert (change.id,) == item.causes


def test_a_pair_that_is_switched_off_says_what_cured_the_finding(workspace: MakeWorkspace) -> None:
    text = FILES["wash.toml"].replace("glycerin = 2", "glycerin = 1\ncare = 2")
    off = '[[pair]]\nid = "anionic-cationic"\noff = "tried: LT-9"\n'
    review = reviews(workspace, {"rules/house.toml": off}, {"wash.toml": text})["wash"]

    assert ["incompatible"] == [finding.rule for finding in review.gone]
    assert (("other:rule/house/pair/anionic-cationic",),) == review.cures
