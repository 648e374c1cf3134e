"""``git formula review --only / --without / --patch``: some of the changes alone, and the patch that takes them."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.commands.bench_repo import POLISH, SHOP, SWAPPED, TONER, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]

# Claims 99 % organic origin as well: glycerin cannot be that.  Two comments more, and a file beside the recipes.
WISHES = SWAPPED.replace(
    'claims  = ["natural-origin at least 99 %"]', 'claims  = ["natural-origin at least 99 %", "organic at least 20 %"]'
).replace('time  = "25 min"', 'time  = "25 min"   # slower')
DEARER = SHOP["ingredients/glycerin.toml"].replace("1.60", "1.90")


@pytest.fixture
def proposal(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a branch with six changes in two recipes, a price and a comment, while main went on; stand on main."""
    repo = git_repo(SHOP)
    monkeypatch.chdir(repo.path)
    repo.git("switch", "--quiet", "--create", "proposal")
    repo.commit(
        "Wishes",
        {
            "polish.toml": WISHES,
            "toner.toml": TONER.replace("= 1.00", "= 2.00"),
            "ingredients/glycerin.toml": DEARER,
            "ingredients/mica.toml": SHOP["ingredients/mica.toml"] + "# shiny\n",
        },
    )
    repo.git("switch", "--quiet", "main")
    return repo


def review(capsys: Capsys, *words: str) -> Any:
    return run(capsys, "review", "main...proposal", *words, "--format", "json").json("diff")


def ids(data: Any) -> dict[str, list[str]]:
    return {
        recipe["recipe"]: [change["id"] for change in recipe["changes"] if not change["derived"]]
        for recipe in data["recipes"]
    }


def git_apply(repo: Any, patch: bytes, *words: str) -> None:
    subprocess.run(["git", "apply", "--index", *words, "-"], cwd=repo.path, input=patch, check=True)


def test_which_change_costs_the_claim_and_what_the_other_two_alone_would_do(proposal: Any, capsys: Capsys) -> None:
    """The question of a reviewer, asked and answered."""
    whole = review(capsys, "polish")["recipes"][0]
    lost = next(finding for finding in whole["findings"]["new"] if finding["rule"] == "claim-fails")
    assert ["claim:claim/organic at least 20 %"] == lost["causes"]

    part = review(capsys, "--only", "polish:glycerin", "--only", "fold-polish")
    assert {"polish": ["amount:phase/A/charge/glycerin", "step-changed:step/fold-polish/time"]} == ids(part)
    assert [] == part["recipes"][0]["findings"]["new"]
    assert not part["blocked"]
    assert [("polish", "amount:phase/A/charge/glycerin"), ("polish", "step-changed:step/fold-polish/time")] == [
        (item["recipe"], item["change"]) for item in part["part"]["taken"]
    ]


def test_without_is_all_the_others(proposal: Any, capsys: Capsys) -> None:
    part = review(capsys, "--without", "silica-thickening", "--without", "claim/organic at least 20 %")

    assert {
        "polish": [
            "amount:phase/A/charge/glycerin", "step-changed:step/fold-polish/time", "price:ingredient/glycerin/price",
        ],
        "toner": ["amount:phase/A/charge/glycerin", "price:ingredient/glycerin/price"],
        "kelp-gel": ["price:ingredient/glycerin/price"],
    } == ids(part)  # fmt: skip
    assert not next(recipe for recipe in part["recipes"] if recipe["recipe"] == "polish")["blocked"]


def test_it_says_what_is_reviewed(proposal: Any, capsys: Capsys) -> None:
    only = " ".join(run(capsys, "review", "main...proposal", "--only", "fold-polish").lines[:3])
    assert "if only 1 of 6 changes is taken: 'fold-polish/time'" in only
    without = " ".join(run(capsys, "review", "main...proposal", "--without", "fold-polish").lines[:3])
    assert "if 5 of 6 changes are taken, without 'fold-polish/time'" in without
    markdown = run(capsys, "review", "main...proposal", "--only", "fold-polish", "--format", "markdown").out
    assert "if only 1 of 6 changes is taken" in markdown


