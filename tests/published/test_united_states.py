"""Every line of the tables of the United States, tried in products on both sides of what it says.

21 CFR 73 subpart C, 74 subpart C and 700 subpart B, and the monographs M006, M016, M019 to M021 and M032, as the tables
brought in have them (`formula_vcs/law/us`): yes and no near the eye, on lips and outside; minimum and maximum.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.law import us_rows
from formula_vcs.law.labelling import ingredient_list
from formula_vcs.law.packs_in_force import factor
from formula_vcs.model.formula import Formula
from tests.published.helpers_law import DAY, formula, found, material, text

COLOURS = us_rows.table("colour-additives")
ACTIVES = us_rows.table("otc-actives")
PRODUCTS = {"area_of_eye": "eye shadow", "generally_and_lips": "lipstick", "external": "body lotion"}
# A product of each monograph, by where a line of it stands where that makes another product.
DRUGS: Mapping[str, tuple[str, str]] = {
    "sunscreen": ("sun lotion", 'for = "adults"\nspray = "none"'),
    "acne": ("acne cream", ""),
    "dandruff": ("anti-dandruff shampoo", ""),
    "skin protectant": ("skin protectant", ""),
    "astringent": ("astringent lotion", 'spray = "none"'),
    "antiperspirant": ("antiperspirant stick", ""),
}
BESIDE = {"333.310(b)": ("Sulfur", 5), "333.310(c)": ("Sulfur", 5), "333.310(f)": ("Resorcinol", 2)}
EDGE = Fraction(1, 10**6)


def _said(of: Formula, rules: tuple[str, ...]) -> set[str]:
    return {finding.severity for finding in found(of) if finding.rule in rules and finding.severity != "note"}


def _worst(line: Mapping[str, str]) -> set[str]:
    """Give how bad a breach is: what is from memory only warns."""
    return {"warn"} if line["checked"] == "memory" else {"block"}


@pytest.mark.parametrize("column", PRODUCTS)
@pytest.mark.parametrize("line", [pytest.param(line, id=line["name"]) for line in COLOURS])
def test_where_a_colour_may_go(line: dict[str, str], column: str) -> None:
    if line[column] == "limited" or (column == "external" and line["name"] == "Henna"):
        pytest.skip("the section says where")
    stated = f'{{ pct = 100, cas = "{line["cas"].split("; ")[0]}" }}' if line["cas"] else "100"
    colour = material({line["name"]: stated}, head='functions = ["colorant"]')
    of = formula({"it": "0.001"}, {"it": colour}, PRODUCTS[column], ("US",))

    # what has a number in common is one colour and its salt: the line that was read binds both
    alike = [other for other in COLOURS if other["ci"] == line["ci"] and line["ci"] and other[column] == line[column]]
    expected = set() if line[column] == "yes" else _worst(line).union(*map(_worst, alike))
    # "block" comes before "warn"
    assert min(expected, default="") == min(_said(of, ("prohibited", "us-colour")), default="")


@pytest.mark.parametrize("line", [pytest.param(line, id=line["name"]) for line in COLOURS if line["ci"]])
def test_a_colour_is_found_by_its_number(line: dict[str, str]) -> None:
    """Listed: a Colour Index number of the table is no colour that nobody knows."""
    for number in line["ci"].split("; "):
        of = formula({"it": "0.001"}, {"it": material({number: 100})}, "nail polish", ("US",))

        assert not _said(of, ("us-colour",))


def _drug(line: Mapping[str, str], section: str) -> tuple[str, str]:
    if line["monograph"] == "anticaries":
        kind = "mouthwash" if "rinse" in line["condition"] else "toothpaste"
        return kind, 'pack = "10 g"\n' + ('form = "powder"' if section == "355.10(a)(2)" else "")
    if section == "358.710(a)(3)":
        return "anti-dandruff lotion", 'spray = "none"'
    return DRUGS[line["monograph"]]


def _made(line: Mapping[str, str], amount: Fraction) -> Formula:
    section = us_rows._section(line["cite"])
    kind, header = _drug(line, section)
    of_basis = factor(line["inci"].casefold(), "F") if line["unit"] == "% F" else None
    share = amount / of_basis.value if of_basis is not None else amount
    charges: dict[str, Any] = {"it": text(share)}
    materials = {"it": material({line["inci"]: 100})}
    if section in BESIDE:
        name, much = BESIDE[section]
        charges["beside"], materials["beside"] = much, material({name: 100})
    balance = material({"Aqua": 100})
    return formula(charges, materials | {"rest": balance}, kind, ("US",), header)


def _blames(of: Formula, line: Mapping[str, str]) -> set[str]:
    """Give how bad it is what the monographs say of a line's substance."""
    return {
        finding.severity
        for finding in found(of)
        if finding.rule == "limit" and finding.severity != "note" and line["cite"].split(" / ")[0] in finding.message
    }


