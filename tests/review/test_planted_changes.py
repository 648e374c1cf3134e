"""Planted changes: each does something that a reviewer must not miss, and the review says it.

The recipes are invented and as short as the risk allows; what is asked is the rule and how bad it is, not the words.
"""

from __future__ import annotations

import datetime
from fractions import Fraction
from typing import Final, NamedTuple

import pytest

from formula_vcs.figures.figure import Terms
from formula_vcs.review.compare import Comparison, compare
from formula_vcs.workspace.snapshot import Files, Snapshot

DAY: Final = datetime.date(2026, 11, 30)


def _material(substances: str, head: str = "", tail: str = "") -> str:
    return f'title = "X"\n{head}\n[substances]\n{substances}\n{tail}\n'


def _one(name: str, function: str = "", tail: str = "") -> str:
    return _material(f'"{name}" = 100', f'functions = ["{function}"]' if function else "", tail)


MATERIALS: Final[dict[str, str]] = {
    "water": _material("Aqua = 100", 'density = "1 g/mL"'),
    "glycerin": _one("Glycerin", "humectant"),
    "glycol": _one("Propylene Glycol", "humectant"),
    "benzoate": _one("Sodium Benzoate", "preservative"),
    "phenoxy": _material("Phenoxyethanol = 90\nEthylhexylglycerin = 10", 'functions = ["preservative"]'),
    "citric": _one("Citric Acid", "pH adjuster"),
    "naoh": _one("Sodium Hydroxide", "pH adjuster"),
    "sles": _material('"Sodium Laureth Sulfate" = 28\nAqua = 72', 'functions = ["surfactant"]'),
    "sls": _one("Sodium Lauryl Sulfate", "surfactant"),
    "salt": _one("Sodium Chloride"),
    "carbomer": _one("Carbomer", "thickener"),
    "xanthan": _one("Xanthan Gum", "thickener"),
    "btms": _material('"Behentrimonium Methosulfate" = 50\n"Cetearyl Alcohol" = 50'),
    "cpc": _one("Cetylpyridinium Chloride"),
    "naf": _one("Sodium Fluoride"),
    "chalk": _one("Calcium Carbonate", "abrasive"),
    "silica": _one("Hydrated Silica", "abrasive", '[handling]\nshear_at_most = "medium"'),
    "silica-cheap": _one("Hydrated Silica", "abrasive"),
    "vitamin-c": _one("Ascorbic Acid"),
    "copper": _one("Copper Gluconate"),
    "edta": _one("Disodium EDTA", "chelator"),
    "magnesium-sulfate": _one("Magnesium Sulfate"),
    "pgpr": _one("Polyglyceryl-3 Polyricinoleate", "emulsifier"),
    "oil": _one("Helianthus Annuus Seed Oil"),
    "wax": _one("Candelilla Cera"),
    "beeswax": _material('"Cera Alba" = 100', 'source = "animal"'),
    "tocopherol": _one("Tocopherol", "antioxidant"),
    "tea": _material('Triethanolamine = 99\nDiethanolamine = { pct = 0.4, role = "impurity" }\nAqua = 0.6'),
    "bronopol": _one("2-Bromo-2-Nitropropane-1,3-Diol", "preservative"),
    "d5": _one("Cyclopentasiloxane"),
    "nylon": _one("Nylon-12", "", "[polymer]\nparticles = true"),
    "beads": _one("Polyethylene", "exfoliant", "[polymer]\nparticles = true"),
    "avobenzone": _one("Butyl Methoxydibenzoylmethane", "UV filter"),
    "octocrylene": _one("Octocrylene", "UV filter"),
    "homosalate": _one("Homosalate", "UV filter"),
    "paba": _one("PABA", "UV filter"),
    "orange": _one("CI 15585", "colorant"),
    "red": _one("CI 26100", "colorant"),
    "nano": _material('"Titanium Dioxide (nano)" = { pct = 100, nano = true }', 'functions = ["UV filter"]'),
    "perfume": _one("Parfum", "fragrance", "[allergens]\nLyral = 5"),
    "peroxide": _one("Benzoyl Peroxide"),
    "salicylic": _one("Salicylic Acid"),
    "alchohol": _one("Cetearyl Alchohol"),
    "mystery": _one("Unobtainium Dioxide"),
    "alumina": _one("Alumina", "abrasive"),
    "mix": 'title = "Mix"\nrecipe = "mixed"\n',
}