def test_the_status_is_that_of_the_part(proposal: Any, capsys: Capsys) -> None:
    assert 1 == run(capsys, "review", "main...proposal").status
    assert 0 == run(capsys, "review", "main...proposal", "--only", "fold-polish").status


@pytest.mark.parametrize("format_", ["text", "markdown", "html", "github", "gitlab", "sarif", "junit"])
def test_every_format_shows_the_part(proposal: Any, capsys: Capsys, format_: str) -> None:
    whole = run(capsys, "review", "main...proposal", "--format", format_).out
    part = run(capsys, "review", "main...proposal", "--only", "fold-polish", "--format", format_).out

    assert "shear-at-most" in whole
    assert "shear-at-most" not in part


def test_the_patch_is_taken_by_git_and_keeps_the_comments(proposal: Any, capsys: Capsys) -> None:
    said = run(capsys, "review", "main...proposal", "--only", "fold-polish", "--only", "claim", "--patch", "-")

    git_apply(proposal, said.out.encode())
    expected = POLISH.replace('time  = "20 min"', 'time  = "25 min"   # slower').replace(
        '99 %"]', '99 %", "organic at least 20 %"]'
    )
    assert expected == (proposal.path / "polish.toml").read_text()
    assert ["polish.toml"] == proposal.git("diff", "--cached", "--name-only").split()
    # a review of what was applied says what the review of the part said
    there = run(capsys, "review", "--staged", "--format", "json").json("diff")
    assert ids(there) == ids(review(capsys, "--only", "fold-polish", "--only", "claim"))


def test_a_patch_of_all_but_one_leaves_the_other_files_byte_by_byte(proposal: Any, capsys: Capsys) -> None:
    run(capsys, "review", "main...proposal", "--without", "fold-polish", "--patch", "part.patch")

    git_apply(proposal, Path("part.patch").read_bytes())
    for path in ("toner.toml", "ingredients/glycerin.toml", "ingredients/mica.toml"):
        assert proposal.git("show", f"proposal:{path}") == (proposal.path / path).read_text().rstrip("\n")
    assert (
        WISHES.replace('time  = "25 min"   # slower', 'time  = "20 min"') == (proposal.path / "polish.toml").read_text()
    )


def test_a_patch_finds_its_place_on_a_branch_that_went_on(proposal: Any, capsys: Capsys) -> None:
    said = run(capsys, "review", "main...proposal", "--only", "fold-polish", "--patch", "-").out
    proposal.commit("Title", {"polish.toml": POLISH.replace("Reef face polish", "Reef polish")})

    git_apply(proposal, said.encode(), "--3way")
    assert 'time  = "25 min"   # slower' in (proposal.path / "polish.toml").read_text()


def test_recipes_that_come_and_go_are_taken_whole(proposal: Any, capsys: Capsys) -> None:
    proposal.git("switch", "--quiet", "proposal")
    proposal.git("rm", "--quiet", "polish.toml")
    proposal.commit("More", {"mist.toml": TONER.replace("Quay toner", "Mist")})
    proposal.git("switch", "--quiet", "main")

    assert {"mist"} == set(ids(review(capsys, "--only", "mist")))
    assert ["removed"] == [item["status"] for item in review(capsys, "--only", "polish")["recipes"]]
    said = run(capsys, "review", "main...proposal", "--only", "mist", "--only", "polish", "--patch", "-")
    git_apply(proposal, said.out.encode())
    assert not (proposal.path / "polish.toml").exists()
    assert TONER.replace("Quay toner", "Mist") == (proposal.path / "mist.toml").read_text()


