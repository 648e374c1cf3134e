"""Substances before and after in % of the product, through premixes and blends."""

from __future__ import annotations

import datetime
import io
from collections.abc import Callable
from fractions import Fraction
from importlib import import_module

import pytest

from formula_vcs.figures.figure import Terms
from formula_vcs.review.compare import Review, compare
from formula_vcs.review.substance_moves import SubstanceMove
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
TERMS = Terms(datetime.date(2026, 6, 1))
STEP = '\n[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "low"\n'
# phenoxyethanol 90 % of the blend, the blend 88 % of the premix: 0.792 % of a lotion with 1 % of the premix
FILES = {
    "pres-mix.toml": f'title = "M"\nproduct = "premix"\n[phase.A.charge]\npg = 12\npe-ehg = "to 100"\n{STEP}',
    **{
        f"{name}.toml": (
            f'title = "{name}"\nproduct = "body lotion"\nmarkets = ["EU"]\n[phase.A.charge]\nwater = "to 100"\n'
            f"mix = {amount}\n{STEP}"
        )
        for name, amount in {"lotion": 1, "shampoo": "0.5", "cream": 1, "milk": 1, "gel": 1, "serum": 1}.items()
    },
    "ingredients/mix.toml": 'title = "M"\nrecipe = "pres-mix"\n',
    "ingredients/pg.toml": 'title = "PG"\n[substances]\n"Propylene Glycol" = 100\n',
    "ingredients/pe-ehg.toml": (
        'title = "Blend"\nfunctions = ["preservative"]\n[substances]\n'
        '"Phenoxyethanol" = { pct = 90, cas = "122-99-6" }\n"Ethylhexylglycerin" = 10\n'
    ),
}


def reviews(workspace: MakeWorkspace, changed: dict[str, str], files: dict[str, str] = FILES) -> dict[str, Review]:
    found = compare(workspace(files), workspace({**files, **changed}), TERMS)
    return {review.recipe: review for review in found.reviews}


def test_a_premix_that_is_diluted_shows_in_each_of_six_products(workspace: MakeWorkspace) -> None:
    found = reviews(workspace, {"pres-mix.toml": FILES["pres-mix.toml"].replace("pg = 12", "pg = 32")})

    for name in ("lotion", "cream", "milk", "gel", "serum"):
        assert (
            SubstanceMove("phenoxyethanol", "Phenoxyethanol", "122-99-6", ("regulated", "preserving"),
                          Fraction("0.792"), Fraction("0.612")),
            SubstanceMove("ethylhexylglycerin", "Ethylhexylglycerin", "", ("preserving",),
                          Fraction("0.088"), Fraction("0.068")),
        ) == found[name].substances  # fmt: skip
    assert Fraction("0.396"), Fraction("0.306") == (
        found["shampoo"].substances[0].before, found["shampoo"].substances[0].after,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("substance", "functions", "kinds"),
    [
        ("Disodium EDTA", "[]", ("chelating",)),
        ("Octocrylene", "[]", ("UV-filtering",)),
        ("Retinol", "[]", ("active",)),
        ("Somebody's Peptide", '["active"]', ("active",)),
        ("Somebody's Peptide", '["skin active"]', ("active",)),
        ("Somebody's Peptide", '["humectant"]', ()),
        ("Caprylyl Glycol", "[]", ("preserving",)),
        ("Somebody's Peptide", '["preservative"]', ("preserving",)),
    ],
)
def test_why_a_substance_is_worth_a_line(
    substance: str, functions: str, kinds: tuple[str, ...], workspace: MakeWorkspace
) -> None:
    text = f'title = "P"\n[phase.A.charge]\nwater = "to 100"\nx = 1\n{STEP}'
    files = {
        "p.toml": text,
        "ingredients/x.toml": f'title = "X"\nfunctions = {functions}\n[substances]\n"{substance}" = 100\n',
    }
    (review,) = reviews(workspace, {"p.toml": text.replace("x = 1", "x = 2")}, files).values()

    assert ([kinds] if kinds else []) == [move.kinds for move in review.substances]


def test_the_carrier_of_a_preservative_is_none(workspace: MakeWorkspace) -> None:
    """A blend with the function: what is known to preserve counts, not the glycol that it is dissolved in."""
    text = f'title = "P"\n[phase.A.charge]\nwater = "to 100"\nx = 1\n{STEP}'
    blend = 'title = "X"\nfunctions = ["preservative"]\n[substances]\n"Phenoxyethanol" = 40\n"Glycerin" = 60\n'
    files = {"p.toml": text, "ingredients/x.toml": blend}
    (review,) = reviews(workspace, {"p.toml": text.replace("x = 1", "x = 2")}, files).values()

    assert ["Phenoxyethanol"] == [move.name for move in review.substances]


def test_what_comes_and_goes_has_nothing_on_the_other_side(workspace: MakeWorkspace) -> None:
    text = f'title = "P"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 1\n{STEP}'
    files = {"p.toml": text, "ingredients/x.toml": 'title = "X"\n[substances]\n"Retinol" = 10\n"Glycerin" = 90\n'}
    (review,) = reviews(workspace, {"p.toml": text.replace("glycerin = 1", "x = 2")}, files).values()

    (move,) = review.substances
    assert (Fraction(0), Fraction("0.2")) == (move.before, move.after)


def test_a_price_moves_no_substance(workspace: MakeWorkspace) -> None:
    found = reviews(workspace, {"ingredients/pg.toml": FILES["ingredients/pg.toml"] + '[[price]]\ncost = "2 EUR/kg"\n'})

    assert found
    assert {()} == {review.substances for review in found.values()}


def test_an_open_amount_moves_nothing(workspace: MakeWorkspace) -> None:
    found = reviews(workspace, {"lotion.toml": FILES["lotion.toml"].replace("mix = 1", 'mix = "q.s."')})

    assert () == found["lotion"].substances


def test_a_claim_that_names_it(workspace: MakeWorkspace) -> None:
    text = f'title = "P"\nclaims = ["free-from betaine"]\n[phase.A.charge]\nwater = "to 100"\nx = 1\n{STEP}'
    files = {"p.toml": text, "ingredients/x.toml": 'title = "X"\n[substances]\n"Betaine" = 100\n'}
    (review,) = reviews(workspace, {"p.toml": text.replace("x = 1", "x = 2")}, files).values()

    assert [("claimed",)] == [move.kinds for move in review.substances]


@pytest.mark.parametrize("name", ["text", "markdown", "html", "json"])
def test_every_format_has_the_table(name: str, workspace: MakeWorkspace) -> None:
    changed = {"pres-mix.toml": FILES["pres-mix.toml"].replace("pg = 12", "pg = 32")}
    found = compare(workspace(FILES), workspace({**FILES, **changed}), TERMS)
    out = io.StringIO()
    import_module(f"formula_vcs.reports.review.{name}").write(found, title="t", evidence=False, blocked=False, out=out)
    said = out.getvalue()

    # once for each of five products, in a picture of the page too; the shampoo has half as much
    assert 5 <= said.count("0.792")
    assert 5 <= said.count("0.612")
    assert "0.306" in said
    assert all(kind in said for kind in ("regulated", "preserving"))