def _recipe(charges: str, product: str = "body cream", *, spec: str = "", head: str = "", shear: str = "low") -> str:
    lines = "\n".join(line.strip() for line in charges.split(","))
    first = "" if "to 100" in charges else 'water = "to 100"\n'
    header = f'title = "R"\nproduct = "{product}"\nfor = "adults"\nspray = "none"\n{head}\n'
    step = f'[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "{shear}"\n'
    return f"{header}[phase.A.charge]\n{first}{lines}\n{step}" + (f"[spec]\n{spec}\n" if spec else "")


def _reviewed(old: str, new: str, **more: tuple[str, str]) -> Comparison:
    sides = []
    for number, recipe in enumerate((old, new)):
        files = {"workspace.toml": 'title = "Shed"\nmarkets = ["EU"]\nbatch = "100 kg"\n', "r.toml": recipe}
        files |= {f"ingredients/{name}.toml": text for name, text in MATERIALS.items()}
        files |= {f"{path}.toml": texts[number] for path, texts in more.items()}
        sides.append(Snapshot(Files(files)))
    return compare(sides[0], sides[1], Terms(DAY))


class Planted(NamedTuple):
    """A change of a recipe, and the findings of the review: rule and severity, the days to come among them."""

    old: str
    new: str
    said: tuple[str, ...]


BASE: Final = "glycerin = 5, phenoxy = 1"
WASH: Final = "sles = 30, phenoxy = 1"
SUN: Final = f"{BASE}, avobenzone = 3, octocrylene = 5"


def _added(charges: str, more: str, product: str, *said: str) -> Planted:
    return Planted(_recipe(charges, product), _recipe(f"{charges}, {more}", product), said)


def _taken(charges: str, gone: str, product: str, *said: str, spec: str = "", head: str = "") -> Planted:
    left = ", ".join(line for line in charges.split(", ") if not line.startswith(gone))
    sides = [_recipe(lines, product, spec=spec, head=head) for lines in (charges, left)]
    return Planted(sides[0], sides[1], said)


def _raised(charges: str, old: str, new: str, product: str, *said: str) -> Planted:
    return Planted(_recipe(charges, product), _recipe(charges.replace(old, new), product), said)