def test_a_renamed_recipe_keeps_its_old_name_where_the_rename_is_left(proposal: Any, capsys: Capsys) -> None:
    proposal.git("switch", "--quiet", "proposal")
    proposal.git("rm", "--quiet", "toner.toml")
    proposal.commit("Name", {"tonic.toml": TONER.replace("= 1.00", "= 2.00")})
    proposal.git("switch", "--quiet", "main")

    said = run(capsys, "review", "main...proposal", "--only", "tonic:glycerin", "--patch", "-").out
    assert ["toner.toml"] == [line[6:] for line in said.splitlines() if line.startswith("+++ b/")]
    said = run(capsys, "review", "main...proposal", "--only", "tonic:header:id", "--patch", "-").out
    git_apply(proposal, said.encode())
    assert TONER == (proposal.path / "tonic.toml").read_text()
    assert not (proposal.path / "toner.toml").exists()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--only", "glycerine"], "no change here is called 'glycerine'; did you mean"),
        (["--only", "zzz"], "no change here is called 'zzz'; there is 'polish:glycerin', 'silica"),
        (["--only", "glycerin"], "'glycerin' names 2 changes: 'polish:glycerin', 'toner:glycerin'"),
        (["--only", ""], "no change here is called ''"),
        (["--patch", "x"], "name them with --only or --without"),
        (["--only", "claim", "--patch", "no/such/folder/x"], "cannot be written"),
    ],
)
def test_wrong_use(proposal: Any, capsys: Capsys, words: list[str], message: str) -> None:
    said = run(capsys, "review", "main...proposal", *words)

    assert 2 == said.status
    assert message in said.err
    assert not said.out


def test_only_or_without(proposal: Any, capsys: Capsys) -> None:
    said = run(capsys, "review", "main...proposal", "--only", "claim", "--without", "claim")

    assert 2 == said.status
    assert "not allowed with argument" in said.err


def test_nothing_to_choose_from(proposal: Any, capsys: Capsys) -> None:
    said = run(capsys, "review", "main...main", "--only", "glycerin")

    assert (2, "") == (said.status, said.out)
    assert "nothing differs in meaning" in said.err


def test_what_no_file_can_say_is_refused_in_words(proposal: Any, capsys: Capsys) -> None:
    proposal.git("switch", "--quiet", "proposal")
    grams = TONER.replace("batch ", 'amounts = "mass"\nbatch ').replace('"to 100"', '"to 100 g"')
    proposal.commit("By mass", {"toner.toml": grams.replace("= 1.00", '= "1 g"').replace("= 0.10", '= "0.1 g"')})
    proposal.git("switch", "--quiet", "main")
    said = run(capsys, "review", "main...proposal", "--only", "toner:citric-acid")

    assert (2, "") == (said.status, said.out)
    assert "these changes cannot be taken by themselves: toner.toml" in said.err


def test_a_linked_file_is_not_patched(proposal: Any, capsys: Capsys) -> None:
    proposal.git("rm", "-q", "toner.toml")
    (proposal.path / "quay").mkdir()
    (proposal.path / "quay/toner.toml").write_text(TONER)
    (proposal.path / "alias.toml").symlink_to("quay/toner.toml")
    proposal.git("add", ".")
    proposal.git("commit", "--quiet", "-m", "Link")
    proposal.git("switch", "--quiet", "--create", "other")
    proposal.git("rm", "-q", "alias.toml")
    proposal.commit("No link", {"alias.toml": TONER.replace("= 1.00", "= 3.00")})
    said = run(capsys, "review", "HEAD~1..HEAD", "--only", "alias:glycerin", "--patch", "-")

    assert (2, "") == (said.status, said.out)
    assert "is a link" in said.err


HOUSE = """\
# what we have learned
[[rule]]
id         = "hs-glycerin"
kind       = "limit"
substances = ["Glycerin"]
at_most    = "0.5 %"     # sticky
source     = "HS-1"

# for the nose
[[rule]]
id         = "hs-camphor"
kind       = "prohibited"
substances = ["Camphor"]
source     = "HS-2"
"""


