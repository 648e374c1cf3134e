"""``git formula show``: a recipe, an ingredient, any moment, any spelling of a target."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.commands.bench_repo import POLISH, SHOP, SWAPPED, TONER, golden, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed shop and stand in it."""
    repo = git_repo(SHOP)
    monkeypatch.chdir(repo.path)
    return repo


@pytest.mark.parametrize("target", ["polish", "toner", "kelp-gel", "silica-polishing", "ingredient:kelp-gel"])
def test_the_text(shop: Any, capsys: Capsys, target: str) -> None:
    said = run(capsys, "show", target)

    assert golden(f"show-{target.replace(':', '-')}.txt", said.out) == said.out
    assert 80 >= max(map(len, said.out.splitlines()))
    assert 0 == said.status


@pytest.mark.parametrize("target", ["polish", "silica-polishing"])
def test_the_markdown(shop: Any, capsys: Capsys, target: str) -> None:
    said = run(capsys, "show", target, "--format", "markdown")

    assert golden(f"show-{target}.md", said.out) == said.out


def test_json_of_a_recipe(shop: Any, capsys: Capsys) -> None:
    data = run(capsys, "show", "polish", "--format", "json").json("show")

    assert ("polish", "work tree", None) == (data["recipe"], data["revision"], data["commit"])
    assert {"phase": "A", "ingredient": "water", "pct": "66.1", "balance": True, "amount": "to 100"} == data["charges"][
        0
    ]
    # Water 66.1 and 86 % of the 6 % of gel: 66.1 + 5.16; glycerin 14 and 0.6; both silicas under one name
    assert [
        ("Aqua", "71.26"),
        ("Glycerin", "14.6"),
        ("Hydrated Silica", "13.5"),
        ("Citric Acid", "0.4"),
        ("Algin", "0.24"),
    ] == [(item["inci"], item["pct"]) for item in data["substances"]]
    assert Fraction(100) == sum(Fraction(item["pct"]) for item in data["substances"])
    assert ("100", "%", []) == tuple(data["figures"]["natural_origin"][key] for key in ("value", "unit", "missing"))
    assert "holds" == data["claims"]["natural-origin at least 99 %"]["verdict"]
    assert ["preserved"] == [finding["rule"] for finding in data["findings"]]


def test_claims(shop: Any, capsys: Capsys) -> None:
    """Natural: 98.9 % water, so it fails 99.9 %.  Without water, 1.1 parts of 1.1 are of natural origin."""
    shop.write({"toner.toml": TONER.replace("natural at least 98 %", "natural at least 99.9 %")})

    data = run(capsys, "show", "toner", "--format", "json").json("show")

    assert {
        "natural at least 99.9 %": ("fails", "natural is 98.90 %"),
        "natural-origin at least 100 % without water": ("holds", "natural origin, without water, is 100.00 %"),
    } == {claim: (item["verdict"], item["because"]) for claim, item in data["claims"].items()}


def test_a_claim_that_lacks_data_names_it(shop: Any, capsys: Capsys) -> None:
    """0.40 % of the product is not known: 99.6 to 100 %, and 99.9 % is claimed."""
    text = SHOP["ingredients/citric-acid.toml"].replace("natural_origin = 1\n", "")
    shop.write(
        {"ingredients/citric-acid.toml": text, "polish.toml": POLISH.replace("at least 99 %", "at least 99.9 %")}
    )

    data = run(capsys, "show", "polish", "--format", "json").json("show")

    claim = data["claims"]["natural-origin at least 99.9 %"]
    missing = "citric-acid: no natural-origin index in [origin]"
    assert ("needs information", [missing]) == (claim["verdict"], claim["missing"])
    assert f"missing: {missing}" in run(capsys, "show", "polish").lines


