"""Roles that a change leaves empty: who held them, what they were there for, which change it was."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.chemistry.roles import roles
from formula_vcs.figures.figure import Terms
from formula_vcs.review.compare import Review, compare
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
TERMS = Terms(datetime.date(2026, 6, 1))
STEP = '\n[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "low"\n'


def reviewed(
    workspace: MakeWorkspace, before: str, after: str, materials: dict[str, str], *, head: str = "", spec: str = ""
) -> Review:
    """Review a recipe of some charges (``name = amount`` each) that became others."""
    texts = [
        f'title = "P"\n{head}\n[phase.A.charge]\nwater = "to 100"\n{charges.replace("; ", chr(10))}\n{STEP}\n{spec}'
        for charges in (before, after)
    ]
    files = {
        f"ingredients/{name}.toml": f'title = "{name}"\n' + (text if "=" in text else f'[substances]\n"{text}" = 100\n')
        for name, text in materials.items()
    }
    found = compare(workspace({**files, "p.toml": texts[0]}), workspace({**files, "p.toml": texts[1]}), TERMS)
    return next(review for review in found.reviews if review.recipe == "p")


# a role, the holder, the neighbour that it is there for, how bad it is, and what the header says
GONE = [
    ("chelator", "Disodium EDTA", "Ascorbic Acid", "warn", ""),
    ("chelator", "Disodium EDTA", "Helianthus Annuus Seed Oil", "note", ""),
    ("chelator", "Disodium EDTA", "Glycerin", "note", ""),
    ("antioxidant of oils", "Tocopherol", "Rosa Canina Seed Oil", "warn", ""),
    ("photostabiliser", "Octocrylene", "Butyl Methoxydibenzoylmethane", "warn", ""),
    ("suspending agent", "Xanthan Gum", "Mica", "warn", ""),
    ("pH control", "Lactic Acid", "Sodium Benzoate", "warn", ""),
    ("electrolyte of a W/O emulsion", "Magnesium Sulfate", "PEG-30 Dipolyhydroxystearate", "warn", 'form = "emulsion"'),
]


EVERY = pytest.mark.parametrize("gone", GONE, ids=lambda gone: f"{gone[0]}, {gone[2]}")


@EVERY
def test_the_last_holder_goes(gone: tuple[str, ...], workspace: MakeWorkspace) -> None:
    role, holder, neighbour, severity, head = gone
    review = reviewed(workspace, "x = 1; y = 5", "y = 5", {"x": holder, "y": neighbour}, head=head)
    (item,) = [item for item in review.new if item.finding.rule == "role-empty" and item.finding.subject == role]
    change = next(one for one in review.roles if one.role == role)

    assert severity == item.finding.severity == change.severity
    assert ("removed:phase/A/charge/x",) == item.causes == change.causes
    assert item.finding.message.startswith(f"no {role} is left: {holder} ('x', 1.00 %) was there for ")
    assert (Fraction(1), Fraction(0), True) == (change.before, change.after, change.empty)


@EVERY
def test_what_takes_its_place_counts(gone: tuple[str, ...], workspace: MakeWorkspace) -> None:
    role, holder, neighbour, _, head = gone
    review = reviewed(workspace, "x = 1; y = 5", "z = 1; y = 5", {"x": holder, "y": neighbour, "z": holder}, head=head)

    assert [] == [one for one in review.roles if one.role == role]


def test_that_nothing_preserves_it_has_a_rule_of_its_own(workspace: MakeWorkspace) -> None:
    """The last preservative of a watery product: said once, by the rule that blocks it."""
    gone = reviewed(workspace, "x = 1; y = 5", "y = 5", {"x": "Phenoxyethanol", "y": "Glycerin"})
    half = reviewed(workspace, "x = 1; y = 5", "x = 0.4; y = 5", {"x": "Phenoxyethanol", "y": "Glycerin"})

    assert ("preserved", "block") in [(item.finding.rule, item.finding.severity) for item in gone.new]
    assert [] == [role.role for role in gone.roles]
    assert ["preservative"] == [role.role for role in half.roles]


def test_less_than_half_of_it_is_left(workspace: MakeWorkspace) -> None:
    """Half is kept in silence; a hair less is a note."""
    materials = {"x": "Disodium EDTA", "y": "Ascorbic Acid"}
    assert () == reviewed(workspace, "x = 0.2; y = 5", "x = 0.1; y = 5", materials).roles
    (change,) = reviewed(workspace, "x = 0.2; y = 5", "x = 0.099; y = 5", materials).roles

    assert ("note", False) == (change.severity, change.empty)
    assert change.words.startswith("less than half of the chelator is left: 0.20 % \u2192 0.0990 %; it is there for ")


def test_below_the_floor_it_is_empty(workspace: MakeWorkspace) -> None:
    materials = {"x": "Disodium EDTA", "y": "Ascorbic Acid"}
    (change,) = reviewed(workspace, "x = 0.2; y = 5", "x = 0.01; y = 5", materials).roles

    assert ("warn", True) == (change.severity, change.empty)
    assert "0.0100 % is left, too little to count" in change.words
    # never held: there was less than counts before too
    assert () == reviewed(workspace, "x = 0.01; y = 5", "y = 5", materials).roles


def test_what_it_was_there_for_went_with_it(workspace: MakeWorkspace) -> None:
    materials = {"x": "Octocrylene", "y": "Butyl Methoxydibenzoylmethane"}

    assert [] == [one.role for one in reviewed(workspace, "x = 2; y = 3", "glycerin = 5", materials).roles]


@pytest.mark.parametrize("role", ["solubiliser", "emulsifier", "thickener", "pH control"])
def test_some_roles_say_nothing_where_they_were_for_nothing(role: str, workspace: MakeWorkspace) -> None:
    row = next(one for one in roles() if one.id == role)
    thing = f'functions = ["{row.functions[0]}"]\n[substances]\n"Thing" = 100\n'

    assert () == reviewed(workspace, "x = 2", "glycerin = 2", {"x": thing}).roles


def test_a_buffer_is_an_acid_and_its_salt(workspace: MakeWorkspace) -> None:
    spec = '[spec]\npH = "4.5 to 5.0"\n'
    materials = {"x": "Citric Acid", "y": "Sodium Citrate"}
    found = reviewed(workspace, "x = 0.3; y = 0.5", "x = 0.3", materials, spec=spec).roles
    alone = reviewed(workspace, "y = 0.5", "glycerin = 1", materials, spec=spec).roles

    assert [("buffer", Fraction("0.8"), Fraction(0))] == [(one.role, one.before, one.after) for one in found]
    assert [] == [one.role for one in alone if one.role == "buffer"]


def test_of_one_that_was_there_for_nothing_no_trouble_is_said(workspace: MakeWorkspace) -> None:
    (change,) = reviewed(workspace, "x = 1; y = 5", "y = 5", {"x": "Disodium EDTA", "y": "Glycerin"}).roles
    sun = reviewed(workspace, "x = 1; y = 5", "y = 5", {"x": "Octocrylene", "y": "Glycerin"}).roles

    assert "no chelator is left: Disodium EDTA ('x', 1.00 %) was there for nothing that is stated here" == change.words
    assert () == sun


def test_citric_acid_is_no_chelator_here(workspace: MakeWorkspace) -> None:
    """It is there for the pH, and would hide that the EDTA is gone."""
    materials = {"x": "Disodium EDTA", "y": "Citric Acid", "z": "Ascorbic Acid"}
    found = reviewed(workspace, "x = 0.1; y = 1; z = 5", "y = 1; z = 5", materials).roles

    assert ["chelator"] == [one.role for one in found]


def test_a_function_of_the_file_holds_a_role(workspace: MakeWorkspace) -> None:
    thing = 'functions = ["Chelating agent"]\n[substances]\n"Binder of Metals" = 40\n"Aqua" = 60\n'
    (change,) = reviewed(workspace, "x = 1; y = 5", "y = 5", {"x": thing, "y": "Ascorbic Acid"}).roles

    assert (("Binder of Metals", "x", Fraction("0.4")),) == change.holders


def test_a_premix_is_no_product_and_is_seen_through(workspace: MakeWorkspace) -> None:
    materials = {"x": 'recipe = "mix"\n', "edta": "Disodium EDTA", "y": "Ascorbic Acid"}
    files = {
        f"ingredients/{name}.toml": f'title = "{name}"\n' + (text if "=" in text else f'[substances]\n"{text}" = 100\n')
        for name, text in materials.items()
    }
    files["p.toml"] = f'title = "P"\n[phase.A.charge]\nwater = "to 100"\nx = 10\ny = 5\n{STEP}'
    mix = f'title = "M"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\nedta = 2\n{STEP}'
    gone = mix.replace("edta = 2", "glycerin = 2")
    found = compare(workspace({**files, "mix.toml": mix}), workspace({**files, "mix.toml": gone}), TERMS)
    by_recipe = {review.recipe: [one.role for one in review.roles] for review in found.reviews}

    assert {"p": ["chelator"], "mix": []} == by_recipe


def test_every_role_of_the_table_is_read() -> None:
    assert 12 == len(roles())
    assert all(role.floor > 0 and role.says and role.needs for role in roles())
    assert all(need.words and need.severity in ("warn", "note") for role in roles() for need in role.needs)


def test_a_thickener_is_there_for_the_viscosity_of_the_spec(workspace: MakeWorkspace) -> None:
    """It is another role than holding solids up: a gum may have both, and solids alone make it a warning."""
    gum = 'functions = ["thickener"]\n[substances]\n"Xanthan Gum" = 100\n'
    spec = '[spec]\nviscosity = "3 to 6 Pa*s"\n'
    plain = reviewed(workspace, "x = 0.5", "glycerin = 0.5", {"x": gum}, spec=spec).roles
    solid = reviewed(workspace, "x = 0.5; y = 2", "y = 2", {"x": gum, "y": "Mica"}, spec=spec).roles

    assert [("thickener", "note")] == [(one.role, one.severity) for one in plain]
    assert [("suspending agent", "warn"), ("thickener", "note")] == [(one.role, one.severity) for one in solid]