def test_a_new_house_rule_is_taken_and_left_by_its_name(git_repo: Make, capsys: Capsys, monkeypatch: Any) -> None:
    """One change a rule, also of one that no recipe is about; and back again, until nothing of the file is left."""
    repo = git_repo(SHOP)
    monkeypatch.chdir(repo.path)
    repo.git("switch", "--quiet", "--create", "proposal")
    repo.commit("House rules", {"rules/house.toml": HOUSE})
    repo.git("switch", "--quiet", "main")
    first, second = (part for part in HOUSE.split("\n\n"))
    named = ("--only", "hs-glycerin"), ("--without", "house/rule/hs-glycerin"), ("--without", "hs-camphor")
    patches = [run(capsys, "review", "main...proposal", *words, "--patch", "-").out for words in named]

    for patch, there, gone in zip(patches, (first, second, first), ("Camphor", "Glycerin", "Camphor"), strict=True):
        git_apply(repo, patch.encode())
        text = (repo.path / "rules/house.toml").read_text()
        assert there.strip() in text
        assert gone not in text
        repo.git("reset", "--quiet", "--hard")

    words = ("review", "proposal..main", "--only", "hs-glycerin", "--only", "hs-camphor", "--patch", "-")
    repo.git("switch", "--quiet", "proposal")
    git_apply(repo, run(capsys, *words).out.encode())
    assert not (repo.path / "rules/house.toml").exists()


@pytest.mark.parametrize(("newline", "end"), [("\n", ""), ("\n", "\n"), ("\r\n", ""), ("\r\n", "\r\n")])
@pytest.mark.parametrize("layout", ["inline", "dotted", "quoted", "tables"])
def test_a_part_of_oddly_laid_out_recipes_is_taken_by_git(
    layout: str,
    newline: str,
    end: str,
    *,
    git_repo: Make,
    capsys: Capsys,
    monkeypatch: Any,
) -> None:
    """In a folder with a blank in its name: git applies the part, also three ways, and it says what was asked."""
    text = ODD[layout].rstrip("\n").replace("\n", newline) + end
    repo = git_repo({"README": "Recipes are in a folder\n"})
    monkeypatch.chdir(repo.path)
    (repo.path / "team one").mkdir()
    for name, content in {"workspace.toml": 'title = "T"\n', "salve.toml": text}.items():
        (repo.path / "team one" / name).write_bytes(content.encode())
    repo.git("add", "--all")
    repo.git("commit", "--quiet", "--message", "Salve")
    repo.git("switch", "--quiet", "--create", "proposal")
    changed = text.replace("12.00", "11.50").replace("14.0", "13.5").replace("30 min", "20 min")
    (repo.path / "team one" / "salve.toml").write_bytes(changed.encode())
    repo.git("commit", "--quiet", "--all", "--message", "Less")
    repo.git("switch", "--quiet", "main")
    patch = run(capsys, "review", "main...proposal", "--without", "wax", "--patch", "-").out.encode()

    for words in (("--check",), ("--3way",)):
        subprocess.run(["git", "apply", "--index", *words, "-"], cwd=repo.path, input=patch, check=True)
    expected = text.replace("12.00", "11.50").replace("30 min", "20 min")
    assert expected.encode() == (repo.path / "team one" / "salve.toml").read_bytes()


ODD = {
    "inline": """\
title = "Salve"
phase = { A = { charge = { olive = "to 100", jojoba = 12.00, wax = 14.0 } } }   # all
step = [ { id = "melt", add = ["A"], shear = "low", time = "30 min" } ]
""",
    "dotted": """\
title = "Salve"
phase.A.charge.olive = "to 100"   # virgin
phase.A.charge.jojoba = 12.00 # golden
phase.A.charge.wax = 14.0
[[step]]
id = "melt"
add = [
  "A",  # all of it
]
time = "30 min"
""",
    "quoted": """\
'title' = 'Salve'
["phase" . 'A'."charge"]
\t"olive"\t= "to 100"
\t'jojoba' = 12.00
\twax=14.0\t# from the hill
[["step"]]
\t"id" = "melt"
\t# slowly
\ttime = '''30 min'''
""",
    "tables": """\
title = "Salve"
[phase.A.charge.olive]   # bulk
pct = "to 100"
[phase.A.charge.jojoba]
# golden
pct = 12.00
note = "from Crete"
[phase.A.charge.wax]
pct = 14.0
# the work
[[step]]
id = "melt"
time = "30 min"
# end
""",
}