def test_json_of_an_ingredient(shop: Any, capsys: Capsys) -> None:
    data = run(capsys, "show", "glycerin", "--format", "json", "--batch", "300 kg").json("show")

    assert ("glycerin", "1.2", "EUR") == (data["ingredient"], data["price"]["per_kg"], data["price"]["currency"])
    assert [("polish", "14.6"), ("toner", "1"), ("kelp-gel", "10")] == [
        (item["recipe"], item["pct"]) for item in data["used"]
    ]


def test_batch_chooses_the_price_break(shop: Any, capsys: Capsys) -> None:
    """Of 100 kg, 14.6 kg glycerin at 1.60 EUR; of 2000 kg, 292 kg at 1.20: 0.146 x 0.40 = 0.0584 EUR/kg less."""
    costs = [
        Fraction(
            run(capsys, "show", "polish", "--format", "json", *words).json("show")["figures"]["cost_per_kg"]["value"]
        )
        for words in ((), ("--batch", "2000 kg"))
    ]

    assert Fraction("0.0584") == costs[0] - costs[1]
    said = run(capsys, "show", "polish", "--batch", "2 hours")
    assert 2 == said.status


def test_targets(shop: Any, capsys: Capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    first = shop.git("rev-parse", "HEAD")
    shop.commit("swap", {"polish.toml": SWAPPED})
    shop.write({"polish.toml": POLISH.replace("14.00", "13.00")})

    def glycerin(*words: str) -> tuple[str, str | None, str]:
        data = run(capsys, "show", "--format", "json", *words).json("show")
        pct = next(item["pct"] for item in data["charges"] if item["ingredient"] == "glycerin")
        return data["revision"], data["commit"], pct

    second = shop.git("rev-parse", "HEAD")
    assert ("work tree", None, "13") == glycerin("polish")
    assert ("work tree", None, "13") == glycerin("polish.toml")
    assert ("work tree", None, "13") == glycerin("recipe:polish")
    assert ("HEAD", second, "12") == glycerin("polish@HEAD")
    assert ("HEAD@{0}", second, "12") == glycerin("polish@HEAD@{0}")
    assert ("HEAD~1", first, "14") == glycerin("HEAD~1:polish.toml")
    assert ("HEAD~1", first, "14") == glycerin("recipe:polish@HEAD~1")
    assert ("HEAD~1", first, "14") == glycerin("polish", "--rev", "HEAD~1")
    assert ("index", None, "12") == glycerin(":polish.toml")
    monkeypatch.chdir(shop.path / "premixes")
    assert ("work tree", None, "13") == glycerin("../polish.toml")
    assert ("HEAD~1", first, "14") == glycerin("HEAD~1:../polish.toml")
    assert ("HEAD~1", first, "14") == glycerin("HEAD~1:polish.toml")


def test_an_id_that_is_both_is_asked_about_unless_it_is_one_thing(shop: Any, capsys: Capsys) -> None:
    shop.write({"ingredients/toner.toml": SHOP["ingredients/mica.toml"]})

    said = run(capsys, "show", "toner")

    words = "'toner' is a recipe and an ingredient; write recipe:toner or ingredient:toner"
    assert (2, f"git formula: {words}\n") == (said.status, said.err)
    assert "kelp-gel" == run(capsys, "show", "kelp-gel", "--format", "json").json("show")["recipe"]
    assert "toner" == run(capsys, "show", "ingredient:toner", "--format", "json").json("show")["ingredient"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("plish",), "no recipe or ingredient is called 'plish' (work tree); did you mean 'polish'?"),
        (("recipe:mica",), "'mica' is an ingredient, and a recipe is wanted"),
        (("polish@nosuch",), "unknown revision 'nosuch'"),
        (("HEAD:nosuch.toml",), "no recipe or ingredient is called 'nosuch.toml' (HEAD)"),
        (("nosuch.toml",), "no recipe or ingredient is called 'nosuch.toml' (work tree)"),
        (("polish@HEAD", "--rev", "HEAD"), "'polish@HEAD' names a revision, and so does --rev; one of them will do"),
        (("@HEAD",), "'@HEAD' names nothing"),
    ],
)
def test_wrong_words(shop: Any, capsys: Capsys, words: tuple[str, ...], message: str) -> None:
    said = run(capsys, "show", *words)

    assert (2, "", f"git formula: {message}\n") == (said.status, said.out, said.err)