# Several ranges of one salt are tried below; white petrolatum is petrolatum by its INCI name, with the same range.
RANGES = [
    pytest.param(line, id=f"{line['active']}, {line['cite']}")
    for line in ACTIVES
    if line["inci"]
    and line["monograph"] != "anticaries"
    and line["inci"] != "Selenium Sulfide"
    and line["active"] != "White petrolatum"
]


@pytest.mark.parametrize("line", RANGES)
def test_an_active_at_both_ends(line: dict[str, str]) -> None:
    """Allowed at the minimum and at the maximum, and not a millionth of a percent beyond either."""
    low, high = (Fraction(line[end]) if line[end] else None for end in ("min", "max"))
    if low is not None and low < 99:
        assert set() == _blames(_made(line, low), line)
        assert _worst(line) == _blames(_made(line, low - EDGE), line)
    if high is not None and high < 99:
        assert set() == _blames(_made(line, high), line)
        assert _worst(line) == _blames(_made(line, high + EDGE), line)


@pytest.mark.parametrize(
    ("name", "kind", "allowed", "not_allowed"),
    [
        # 355.10(a)(1): 0.188 to 0.254 %; (a)(3)(iii), (iv): 0.02 or 0.05 %
        ("Sodium Fluoride", "toothpaste", ("0.188", "0.254"), ("0.1879", "0.2541", "0.05")),
        ("Sodium Fluoride", "mouthwash", ("0.02", "0.05"), ("0.0199", "0.0201", "0.03", "0.0499", "0.0501", "0.2")),
        # 355.10(b)(1): 0.654 to 0.884 %
        ("Sodium Monofluorophosphate", "toothpaste", ("0.654", "0.884"), ("0.6539", "0.8841")),
        # 358.710(a)(5), (6): 1 %, micronized 0.6 %
        ("Selenium Sulfide", "anti-dandruff shampoo", ("1", "0.6"), ("0.99", "1.01", "0.8")),
    ],
)
def test_ranges_and_single_values(name: str, kind: str, allowed: tuple[str, ...], not_allowed: tuple[str, ...]) -> None:
    for amounts, expected in ((allowed, set()), (not_allowed, {"block"})):
        for amount in amounts:
            of = formula({"it": amount}, {"it": material({name: 100})}, kind, ("US",), 'pack = "10 g"')
            said = {f.severity for f in found(of) if f.rule == "limit" and f.severity != "note"}

            assert expected == said, amount


@pytest.mark.parametrize("line", [line for line in ACTIVES if line["inci"]], ids=lambda line: line["active"])
def test_an_active_stands_apart_on_the_label(line: dict[str, str]) -> None:
    amount = Fraction(line["max"] or line["min"] or 1)
    if line["max"] == "100":
        amount = Fraction(line["min"])
    of = _made(line, amount)
    lines = ingredient_list(Breakdown(of), DAY, "US")

    apart = {one.inci for one in lines if one.part == "active"}
    assert line["active"] in apart or {"Petrolatum", "White petrolatum"} & apart or "fluoride" in line["active"]
    assert not apart & {one.inci for one in lines if one.part != "active"}