PLANTED: Final[dict[str, Planted]] = {
    # limits taken away
    "the pH range and the acid of a benzoate shampoo": Planted(
        _recipe("sles = 30, benzoate = 0.5, citric = 0.3", "shampoo", spec='pH = "4.5 to 5.0"'),
        _recipe("sles = 30, benzoate = 0.5", "shampoo"),
        ("acid-range block", "role-empty warn", "guard-spec warn"),
    ),
    "the pH range alone": Planted(
        _recipe("sles = 30, benzoate = 0.5, citric = 0.3", "shampoo", spec='pH = "4.5 to 5.0"'),
        _recipe("sles = 30, benzoate = 0.5, citric = 0.3", "shampoo"),
        ("acid-range block", "guard-spec warn"),
    ),
    "the pH range widened": Planted(
        _recipe("sles = 30, benzoate = 0.5, citric = 0.3", "shampoo", spec='pH = "4.5 to 5.0"'),
        _recipe("sles = 30, benzoate = 0.5, citric = 0.3", "shampoo", spec='pH = "4.5 to 6.0"'),
        ("guard-spec warn", "preservative-window warn"),
    ),
    "a claim struck out": Planted(
        _recipe(BASE, head='claims = ["natural-origin at least 10 %"]'), _recipe(BASE), ("guard-claim warn",)
    ),
    "a product called a premix": Planted(_recipe(BASE), _recipe(BASE, "premix"), ("guard-product warn",)),
    # preservation
    "the preservative": _taken(BASE, "phenoxy", "face serum", "preserved block"),
    "a benzoate that nothing holds at a pH": _added(
        BASE, "benzoate = 0.4, vitamin-c = 15", "face serum", "acid-range warn", "incompatible warn"
    ),
    # law
    "too much of a UV filter": _raised(SUN, "avobenzone = 3", "avobenzone = 8", "sun cream", "limit block"),
    "too much of two": _raised(SUN, "octocrylene = 5", "octocrylene = 20", "sun cream", "limit block"),
    "a UV filter that is prohibited": _added(BASE, "paba = 8", "sun cream", "prohibited block", "positive-list block"),
    "a UV filter for the face alone": _added(BASE, "homosalate = 7", "sun cream", "prohibited block"),
    "colours that no list has": _added(
        BASE, "orange = 5, red = 2", "lipstick", "positive-list block", "prohibited block"
    ),
    "a nano filter into a spray": Planted(
        _recipe(f"{BASE}, nano = 5", "sun lotion"),
        _recipe(f"{BASE}, nano = 5", "sun spray").replace('spray = "none"', 'spray = "pump"'),
        ("prohibited block",),
    ),
    "an allergen that is prohibited by its trade name": _added(BASE, "perfume = 0.5", "body cream", "prohibited block"),
    "a bleach in a serum": _added(BASE, "peroxide = 1.5", "face serum", "prohibited block"),
    "a name with a slip": _added(BASE, "alchohol = 1", "body cream", "substance-name warn"),
    "a name that nobody knows": _added(BASE, "mystery = 1", "body cream", "substance-name warn"),
    "an amine with a secondary one": _added(BASE, "tea = 0.6", "body cream", "trace warn"),
    "aluminium that a day to come limits": _added(BASE, "alumina = 14", "toothpaste", "limit 2027-01-01"),
    "a silicone that a day to come limits": _added(BASE, "d5 = 3", "body cream", "limit 2027-06-06"),
    "beads in a scrub": _added(WASH, "beads = 2", "body scrub", "microplastics block"),
    "a powder in a wash": _added(WASH, "nylon = 2", "shampoo", "microplastics 2027-10-17"),
    "salicylic acid for small children": Planted(
        _recipe(f"{BASE}, salicylic = 0.3", "body lotion", spec='pH = "3.5 to 4"'),
        _recipe(f"{BASE}, salicylic = 0.3", "body lotion", spec='pH = "3.5 to 4"').replace(
            '"adults"', '"children under 3"'
        ),
        ("prohibited block",),
    ),
    # what does not go together
    "salt into a carbomer gel": _added(
        f"{BASE}, carbomer = 0.3, naoh = 0.1", "salt = 1", "body gel", "incompatible warn"
    ),
    "a cationic into an anionic wash": _added(WASH, "btms = 2", "shampoo", "incompatible warn"),
    "an anionic onto a cationic biocide": _added(
        f"{BASE}, cpc = 0.07", "sls = 0.5", "mouthwash", "incompatible warn"
    ),
    "fluoride onto calcium": Planted(
        _recipe(f"{BASE}, naf = 0.3, silica = 15", "toothpaste"),
        _recipe(f"{BASE}, naf = 0.3, chalk = 15", "toothpaste"),
        ("incompatible warn",),
    ),
    "copper onto vitamin C": _added(f"{BASE}, vitamin-c = 5", "copper = 0.1", "face serum", "incompatible warn"),
    "bronopol onto an amine": _added(f"{BASE}, tea = 0.6", "bronopol = 0.05", "body cream", "incompatible warn"),
    # roles
    "the electrolyte of a W/O": _taken(
        f"{BASE}, oil = 30, pgpr = 3, magnesium-sulfate = 0.7", "magnesium", "body cream",
        "role-empty warn", "incompatible warn", head='form = "emulsion"',
    ),
    "the chelator of vitamin C": _taken(
        f"{BASE}, vitamin-c = 5, edta = 0.1", "edta", "face serum", "role-empty warn"
    ),
    "the antioxidant of oils": _taken(
        'wax = "to 100", oil = 50, tocopherol = 0.5', "tocopherol", "lip balm", "role-empty warn"
    ),
    "what holds avobenzone": _taken(SUN, "octocrylene", "sun cream", "role-empty warn", "incompatible warn"),
    "what holds solids up": _taken(
        f"{WASH}, xanthan = 0.5, silica = 3", "xanthan", "body scrub", "role-empty warn"
    ),
    "the thickener of a spec": _taken(
        f"{BASE}, xanthan = 0.5", "xanthan", "body cream", "role-empty note", spec='viscosity = "5 to 10 Pa*s"'
    ),
    # substitutions
    "a grade that states nothing, under the rotor": Planted(
        _recipe(f"{BASE}, silica = 14", "toothpaste"),
        _recipe(f"{BASE}, silica-cheap = 14", "toothpaste", shear="high"),
        ("demand-lost warn",),
    ),
    "shear that a grade must not see": Planted(
        _recipe(f"{BASE}, silica = 14", "toothpaste"),
        _recipe(f"{BASE}, silica = 14", "toothpaste", shear="high"),
        ("shear-at-most block",),
    ),
    # claims
    "SLS-free with it": Planted(
        _recipe(f"{BASE}, sls = 1", "toothpaste"),
        _recipe(f"{BASE}, sls = 1", "toothpaste", head='claims = ["SLS-free"]'),
        ("claim-fails block",),
    ),
    "vegan with beeswax": Planted(
        _recipe(f"{BASE}, beeswax = 1"),
        _recipe(f"{BASE}, beeswax = 1", head='claims = ["vegan"]'),
        ("claim-fails block",),
    ),
    "an SPF that nobody measured": Planted(
        _recipe(SUN, "sun cream"), _recipe(SUN, "sun cream", head='claims = ["SPF 30"]'), ("claim-information warn",)
    ),
    "microplastic-free with beads": Planted(
        _recipe(f"{WASH}, nylon = 1", "shampoo"),
        _recipe(f"{WASH}, nylon = 1", "shampoo", head='claims = ["microplastic-free"]'),
        ("claim-fails block",),
    ),
    "words without a proof": Planted(
        _recipe(BASE), _recipe(BASE, spec='pH = "5 to 6"\n[claim]\n"hydrates for 24 hours" = "efficacy"'),
        ("claim-information warn",),
    ),
    # arithmetic
    "a total that does not add up": Planted(
        _recipe("glycerin = 9, phenoxy = 1").replace('"to 100"', "90"),
        _recipe("glycerin = 10, phenoxy = 1").replace('"to 100"', "90"),
        ("total block",),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PLANTED)
def test_a_planted_change_is_not_missed(name: str) -> None:
    """Every rule that the change calls for speaks, as badly as it should."""
    planted = PLANTED[name]
    found = _reviewed(planted.old, planted.new)
    said = {f"{item.finding.rule} {item.finding.severity}" for review in found.reviews for item in review.new}
    said |= {f"{item.finding.rule} {item.day}" for review in found.reviews for item in review.ahead}
    said |= {f"guard-{item.kind} warn" for item in found.guard}

    assert set(planted.said) <= said, sorted(said)


def test_a_premix_that_is_diluted_says_what_becomes_of_its_preservative() -> None:
    """Phenoxyethanol falls in the product, though no line of the product's own file changed."""
    mixed = 'title = "Mixed"\nproduct = "premix"\n[phase.A.charge]\nglycol = "to 100"\nphenoxy = {pct}\n'
    product = _recipe("glycerin = 5, mix = 1")

    found = _reviewed(product, product, mixed=(mixed.replace("{pct}", "90"), mixed.replace("{pct}", "70")))
    moves = {move.name: (move.before, move.after) for review in found.reviews for move in review.substances}

    # 1 % of a mix with 90 % of a material of which 90 % is phenoxyethanol, and with 70 % of it
    assert (Fraction("0.81"), Fraction("0.63")) == moves["Phenoxyethanol"]


def test_no_planted_change_is_silent() -> None:
    """There are forty-four of them, the premix among them."""
    assert 44 <= len(PLANTED) + 1