def test_a_recipe_that_does_not_parse_is_refused_at_its_line(shop: Any, capsys: Capsys) -> None:
    shop.write({"toner.toml": "title = \n"})

    said = run(capsys, "show", "toner")

    assert 2 == said.status
    assert said.err.startswith("git formula: toner.toml:1:")
    assert said.err.endswith("'git formula check' says all that is wrong\n")


def test_parts_and_volumes_are_shown_as_written_and_converted(shop: Any, capsys: Capsys) -> None:
    shop.write({
        "book.toml": 'title = "Rose water"\nproduct = "lotion"\namounts = "mass"\ntotal = "about 200 g"\n\n'
        '[phase.A.charge]\nwater = "100 g"\nglycerin = "50 mL"\ncitric-acid = "q.s."\n',
    })  # fmt: skip

    said = run(capsys, "show", "book")
    data = run(capsys, "show", "book", "--format", "json").json("show")

    assert golden("show-book.txt", said.out) == said.out
    assert [{"charge": "A/glycerin", "volume": "50 mL", "density": "1.26 g/mL", "kg": "0.063"}] == data["conversions"]
    assert ["10000/163", "6300/163", "0"] == [item["pct"] for item in data["charges"]]


def test_outside_git_the_files_are_enough(capsys: Capsys, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for path, text in SHOP.items():
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)

    assert 0 == run(capsys, "show", "polish").status
    said = run(capsys, "show", "polish@HEAD")
    assert (2, f"git formula: {tmp_path} is not in a git repository\n") == (said.status, said.err)


def test_a_batch_of_nothing_has_no_cost(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "show", "polish", "--batch", "0 kg")
    words = "--batch: '0 kg' is nothing, and nothing cannot be made"
    assert (2, f"git formula: {words}\n") == (said.status, said.err)


def test_empty_bare_and_no_workspace(
    git_repo: Make, shop: Any, capsys: Capsys, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shop.git("clone", "--quiet", "--bare", ".", str(tmp_path / "bare.git"))
    monkeypatch.chdir(tmp_path / "bare.git")
    assert 0 == run(capsys, "show", "polish@main").status
    assert 0 == run(capsys, "show", "main:polish.toml").status
    said = run(capsys, "show", "polish")
    bare = "git formula: this repository is bare: it has no files to read; name a revision (--rev HEAD)\n"
    assert (2, bare) == (said.status, said.err)
    assert (2, bare) == (run(capsys, "check").status, run(capsys, "check").err)

    empty = git_repo(name="empty")
    empty.write(SHOP)
    monkeypatch.chdir(empty.path)
    assert 0 == run(capsys, "show", "polish").status
    said = run(capsys, "show", "polish@HEAD")
    assert (2, "git formula: unknown revision 'HEAD': this repository has no commits yet\n") == (said.status, said.err)

    monkeypatch.chdir(git_repo({"a.txt": ""}, name="other").path)
    assert 2 == run(capsys, "show", "polish").status


def test_whom_it_is_for_and_how_it_comes(shop: Any, capsys: Capsys) -> None:
    header = 'for = "children 3 to 6"\nspray = "pump"\nhydroalcoholic = false\narea = ["face", "hand"]\n'
    shop.write({"toner.toml": TONER.replace("\n", f"\n{header}", 1)})

    said = " ".join(run(capsys, "show", "toner").out.split())
    assert "for children 3 to 6; pump spray; not hydroalcoholic; on face, hand" in said
    data = run(capsys, "show", "toner", "--format", "json").json("show")
    assert ("children 3 to 6", "pump", False, ["face", "hand"]) == (
        data["for"], data["spray"], data["hydroalcoholic"], data["area"],
    )  # fmt: skip
