"""``git formula uses``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.commands.bench_repo import KELP_GEL, SHOP, golden, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]
NAME_ONE = (
    "name one ingredient, or a substance with --inci or --cas, an entry with --entry, a function with --function, "
    "or a lot with --lot"
)
LAVENDER = """title = "Lavender oil"
functions = ["perfume"]

[substances]
"Lavandula Angustifolia Oil" = { pct = 100, cas = "90063-37-9" }

[allergens]
"Linalool" = 30
"D-Limonene" = { pct = 0.5, cas = "5989-27-5" }
"""
SALT = """title = "Zinc salt"

[substances]
"Zinc Chloride" = 98
"Zinkacetat" = { pct = 1, role = "impurity" }
Aqua = 1
"""
TONIC = """title = "Tonic"
product = "hair tonic"

[phase.A.charge]
water = "to 100"
lavender = 0.20
zinc-salt = 0.50

[[step]]
id = "mix"
into = "main"
add = ["A"]
shear = "low"
"""


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed shop and stand in it."""
    repo = git_repo(SHOP)
    monkeypatch.chdir(repo.path)
    return repo


def shares(data: Any) -> list[tuple[str, str, str]]:
    return [(item["recipe"], item["pct"], item["kg"]) for item in data["uses"]]


def test_the_text(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "uses", "glycerin")

    assert golden("uses.txt", said.out) == said.out
    assert 80 >= max(map(len, said.out.splitlines()))


def test_the_markdown(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "uses", "glycerin", "--format", "markdown")

    assert golden("uses.md", said.out) == said.out


def test_premixes_are_seen_through(shop: Any, capsys: Capsys) -> None:
    """14 % itself and 10 % of the 6 % of gel: 14.6 % of 100 kg."""
    data = run(capsys, "uses", "glycerin", "--format", "json").json("uses")

    assert [("polish", "14.6", "14.6"), ("toner", "1", "0.5"), ("kelp-gel", "10", "1")] == shares(data)
    assert [["14"], ["6", "10"]] == [[charge["pct"] for charge in way["charges"]] for way in data["uses"][0]["ways"]]


def test_a_premix_by_its_recipe_or_its_ingredient(shop: Any, capsys: Capsys) -> None:
    expected = [("polish", "6", "6")]

    assert expected == shares(run(capsys, "uses", "recipe:kelp-gel", "--format", "json").json("uses"))
    assert expected == shares(run(capsys, "uses", "kelp-gel", "--format", "json").json("uses"))


def test_a_substance_over_all_its_grades(shop: Any, capsys: Capsys) -> None:
    data = run(capsys, "uses", "--inci", "hydrated  SILICA", "--format", "json").json("uses")

    assert [("polish", "13.5", "13.5")] == shares(data)
    assert ["silica-polishing", "silica-thickening"] == sorted(data["ingredients"])


def test_unused_is_said_and_is_no_error(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "uses", "mica")

    assert (0, ["mica, work tree", "", "no recipe uses it"]) == (said.status, said.lines)
    assert [] == run(capsys, "uses", "mica", "--format", "json").json("uses")["uses"]
    assert [] == run(capsys, "uses", "recipe:toner", "--format", "json").json("uses")["uses"]


def test_masses_for_another_batch_and_another_moment(shop: Any, capsys: Capsys) -> None:
    shop.write({"premixes/kelp-gel.toml": KELP_GEL.replace("10.00", "20.00")})

    def seen(*words: str) -> Any:
        return shares(run(capsys, "uses", *words, "--format", "json").json("uses"))[0]

    assert ("polish", "15.2", "38") == seen("glycerin", "--batch", "250 kg")
    assert ("polish", "14.6", "14.6") == seen("glycerin@HEAD")
    assert ("polish", "14.6", "14.6") == seen("--inci", "Glycerin", "--rev", "HEAD")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("glycerine",), "no ingredient is called 'glycerine' (work tree); did you mean 'glycerin'?"),
        (("--inci", "Glicerin"), "no ingredient states 'Glicerin' (work tree); did you mean 'Glycerin'?"),
        ((), NAME_ONE),
        (("mica", "--inci", "Mica"), NAME_ONE),
        (("--cas", "56-81-6"), "'56-81-6' is no CAS number: its check digit would be 5"),
        (("--entry", "24"), '\'24\' is no entry; one looks like "III/24" or "21 CFR 700.13"'),
        (("--inci", "E202"), "no ingredient states 'E202', which is 'Potassium Sorbate' (work tree)"),
        (("toner",), "'toner' is a recipe, and an ingredient is wanted"),
    ],
)
def test_wrong_words(shop: Any, capsys: Capsys, words: tuple[str, ...], message: str) -> None:
    said = run(capsys, "uses", *words)

    assert (2, "", f"git formula: {message}\n") == (said.status, said.out, said.err)


@pytest.fixture
def tonic(shop: Any) -> Any:
    """Add a tonic with declared allergens and an impurity to the shop."""
    shop.write({"ingredients/lavender.toml": LAVENDER, "ingredients/zinc-salt.toml": SALT, "tonic.toml": TONIC})
    return shop


def found(capsys: Capsys, *words: str) -> list[tuple[str, str, list[tuple[str, str, str]]]]:
    data = run(capsys, "uses", *words, "--format", "json").json("uses")
    return [
        (item["recipe"], item["pct"], [(one["name"], one["inci"], one["pct"]) for one in item["substances"]])
        for item in data["uses"]
    ]


def test_a_declared_allergen_is_found_by_any_name_and_by_its_number(tonic: Any, capsys: Capsys) -> None:
    """0.2 % of an oil with 0.5 % of it."""
    wanted = [("tonic", "0.001", [("D-Limonene", "Limonene", "0.001")])]

    for words in (("--inci", "Limonene"), ("--inci", "dipentene"), ("--cas", "5989-27-5"), ("--entry", "III/88")):
        assert wanted == found(capsys, *words), words


def test_an_entry_finds_all_that_it_speaks_of_impurities_too(tonic: Any, capsys: Capsys) -> None:
    """III/24, soluble zinc salts: 0.49 % of the chloride and 0.005 % of the acetate."""
    (use,) = found(capsys, "--entry", "annex iii/24")

    assert ("tonic", "0.495") == use[:2]
    assert [("Zinc Chloride", "Zinc Chloride", "0.49"), ("Zinkacetat", "Zinc Acetate", "0.005")] == use[2]
    assert [] == found(capsys, "--entry", "III/25")
    assert [] == found(capsys, "--entry", "II/1388")


def test_a_function_is_the_materials_own_or_that_of_what_is_in_it(tonic: Any, capsys: Capsys) -> None:
    assert [("tonic", "0.2", [])] == found(capsys, "--function", "perfume")
    assert ["tonic"] == [recipe for recipe, *_ in found(capsys, "--function", "oral care") if recipe == "tonic"]


def test_the_text_says_what_a_name_was_taken_for(tonic: Any, capsys: Capsys) -> None:
    assert (
        "Zinkchlorid (Zinc Chloride), in zinc-salt, work tree" == run(capsys, "uses", "--inci", "Zinkchlorid").lines[0]
    )
    said = run(capsys, "uses", "--entry", "III/24").lines

    assert "III/24, in zinc-salt, work tree" == said[0]
    assert "Zinc Chloride 0.49 %, Zinkacetat 0.005 %" == said[-1].strip()
    assert "II/1388, in no material, work tree" == run(capsys, "uses", "--entry", "II/1388").lines[0]
