"""Claims by our own lists: what is on each, what is not, and what is asked."""

from __future__ import annotations

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.standards import ClaimOutcome
from formula_vcs.law.claims.table import judge_claim
from formula_vcs.law.compliance import Compliance
from tests.published.helpers_law import DAY, formula, material


def _judged(claim: str, substances: dict[str, object], head: str = "", more: str = "") -> ClaimOutcome:
    of = formula({"x": "10"}, {"x": material(substances, more, head)}, "body cream", ())
    return judge_claim(Compliance(of, Breakdown(of)), claim, DAY)


@pytest.mark.parametrize(
    ("claim", "name", "verdict"),
    [
        ("free-from sulfates", "Sodium Laureth Sulfate", "fails"),
        ("free-from sulphates", "Sodium Laureth-5 Sulfate", "fails"),
        ("sulfate-free", "Sodium Coco-Sulfate", "fails"),
        ("sulfate-free", "Magnesium Sulfate", "holds"),
        ("sulfate-free", "Behentrimonium Methosulfate", "holds"),
        ("sulfate-free", "Sodium C14-16 Olefin Sulfonate", "holds"),
        ("free-from SLS", "Sodium Lauryl Sulfate", "fails"),
        ("SLS-free", "Sodium Laureth Sulfate", "holds"),
        ("free-from silicones", "Cyclopentasiloxane", "fails"),
        ("silicone-free", "Silica", "holds"),
        ("free-from parabens", "Sodium Methylparaben", "fails"),
        ("free-from parabens", "Phenoxyethanol", "holds"),
        ("free-from mineral oil", "Mineral Oil", "fails"),
        ("free-from mineral oil", "Squalane", "holds"),
        ("free-from phthalates", "Diethyl Phthalate", "fails"),
        ("free-from phthalates", "Polyethylene Terephthalate", "holds"),
        ("PEG-free", "Ceteareth-20", "fails"),
        ("free-from PEG", "Polysorbate 20", "fails"),
        ("free-from PEG", "Polyglyceryl-3 Stearate", "holds"),
        ("free-from formaldehyde donors", "DMDM Hydantoin", "fails"),
        ("free-from isothiazolinones", "Methylisothiazolinone", "fails"),
        ("alcohol-free", "Ethanol", "fails"),
        ("alcohol-free", "Isopropyl Alcohol", "fails"),
        ("alcohol-free", "Cetyl Alcohol", "holds"),
        ("alcohol-free", "Benzyl Alcohol", "holds"),
        ("ethanol-free", "Isopropyl Alcohol", "holds"),
        ("fragrance-free", "Fragrance", "fails"),
        ("fragrance-free", "Lavandula Angustifolia Oil", "fails"),
        ("fragrance-free", "Helianthus Annuus Seed Oil", "holds"),
        ("free from glycerin", "Glycerol", "fails"),
        ("free-from glycerin", "Sorbitol", "holds"),
        ("cruelty-free", "Sorbitol", "needs information"),
    ],
)
def test_what_is_on_a_list(claim: str, name: str, verdict: str) -> None:
    assert _judged(claim, {name: 100}).verdict == verdict


def test_what_is_found_is_named_with_its_share_and_what_brings_it() -> None:
    found = _judged("free-from SLS", {"Sodium Lauryl Sulfate": 90, "Aqua": 10})

    assert found.because == "Sodium Lauryl Sulfate 9.00 % is in it (from x)"


def test_a_perfume_may_hold_what_its_file_does_not_tell() -> None:
    assert _judged("alcohol-free", {"Parfum": 100}).missing == ("x: whether alcohol is in it",)
    assert _judged("free-from silicones", {"Parfum": 100}).verdict == "holds"


def test_a_rest_that_is_not_told_is_asked_about() -> None:
    assert _judged("free-from parabens", {"Glycerin": "99.9"}).missing == ("x: what the other 0.10 % is",)
    assert _judged("free-from parabens", {"Glycerin": 100}).verdict == "holds"


def test_an_impurity_asks_and_does_not_fail() -> None:
    found = _judged("alcohol-free", {"Glycerin": 99}, more='[substances.Alcohol]\npct = 1\nrole = "impurity"')

    assert (found.verdict, found.missing) == ("needs information", ("whether traces of Alcohol may be",))


def test_a_stated_function_is_a_fragrance_whatever_its_name() -> None:
    assert _judged("fragrance-free", {"Phenoxyethanol": 100}, 'functions = ["Masking"]').verdict == "fails"
    assert _judged("fragrance-free", {"Phenoxyethanol": 100}, 'functions = ["preservative"]').verdict == "holds"


@pytest.mark.parametrize(
    ("source", "verdict"),
    [
        ("plant", "holds"),
        ("mineral", "holds"),
        ("synthetic", "holds"),
        ("biotechnology", "holds"),
        ("animal", "fails"),
    ],
)
def test_vegan_goes_by_the_source(source: str, verdict: str) -> None:
    assert _judged("vegan", {"Glycerin": 100}, f'source = "{source}"').verdict == verdict


@pytest.mark.parametrize("name", ["Beeswax", "Honey", "Lanolin", "Carmine", "Sodium Tallowate", "Shellac"])
def test_some_names_are_of_an_animal_whatever_a_file_states(name: str) -> None:
    assert _judged("vegan", {name: 100}).verdict == "fails"
    assert _judged("vegan", {name: 100}, 'source = "plant"').verdict == "fails"


def test_vegan_asks_for_a_source_that_is_not_stated() -> None:
    found = _judged("vegan", {"Squalane": 100})

    assert found.missing == ("x: plant, animal, mineral, synthetic or biotechnology",)
