"""Synthetic polymer microparticles, by what files state of their polymers, and the days of entry 78."""

from __future__ import annotations

import datetime

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.law.claims.table import judge_claim
from formula_vcs.law.compliance import Compliance
from formula_vcs.model.finding import Finding
from formula_vcs.rules.horizon import horizon
from formula_vcs.rules.law.trace import Microplastics
from formula_vcs.rules.rule import Case
from tests.published.helpers_law import DAY, formula, material

NYLON: dict[str, object] = {"Nylon-12": 100}
IS = "\n[polymer]\nparticles = true\n"


def _said(
    product: str, day: str, more: str = "", pct: str = "3", *, of: dict[str, object] = NYLON, head: str = ""
) -> list[Finding]:
    made = formula({"x": pct}, {"x": material(of, more, head)}, product, ("EU",))
    return list(Microplastics().check(Case(made, datetime.date.fromisoformat(day))))


def _levels(found: list[Finding]) -> list[str]:
    return [one.severity for one in found]


# The days: Regulation (EU) 2023/2055 as the Commission's page and guides of the trade have them (commentary).
@pytest.mark.parametrize(
    ("product", "day", "head", "levels"),
    [
        ("shampoo", "2027-10-16", "", ["note"]),
        ("shampoo", "2027-10-17", "", ["block"]),
        ("toothpaste", "2027-10-17", "", ["block"]),
        ("body cream", "2029-10-16", "", ["note"]),
        ("body cream", "2029-10-17", "", ["block"]),
        ("lipstick", "2029-10-17", "", ["note"]),
        ("lipstick", "2031-10-16", "", ["note"]),
        ("lipstick", "2031-10-17", "", ["note", "warn"]),  # "This product contains microplastics."
        ("lipstick", "2035-10-16", "", ["note", "warn"]),
        ("lipstick", "2035-10-17", "", ["block"]),
        ("nail polish", "2035-10-17", "", ["block"]),
        ("lip balm", "2035-10-16", "", ["note", "warn"]),
        ("foundation", "2035-10-17", "", ["block"]),
        ("face scrub", "2023-10-16", 'functions = ["exfoliant"]', ["note"]),
        ("face scrub", "2023-10-17", 'functions = ["exfoliant"]', ["block"]),
        ("lipstick", "2023-10-17", 'functions = ["abrasive"]', ["block"]),
    ],
)
def test_each_kind_of_product_has_its_day(product: str, day: str, head: str, levels: list[str]) -> None:
    """A block from the day on, a note before it; make-up, lips and nails carry words from 2031 on."""
    assert levels == sorted(_levels(_said(product, day, IS, head=head)))


@pytest.mark.parametrize(("pct", "levels"), [("0.01", ["block"]), ("0.0099", [])])
def test_it_begins_at_a_hundredth_of_a_percent(pct: str, levels: list[str]) -> None:
    """Paragraph 1: equal to or greater than 0.01 % by weight."""
    assert levels == _levels(_said("shampoo", "2027-10-17", IS, pct))


def test_it_is_the_polymer_that_counts_and_not_the_material() -> None:
    """A dispersion of 0.1 % of a polymer, of which 9 % go in, brings 0.009 %."""
    dispersion: dict[str, object] = {"Aqua": "99.9", "Styrene/Acrylates Copolymer": "0.1"}

    assert [] == _said("shampoo", "2027-10-17", IS, "9", of=dispersion)
    assert ["block"] == _levels(_said("shampoo", "2027-10-17", IS, "10", of=dispersion))


@pytest.mark.parametrize(
    ("stated", "levels"),
    [
        ("particles = false", []),
        ("particles = true\ndegradable = true", []),
        ("particles = true\nsoluble = true", []),
        ("particles = true\nnatural = true", []),
        ("particles = true\ncarbon_free = true", []),
        ("particles = true\ndegradable = false", ["block"]),
        ('particles = true\nsize = "5 to 12 um"', ["block"]),
        ('particles = true\nsize = "5 mm"', ["block"]),
        ('particles = true\nsize = "5.1 to 8 mm"', ["warn"]),  # a fibre, or none
        ('particles = true\nsize = "15.1 to 20 mm"', []),
        ('particles = true\nreleased = "modified"', ["note"]),  # paragraph 5, with instructions for use
        ('of = "Nylon-12"', ["warn"]),
        ("", ["warn"]),
    ],
)
def test_what_makes_it_none_is_stated_and_what_is_not_is_asked(stated: str, levels: list[str]) -> None:
    """Nothing passes for what its file does not say."""
    assert levels == _levels(_said("shampoo", "2027-10-17", f"\n[polymer]\n{stated}\n" if stated else ""))


def test_what_is_asked_is_named() -> None:
    """The question says what the file has to state."""
    (found,) = _said("shampoo", "2027-10-17")

    assert "Nylon-12 of 'x' (3.00 %)" in found.message
    assert "[polymer] particles" in found.message


def test_a_polymer_that_is_on_no_list_is_judged_where_its_file_states_one() -> None:
    """The list of names is our own, and short."""
    gum: dict[str, object] = {"Xanthan Gum": 100}

    assert [] == _said("shampoo", "2027-10-17", "", "3", of=gum)
    assert ["block"] == _levels(_said("shampoo", "2027-10-17", IS, "3", of=gum))


def test_an_encapsulated_scent_has_a_day_of_its_own() -> None:
    """Rinsed off or not: 17 October 2029."""
    shell = '\n[polymer]\nparticles = true\nencapsulates = "fragrance"\n'

    assert ["note"] == _levels(_said("shampoo", "2029-10-16", shell))
    assert ["block"] == _levels(_said("shampoo", "2029-10-17", shell))


@pytest.mark.parametrize(("more", "severity"), [(IS, "block"), ("", "warn")])
def test_the_horizon_names_the_day(more: str, severity: str) -> None:
    """What is not stated is a warning on that day, no silence."""
    of = formula({"x": "3"}, {"x": material(NYLON, more, "")}, "shampoo", ("EU",))

    turns = horizon(of, datetime.date(2026, 6, 1), datetime.date(2028, 6, 1))
    found = [(turn.day, turn.finding.severity) for turn in turns if turn.finding.rule == "microplastics"]

    assert [(datetime.date(2027, 10, 17), severity)] == found


@pytest.mark.parametrize(
    ("more", "substances", "verdict"),
    [
        (IS, NYLON, "fails"),
        ("", NYLON, "needs information"),
        ("\n[polymer]\nparticles = true\ndegradable = true\n", NYLON, "holds"),
        ("", {"Glycerin": 100}, "holds"),
    ],
)
@pytest.mark.parametrize("claim", ["microplastic-free", "free-from microplastics"])
def test_a_claim_to_be_free_from_them_is_judged_alike(
    claim: str, more: str, substances: dict[str, object], verdict: str
) -> None:
    """By the same definition, whatever the day."""
    of = formula({"x": "3"}, {"x": material(substances, more, "")}, "shampoo", ("EU",))

    assert verdict == judge_claim(Compliance(of, Breakdown(of)), claim, DAY).verdict
