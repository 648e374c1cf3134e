"""Formulas out of pharmacopoeias and old formularies, in parts and in masses, met to the last fraction.

The recipes are in formulary/, each with its source and its arithmetic in comments.  The tables below hold the same
arithmetic once more: what each line weighs, worked out by hand, the sum, and percentages by long division.  Where a
book prints measures, the densities are those of DENSITIES.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.model.formula import Formula
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.published.helpers_workspace import FORMULARY, WORKSPACE, figure, findings, formula, material, places, said

F = Fraction

# The exact units of these books: 7000 grains to the pound of 453.59237 g (Handbook 44, appendix C, from memory);
# the imperial gallon is 4546.09 mL, 160 fluid ounces, 76800 minims (Weights and Measures Act 1985, from memory).
GRAIN = F("0.06479891")
OUNCE = F("28.349523125")
POUND = F("453.59237")
IMPERIAL_OUNCE = F("28.4130625")
IMPERIAL_MINIM = IMPERIAL_OUNCE / 480

DENSITIES = {
    # IAPWS-95 gives 998.207 kg/m3 at 20 degC; rounded to four places
    "water": "0.9982",
    "purified-water": "0.9982",
    # taken as water: rose water is a saturated solution of a trace of oil (our assumption)
    "rose-water": "0.9982",
    "rose-water-undiluted": "0.9982",
    "stronger-rose-water": "0.9982",
    # British Pharmaceutical Codex 1911, Oleum Amygdalae: 0.915 to 0.920 at 15 degC, 0.910 to 0.915 at 25 degC
    # (text seen at henriettes-herb.com/eclectic/bpc1911/prunus-dulc_oleu.html)
    "almond-oil": "0.915",
    "expressed-almond-oil": "0.915",
    # the same, Oleum Rosae: middle of 0.856 to 0.860 (text seen at henriettes-herb.com/eclectic/bpc1911/rosa_oleu.html)
    "rose-oil": "0.858",
    # glycerol at 20 degC; USP 29 asks for at least 1.249 at 25 degC (text seen at ftp.uspbpep.com, usp29nf24s0_m35420)
    "glycerin": "1.261",
}
WATER, ROSE_OIL, ALMOND_OIL, GLYCERIN = F("0.9982"), F("0.858"), F("0.915"), F("1.261")

PREMIXES = {"emulsifying-ointment": "emulsifying-ointment-bp", "emulsifying-wax": "emulsifying-wax-bp"}


@dataclass(frozen=True)
class Page:
    """One formula as it was worked by hand: what each line weighs, in any one unit, and their sum in it.

    ``pct`` are percentages by long division, half up.  ``off`` is the miss from the printed total, in g or parts,
    as the finding words it; ``about`` says that the book says so.  ``open`` are amounts that the book leaves open.
    """

    total: str
    lines: dict[str, Fraction | int | str]
    pct: dict[str, str]
    unit: Fraction = field(default=F(1))
    off: str = ""
    about: bool = False
    open: tuple[str, ...] = ()


PAGES = {
    "hydrophilic-ointment": Page(
        "1000.4",
        {
            "stearyl-alcohol": "250",
            "white-petrolatum": "250",
            "methylparaben": "0.25",
            "propylparaben": "0.15",
            "sodium-lauryl-sulfate": "10",
            "propylene-glycol": "120",
            "purified-water": "370",
        },
        {
            "stearyl-alcohol": "24.9900",
            "white-petrolatum": "24.9900",
            "methylparaben": "0.0250",
            "propylparaben": "0.0150",
            "sodium-lauryl-sulfate": "0.9996",
            "propylene-glycol": "11.9952",
            "purified-water": "36.9852",
        },
        off="0.4 g too much",
        about=True,
    ),
    "hydrophilic-ointment-to-1000": Page(
        "1000",
        {
            "stearyl-alcohol": "250",
            "white-petrolatum": "250",
            "methylparaben": "0.25",
            "propylparaben": "0.15",
            "sodium-lauryl-sulfate": "10",
            "propylene-glycol": "120",
            "purified-water": "369.6",
        },
        {"sodium-lauryl-sulfate": "1.0000", "propylene-glycol": "12.0000", "purified-water": "36.9600"},
    ),
    "cold-cream-usp": Page(
        "999.658",
        {
            "cetyl-esters-wax": "125",
            "white-wax": "120",
            "mineral-oil": "560",
            "sodium-borate": "5",
            "purified-water": "189.658",  # 190 x 0.9982
        },
        {
            "cetyl-esters-wax": "12.5043",
            "white-wax": "12.0041",
            "mineral-oil": "56.0192",
            "sodium-borate": "0.5002",
            "purified-water": "18.9723",
        },
        off="0.342 g too little",
        about=True,
    ),
    "rose-water-ointment-usp30": Page(
        "999.8296",
        {
            "cetyl-esters-wax": "125",
            "white-wax": "120",
            "almond-oil": "560",
            "sodium-borate": "5",
            "stronger-rose-water": "24.955",  # 25 x 0.9982
            "purified-water": "164.703",  # 165 x 0.9982
            "rose-oil": "0.1716",  # 0.2 x 0.858
        },
        {"cetyl-esters-wax": "12.5021", "almond-oil": "56.0095", "sodium-borate": "0.5001", "rose-oil": "0.0172"},
        off="0.1704 g too little",
        about=True,
    ),
    "rose-water-ointment-usp9": Page(
        "1000",
        {
            "spermaceti": "125",
            "white-wax": "120",
            "expressed-almond-oil": "560",
            "sodium-borate": "5",
            "stronger-rose-water": "190",
        },
        {"spermaceti": "12.5000", "expressed-almond-oil": "56.0000", "stronger-rose-water": "19.0000"},
    ),
    "rose-water-ointment-usp9-grains": Page(
        "15432.5",
        {
            "spermaceti": F(4 * 437.5 + 179),
            "white-wax": F(4 * 437.5 + 102),
            "expressed-almond-oil": F(19 * 437.5 + 330),
            "sodium-borate": 77,
            "stronger-rose-water": F(6 * 437.5 + 307),
        },
        {
            "spermaceti": "12.4996",
            "white-wax": "12.0006",
            "expressed-almond-oil": "56.0019",
            "sodium-borate": "0.4989",
            "stronger-rose-water": "18.9989",
        },
        unit=GRAIN,
    ),
    "rose-water-ointment-usp1890": Page(
        "988.658",
        {
            "spermaceti": "125",
            "white-wax": "120",
            "expressed-almond-oil": "549",  # 600 x 0.915
            "stronger-rose-water": "189.658",
            "sodium-borate": "5",
        },
        {"spermaceti": "12.6434", "expressed-almond-oil": "55.5298"},
    ),
    "cold-cream-29-parts": Page(
        "29",
        {"white-wax": 1, "spermaceti": 4, "rose-water": 8, "almond-oil": 16},
        {"white-wax": "3.4483", "spermaceti": "13.7931", "rose-water": "27.5862", "almond-oil": "55.1724"},
    ),
    "simple-ointment-usp1890-grains": Page(
        "15432.5",
        {"lard": F(7000 + 12 * 437.5 + 96), "yellow-wax": F(7 * 437.5 + 24)},
        {"lard": "80.0000", "yellow-wax": "20.0000"},
        unit=GRAIN,
    ),
    "starch-glycerite-usp1890": Page(
        "99.982",
        {"starch": "10", "water": "9.982", "glycerin": "80"},
        {"starch": "10.0018", "water": "9.9838", "glycerin": "80.0144"},
    ),
    "starch-glycerite-nf": Page(
        "1184.34",
        {"starch": "100", "benzoic-acid": "2", "purified-water": "199.64", "glycerin": "882.7"},
        {"starch": "8.4435", "benzoic-acid": "0.1689", "purified-water": "16.8566", "glycerin": "74.5310"},
        off="184.34 g too much",
        about=True,
    ),
    "rose-water-ointment-bp1898": Page(
        "190.17",
        {"rose-water-undiluted": 70, "white-beeswax": 15, "spermaceti": 15, "almond-oil": 90, "rose-oil": "0.17"},
        {
            "rose-water-undiluted": "36.8092",
            "white-beeswax": "7.8877",
            "spermaceti": "7.8877",
            "almond-oil": "47.3261",
            "rose-oil": "0.0894",
        },
    ),
    "rose-water-ointment-bp1914": Page(
        "100.0498",
        {
            "rose-water": "19.964",
            "white-beeswax": "18",
            "purified-borax": "1",
            "almond-oil": "61",
            "rose-oil": "0.0858",
        },
        {
            "rose-water": "19.9541",
            "white-beeswax": "17.9910",
            "purified-borax": "0.9995",
            "almond-oil": "60.9696",
            "rose-oil": "0.0858",
        },
    ),
    "galens-cerate-bpc1911": Page(
        "101.1",
        {
            "white-soft-paraffin": "12.5",
            "white-beeswax": "12.5",
            "almond-oil": "50",
            "borax": "1",
            "rose-oil": "0.1",
            "rose-water-undiluted": "25",
        },
        {
            "white-soft-paraffin": "12.3640",
            "white-beeswax": "12.3640",
            "almond-oil": "49.4560",
            "borax": "0.9891",
            "rose-oil": "0.0989",
            "rose-water-undiluted": "24.7280",
        },
        off="1.1 parts too much",
    ),
    "galens-cerate-bpc1911-imperial": Page(
        "219.885808221875",
        {
            "white-soft-paraffin": OUNCE,
            "white-beeswax": OUNCE,
            "almond-oil": 4 * IMPERIAL_OUNCE * ALMOND_OIL,  # 103.99180875
            "borax": 35 * GRAIN,  # 2.26796185
            "rose-oil": 4 * IMPERIAL_MINIM * ROSE_OIL,  # 0.203153396875
            "rose-water-undiluted": 2 * IMPERIAL_OUNCE * WATER,  # 56.723837975
        },
        {"white-soft-paraffin": "12.8928", "white-beeswax": "12.8928"},
    ),
    "zinc-cream-bpc1911": Page(
        "100",
        {"zinc-oxide": 15, "rose-oil": "0.1", "white-soft-paraffin": "84.9"},
        {"zinc-oxide": "15.0000", "rose-oil": "0.1000", "white-soft-paraffin": "84.9000"},
    ),
    "zinc-cream-bpc1911-imperial": Page(
        "453.59237",
        {
            "zinc-oxide": 1050 * GRAIN,
            "rose-oil": 8 * IMPERIAL_MINIM * ROSE_OIL,
            "white-soft-paraffin": POUND - 1050 * GRAIN - 8 * IMPERIAL_MINIM * ROSE_OIL,
        },
        {"zinc-oxide": "15.0000", "rose-oil": "0.0896", "white-soft-paraffin": "84.9104"},
    ),
    "aseptic-wax-bpc1911": Page(
        "101",
        {"white-beeswax": "87.5", "almond-oil": "12.5", "salicylic-acid": 1},
        {"white-beeswax": "86.6337", "almond-oil": "12.3762", "salicylic-acid": "0.9901"},
        off="1 part",
    ),
    "glycerin-of-starch-bhp": Page(
        "314.980497625",
        {"starch": "28.349523125", "glycerin": "286.6309745"},  # 8 x 28.4130625 x 1.261
        {"starch": "9.0004", "glycerin": "90.9996"},
    ),
    "cerat-de-galien": Page(
        "100",
        {"white-beeswax": 13, "refined-almond-oil": "53.5", "borax": "0.5", "rose-flavoured-water": 33},
        {"white-beeswax": "13.0000", "refined-almond-oil": "53.5000", "borax": "0.5000"},
    ),
    "unguentum-leniens-dab10": Page(
        "100",
        {"yellow-beeswax": 7, "cetyl-palmitate": 8, "peanut-oil": 60, "distilled-water": 25},
        {"distilled-water": "25.0000"},
    ),
    "hydrophilic-ointment-dab": Page(
        "100",
        {"emulsifying-cetostearyl-alcohol-a": 30, "viscous-paraffin": 35, "white-petrolatum": 35},
        {"white-petrolatum": "35.0000"},
    ),
    "cold-cream-henley-1": Page(
        "1038.5",
        {"almond-oil": 425, "lanolin": 185, "white-wax": 62, "spermaceti": 62, "borax": "4.5", "rose-water": 300},
        {
            "almond-oil": "40.9244",
            "lanolin": "17.8142",
            "white-wax": "5.9701",
            "spermaceti": "5.9701",
            "borax": "0.4333",
            "rose-water": "28.8878",
        },
    ),
    "cold-cream-henley-2": Page(
        "1000",
        {
            "tragacanth": 125,
            "boric-acid": 100,
            "glycerin": 140,
            "almond-oil": 50,
            "glyconine": 50,
            "lavender-oil": "0.5",
            "water": "534.5",
        },
        {"tragacanth": "12.5000", "lavender-oil": "0.0500", "water": "53.4500"},
    ),
    "lip-pomade-henley-1": Page(
        "162.5",
        {"paraffin": 80, "petrolatum": 80, "anchusin": "0.5", "bergamot-oil": 1, "lemon-peel": 1},
        {"paraffin": "49.2308", "petrolatum": "49.2308", "anchusin": "0.3077", "bergamot-oil": "0.6154"},
    ),
    "glycerine-cream-henley-1": Page(
        "138",
        {"almond-oil": 100, "white-wax": 13, "glycerin": 25, "perfume": 0},
        {"almond-oil": "72.4638", "white-wax": "9.4203", "glycerin": "18.1159"},
        open=("perfume",),
    ),
    "tooth-soap-henley-1": Page(
        "686",
        {
            "white-castile-soap": 225,
            "precipitated-chalk": 225,
            "orris-root": 225,
            "peppermint-oil": 7,
            "clove-oil": 4,
            "water": 0,
        },
        {"white-castile-soap": "32.7988", "peppermint-oil": "1.0204", "clove-oil": "0.5831"},
        open=("water",),
    ),
    "rose-cold-cream-piesse": Page(
        "14905",
        {"almond-oil": 7000, "white-wax": "437.5", "spermaceti": "437.5", "rose-water": 7000, "rose-otto": 30},
        {
            "almond-oil": "46.9641",
            "white-wax": "2.9353",
            "spermaceti": "2.9353",
            "rose-water": "46.9641",
            "rose-otto": "0.2013",
        },
        unit=GRAIN,
    ),
    "tooth-soap-askinson": Page(
        "56478.125",
        {
            "soap": 14000,
            "talc": 14000,
            "orris-root": 14000,
            "sugar": 7000,
            "water": 7000,
            "clove-oil": 150,
            "peppermint-oil": "328.125",
        },
        {"soap": "24.7884", "sugar": "12.3942", "clove-oil": "0.2656", "peppermint-oil": "0.5810"},
        unit=GRAIN,
    ),
    "vanishing-cream-gaud-gupta": Page(
        "100",
        {
            "stearic-acid": 13,
            "stearyl-alcohol": 1,
            "cetyl-alcohol": 1,
            "methylparaben": "0.1",
            "potassium-hydroxide": "0.9",
            "purified-water": 84,
        },
        {"potassium-hydroxide": "0.9000", "purified-water": "84.0000"},
    ),
    "vanishing-cream-glycerin": Page(
        "100",
        {
            "stearic-acid": 17,
            "potassium-hydroxide": "0.7",
            "glycerin": 5,
            "methylparaben": "0.18",
            "propylparaben": "0.02",
            "water": "77.1",
        },
        {"propylparaben": "0.0200", "water": "77.1000"},
    ),
    "lip-balm-103-g": Page(
        "103",
        {
            "beeswax": 30,
            "cocoa-butter": 30,
            "shea-butter": 10,
            "castor-oil": 20,
            "flavour": 1,
            "red-iron-oxide": 10,
            "vitamin-e": 1,
            "peppermint-oil": 1,
        },
        {"beeswax": "29.1262", "castor-oil": "19.4175", "red-iron-oxide": "9.7087", "flavour": "0.9709"},
    ),
}
IN_PERCENT = {"aqueous-cream-bp", "emulsifying-ointment-bp", "emulsifying-wax-bp"}  # see test_aqueous_cream


@pytest.fixture(scope="module")
def formulary() -> Snapshot:
    """Give all recipes of the formulary with an ingredient of one substance for each name in them."""
    files = {path.name: path.read_text(encoding="utf-8") for path in sorted(FORMULARY.glob("*.toml"))}
    snapshot = Snapshot(Files({**files, "workspace.toml": WORKSPACE}))
    names = {name for recipe in snapshot.recipes() for name in recipe.uses}
    for name in names:
        density = [f'density = "{DENSITIES[name]} g/mL"'] if name in DENSITIES else []
        files[f"ingredients/{name}.toml"] = material(name.replace("-", " ").title(), *density)
        if name in PREMIXES:
            files[f"ingredients/{name}.toml"] = f'title = "x"\nrecipe = "{PREMIXES[name]}"\n'
    return Snapshot(Files({**files, "workspace.toml": WORKSPACE}))


def _of(formulary: Snapshot, name: str) -> Formula:
    recipe = formulary.recipe(name)
    assert recipe is not None, formulary.read(f"{name}.toml").findings
    return formulary.formula(recipe)


def test_every_file_has_a_page(formulary: Snapshot) -> None:
    assert set(formulary.ids("recipe")) == set(PAGES) | IN_PERCENT
    assert len(PAGES) == 32


@pytest.mark.parametrize("name", PAGES)
def test_the_sum_is_the_book_s(formulary: Snapshot, name: str) -> None:
    page, found = PAGES[name], _of(formulary, name)
    assert sum((F(line) for line in page.lines.values()), F(0)) == F(page.total)
    total = Breakdown(found).composition.total
    grams = 1000 if found.recipe.amounts == "mass" else 1
    assert total * grams == F(page.total) * page.unit
    shown = figure(found, "total")
    assert (shown.unit, shown.value) == ("g" if grams == 1000 else "parts", total * grams)


@pytest.mark.parametrize("name", PAGES)
def test_percentages_are_exact_and_those_worked_by_hand(formulary: Snapshot, name: str) -> None:
    page = PAGES[name]
    lines = {line.charge.ingredient: line.pct for line in Breakdown(_of(formulary, name)).composition.lines}
    assert lines == {key: F(100) * F(line) / F(page.total) for key, line in page.lines.items()}
    assert sum(lines.values()) == 100
    assert {key: places(lines[key], 4) for key in page.pct} == page.pct


@pytest.mark.parametrize("name", PAGES)
def test_what_is_found_is_what_the_book_misses(formulary: Snapshot, name: str) -> None:
    page, found = PAGES[name], _of(formulary, name)
    wanted = [("total", "note" if page.about else "block")] if page.off else []
    assert said(found) == wanted + [("open-amount", "warn") for _ in page.open]
    for finding in findings(found):
        if finding.rule == "total":
            assert page.off in finding.message
            assert "percentages are taken on the real sum" in finding.message
        else:
            assert any(name in finding.message for name in page.open)


@pytest.mark.parametrize("name", ["glycerine-cream-henley-1", "tooth-soap-henley-1"])
def test_an_open_formula_says_so_in_its_figures(formulary: Snapshot, name: str) -> None:
    found = _of(formulary, name)
    assert Breakdown(found).composition.is_open
    for shown in ("total", "water"):
        assert any("not settled" in missing for missing in figure(found, shown).missing)


def test_a_measure_shows_how_it_became_a_mass(formulary: Snapshot) -> None:
    # 25 mL x 0.9982 = 24.955 g; 165 mL x 0.9982 = 164.703 g; 0.2 mL x 0.858 = 0.1716 g
    shown = Breakdown(_of(formulary, "rose-water-ointment-usp30")).composition.conversions
    assert [(one.volume, one.density, one.mass * 1000) for one in shown] == [
        ("25 mL", "0.9982 g/mL", F("24.955")),
        ("165 mL", "0.9982 g/mL", F("164.703")),
        ("200 uL", "0.858 g/mL", F("0.1716")),
    ]


def test_a_measure_without_a_density_leaves_the_recipe_open(formulary: Snapshot) -> None:
    text = (FORMULARY / "cold-cream-usp.toml").read_text(encoding="utf-8")
    names = PAGES["cold-cream-usp"].lines
    assert said(formula(text, {name: material(name.replace("-", " ")) for name in names})) == [("open-amount", "warn")]


def test_the_miss_of_a_total_stands_at_the_total(formulary: Snapshot) -> None:
    found = [one for one in findings(_of(formulary, "galens-cerate-bpc1911")) if one.rule == "total"]
    placed = formulary.place(found[0])
    lines = (FORMULARY / placed.file).read_text(encoding="utf-8").split("\n")
    assert lines[placed.line - 1] == "total   = 100"


@pytest.mark.parametrize(
    ("unit", "amount", "words"),
    [
        # Askinson, Perfumes and Their Preparation, tooth paste: madder lake "3/4 to 1 1/2 oz." (text seen at bitlit.ru)
        ("mass", '"0.75 to 1.5 oz"', "is a range; an amount is one number"),
        # Henley's Twentieth Century Formulas measures perfumes in drops: "10 drops".  A drop is no unit.
        ("mass", '"10 drops"', "is not a unit"),
        # King's writes "grs.", course sheets "gm.": a slip between the two is a factor of 15
        ("mass", '"30 gr"', "gram or grain"),
        ("mass", '"0.5 dr"', "dram"),
        # 3/4 oz. is written as a decimal
        ("mass", '"3/4 oz"', "write a fraction as a decimal number"),
        ("mass", "12", "has no unit"),
        ("parts", '"12 g"', "parts are bare numbers"),
        ("parts", '"1 to 2"', "parts are bare numbers"),
    ],
)
def test_what_a_book_may_print_and_a_recipe_may_not(unit: str, amount: str, words: str) -> None:
    other = "1" if unit == "parts" else '"1 oz"'
    text = f'title = "x"\namounts = "{unit}"\n[phase.A.charge]\na = {amount}\nb = {other}\n'
    found = findings(formula(text, {"a": material("A"), "b": material("B")}))
    assert [(one.rule, one.severity) for one in found] == [("bad-quantity", "block")]
    assert words in found[0].message


def test_measures_of_two_countries_are_two_units() -> None:
    # The Codex of 1911 measures in imperial fluid ounces (28.4130625 mL), King's in US ones (29.5735295625 mL).
    # 29.5735295625 / 28.4130625 = 1.0408: one name for both would be wrong by 4.08 % in half of the books.
    sizes = []
    for unit in ("fl_oz", "imp_fl_oz"):
        text = f'title = "x"\namounts = "mass"\n[phase.A.charge]\na = "100 {unit}"\n'
        found = formula(text, {"a": material("A", 'density = "1 g/mL"')})
        sizes.append(Breakdown(found).composition.total * 1000)
    assert sizes == [F("2957.35295625"), F("2841.30625")]
    assert places(sizes[0] / sizes[1], 4) == "1.0408"


def test_aqueous_cream_through_two_premixes(formulary: Snapshot) -> None:
    found = _of(formulary, "aqueous-cream-bp")
    assert said(found) == []
    assert Breakdown(found).leaves == {
        "sodium-lauryl-sulfate": F("0.009"),  # 0.30 x 0.30 x 0.10
        "cetostearyl-alcohol": F("0.081"),  # 0.30 x 0.30 x 0.90
        "white-soft-paraffin": F("0.15"),  # 0.30 x 0.50
        "liquid-paraffin": F("0.06"),  # 0.30 x 0.20
        "phenoxyethanol": F("0.01"),
        "purified-water": F("0.69"),
    }
