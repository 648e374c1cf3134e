"""``git formula diff``: sides, selection, parts 1 and 2."""

from __future__ import annotations

import os
import subprocess
import sys
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


def recipes(data: Any) -> dict[str, str]:
    return {item["recipe"]: item["status"] for item in data["recipes"]}


def test_a_clean_tree_has_no_difference(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "diff")

    assert (0, "HEAD \u2192 work tree\n\nNo difference.\n") == (said.status, said.out)
    assert 0 == run(capsys, "diff", "--exit-code").status


def test_layout_only_is_no_change_in_meaning(shop: Any, capsys: Capsys) -> None:
    shop.write({"toner.toml": "# a remark\n" + TONER.replace("= 1.00", "= 1.0")})

    said = run(capsys, "diff", "--exit-code")

    assert 0 == said.status
    assert [
        "HEAD \u2192 work tree", "",
        "No change in meaning, in layout or comments only: toner.", "2 recipes are unchanged.",
    ] == said.lines  # fmt: skip


def test_a_reformatted_ingredient_is_no_change_in_meaning(shop: Any, capsys: Capsys) -> None:
    shop.write({"ingredients/mica.toml": "# a remark\n" + SHOP["ingredients/mica.toml"]})

    said = run(capsys, "diff")

    assert "No change in meaning. Some files differ in layout or comments only." == said.lines[-1]


def test_the_text_as_a_chemist_reads_it(shop: Any, capsys: Capsys) -> None:
    shop.write({"polish.toml": SWAPPED})

    said = run(capsys, "diff")

    assert golden("diff.txt", said.out) == said.out
    assert 80 >= max(map(len, said.out.splitlines()))


def test_json_keeps_to_the_schema_and_shares_add_up_exactly(shop: Any, capsys: Capsys) -> None:
    shop.write({"polish.toml": SWAPPED})

    data = run(capsys, "diff", "--format", "json").json("diff")

    assert {"polish": "changed"} == recipes(data)
    changes = {change["id"] for change in data["recipes"][0]["changes"]}
    assert {
        "amount:phase/A/charge/glycerin",
        "grade-swap:phase/A/charge/silica-thickening",
        "step-changed:step/fold-polish/time",
        "balance:phase/A/charge/water",
    } <= changes
    effects = data["recipes"][0]["effects"]
    assert effects
    for effect in effects:
        assert Fraction(effect["after"]) - Fraction(effect["before"]) == Fraction(effect["difference"])
        assert Fraction(effect["difference"]) == sum(Fraction(share["value"]) for share in effect["shares"])
        assert {share["change"] for share in effect["shares"]} <= changes


def test_exit_code_is_1_only_when_asked(shop: Any, capsys: Capsys) -> None:
    shop.write({"polish.toml": SWAPPED})

    assert 0 == run(capsys, "diff").status
    assert 1 == run(capsys, "diff", "--exit-code").status


def test_new_findings_that_block_are_said_in_one_line(shop: Any, capsys: Capsys) -> None:
    shop.write({"polish.toml": SWAPPED})

    assert "1 new finding blocks: 'git formula review' says why" == run(capsys, "diff").lines[-1]


def test_a_price_moves_under_every_recipe_that_uses_it_and_not_beside_them(shop: Any, capsys: Capsys) -> None:
    text = SHOP["ingredients/kelp-gum.toml"].replace("9.00 EUR", "9.50 EUR")
    shop.write({"ingredients/kelp-gum.toml": text})

    data = run(capsys, "diff", "--format", "json").json("diff")

    assert {"kelp-gel": "changed", "polish": "changed"} == recipes(data)
    assert [] == data["beside"]
    assert [["price:ingredient/kelp-gum/price"]] * 2 == [
        [change["id"] for change in item["changes"]] for item in data["recipes"]
    ]


def test_an_ingredient_that_nobody_uses_stands_beside_the_recipes(shop: Any, capsys: Capsys) -> None:
    shop.write({"ingredients/mica.toml": SHOP["ingredients/mica.toml"].replace("4.00", "4.10")})

    data = run(capsys, "diff", "--format", "json").json("diff")

    assert [] == data["recipes"]
    assert ["mica, price: 4.00 \u2192 4.10 EUR/kg (+2.5 %)"] == [change["text"] for change in data["beside"]]
    assert 1 == run(capsys, "diff", "--exit-code").status


def test_new_and_removed_recipes_are_a_line_in_text_and_whole_in_json(shop: Any, capsys: Capsys) -> None:
    shop.write({"wash.toml": TONER})
    (shop.path / "polish.toml").unlink()
    shop.write({"ingredients/new.toml": SHOP["ingredients/mica.toml"]})

    data = run(capsys, "diff", "--format", "json").json("diff")
    text = run(capsys, "diff")

    assert {"polish": "removed", "wash": "added"} == recipes(data)
    assert 3 == sum(change["kind"] == "added" for change in data["recipes"][1]["changes"])
    assert "recipe removed, it had 6 charges" in text.lines
    assert "new recipe, 3 charges" in text.lines
    assert "+ ingredients/new.toml: added" in text.lines


def test_sides(shop: Any, capsys: Capsys) -> None:
    """HEAD against the work tree; a revision against it; staged; ranges; two revisions."""
    shop.write({"toner.toml": TONER.replace("= 1.00", "= 2.00")})
    shop.commit("two")
    shop.git("switch", "--quiet", "--create", "side", "HEAD~1")
    shop.write({"polish.toml": POLISH.replace("14.00", "13.00")})
    shop.commit("three")
    shop.write({"toner.toml": TONER.replace("= 0.10", "= 0.20")})
    shop.git("add", "--all")
    shop.write({"premixes/kelp-gel.toml": SHOP["premixes/kelp-gel.toml"].replace("10.00", "11.00")})

    def seen(*words: str) -> tuple[str, set[str]]:
        data = run(capsys, "diff", *words, "--format", "json").json("diff")
        return data["title"], set(recipes(data))

    base = shop.git("rev-parse", "HEAD~1")[:10]
    arrow = "\u2192"
    assert (f"HEAD {arrow} work tree", {"kelp-gel", "polish", "toner"}) == seen()
    assert (f"HEAD {arrow} index", {"toner"}) == seen("--staged")
    assert (f"HEAD~1 {arrow} index", {"polish", "toner"}) == seen("--staged", "HEAD~1")
    assert (f"HEAD~1 {arrow} HEAD", {"polish"}) == seen("HEAD~1..")
    assert (f"main {arrow} side", {"polish", "toner"}) == seen("main..side")
    assert (f"main {arrow} side", {"polish", "toner"}) == seen("main", "side")
    assert (f"main...side, from their merge base {base}", {"polish"}) == seen("main...side")
    assert (f"side...main, from their merge base {base}", {"toner"}) == seen("side...main")


def test_selection(shop: Any, capsys: Capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    """A recipe by id, path or folder is shown whole; other files show what they alone change."""
    shop.write({
        "polish.toml": SWAPPED,
        "toner.toml": TONER.replace("= 1.00", "= 2.00"),
        "ingredients/citric-acid.toml": SHOP["ingredients/citric-acid.toml"].replace("1.10", "1.20"),
    })  # fmt: skip

    def seen(*words: str) -> dict[str, int]:
        data = run(capsys, "diff", "--format", "json", *words).json("diff")
        return {item["recipe"]: sum(not c["derived"] for c in item["changes"]) for item in data["recipes"]}

    everything = {"polish": 4, "toner": 2}
    assert everything == seen()
    assert everything == seen(".")
    assert {"polish": 4} == seen("polish")
    assert {"polish": 4} == seen("recipe:polish")
    assert {"toner": 2} == seen("toner.toml")
    assert {"toner": 2} == seen("--", "toner")
    assert {"toner": 2} == seen("HEAD", "--", "toner.toml")
    assert {} == seen("premixes")
    assert {"polish": 1, "toner": 1} == seen("ingredients/citric-acid.toml")
    assert {"polish": 1, "toner": 1} == seen("ingredients")
    assert {"polish": 1, "toner": 2} == seen("ingredient:citric-acid", "toner")
    monkeypatch.chdir(shop.path / "premixes")
    assert {"toner": 2} == seen("../toner.toml")
    assert everything == seen("..")


def test_a_name_that_is_a_revision_and_a_recipe_is_asked_about(shop: Any, capsys: Capsys) -> None:
    shop.git("branch", "toner")

    said = run(capsys, "diff", "toner")

    assert (2, "", "git formula: 'toner' is both a revision and a recipe; write 'toner --' or 'recipe:toner'\n") == (
        said.status, said.out, said.err,
    )  # fmt: skip
    assert 0 == run(capsys, "diff", "toner", "--").status
    assert 0 == run(capsys, "diff", "recipe:toner").status


_NEAR = "did you mean 'toner'?"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("nosuch",), "'nosuch' is no revision, and no recipe or file of the workspace in HEAD \u2192 work tree"),
        (
            ("tonr",),
            f"'tonr' is no revision, and no recipe or file of the workspace in HEAD \u2192 work tree; {_NEAR}",
        ),
        (
            ("--", "tonr"),
            "'tonr' is no recipe or file of the workspace in HEAD \u2192 work tree; did you mean 'toner'?",
        ),
        (("HEAD~9",), "unknown revision 'HEAD~9'"),
        (("nosuch..HEAD",), "unknown revision 'nosuch'"),
        (("nosuch", "--"), "unknown revision 'nosuch'"),
        (("HEAD", "HEAD", "HEAD"), "a comparison has two sides, and 3 revisions are given"),
        (("--staged", "HEAD..HEAD"), "--staged compares one revision with the index; a range has two sides already"),
        (("--as-of", "tomorrow"), "'tomorrow' is no date; write it like 2027-01-31"),
    ],
)
def test_wrong_words(shop: Any, capsys: Capsys, words: tuple[str, ...], message: str) -> None:
    said = run(capsys, "diff", *words)

    assert (2, "", f"git formula: {message}\n") == (said.status, said.out, said.err)


def test_an_empty_repository_is_compared_with_nothing(
    git_repo: Make, capsys: Capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    repo = git_repo()
    repo.write(SHOP)
    monkeypatch.chdir(repo.path)

    data = run(capsys, "diff", "--format", "json").json("diff")
    staged = run(capsys, "diff", "--staged")

    assert {"kelp-gel": "added", "polish": "added", "toner": "added"} == recipes(data)
    assert "nothing (no commits yet) \u2192 work tree" == data["title"]
    assert (0, "No difference.") == (staged.status, staged.lines[-1])
    said = run(capsys, "diff", "HEAD")
    assert (2, "git formula: unknown revision 'HEAD': this repository has no commits yet\n") == (said.status, said.err)
    assert "+ ingredients: 8 files added" in run(capsys, "diff").lines


def test_a_detached_head_is_normal(shop: Any, capsys: Capsys) -> None:
    shop.git("switch", "--quiet", "--detach")
    shop.write({"toner.toml": TONER.replace("= 1.00", "= 2.00")})

    assert {"toner": "changed"} == recipes(run(capsys, "diff", "--format", "json").json("diff"))


def test_a_merge_in_progress_is_normal_and_its_conflict_a_finding(shop: Any, capsys: Capsys) -> None:
    shop.git("switch", "--quiet", "--create", "side")
    shop.commit("side", {"toner.toml": TONER.replace("= 1.00", "= 2.00")})
    shop.git("switch", "--quiet", "main")
    shop.commit("main", {"toner.toml": TONER.replace("= 1.00", "= 3.00")})
    with pytest.raises(Exception, match="merge"):
        shop.git("merge", "side")

    data = run(capsys, "diff", "--format", "json").json("diff")

    assert {"toner": "unread"} == recipes(data)
    assert {"block"} == {finding["severity"] for finding in data["recipes"][0]["findings"]["new"]}
    assert data["recipes"][0]["findings"]["new"][0]["line"] > 1


def test_a_bare_repository_compares_commits_only(
    shop: Any, capsys: Capsys, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shop.commit("two", {"toner.toml": TONER.replace("= 1.00", "= 2.00")})
    shop.git("clone", "--quiet", "--bare", ".", str(tmp_path / "bare.git"))
    monkeypatch.chdir(tmp_path / "bare.git")

    assert {"toner": "changed"} == recipes(run(capsys, "diff", "HEAD~1..HEAD", "--format", "json").json("diff"))
    said = run(capsys, "diff")
    words = "this repository is bare: nothing is staged or lies in files; name two revisions (A..B)"
    assert (2, f"git formula: {words}\n") == (said.status, said.err)


def test_outside_git_and_without_a_workspace(
    git_repo: Make, capsys: Capsys, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    monkeypatch.chdir(outside)
    said = run(capsys, "diff")
    assert (2, f"git formula: not a git repository: {outside} (nor any folder above it)\n") == (said.status, said.err)

    monkeypatch.chdir(git_repo({"note.txt": "no recipes\n"}).path)
    said = run(capsys, "diff")
    where = "this folder, above it or below it"
    assert (2, f"git formula: no workspace.toml in {where}; 'git formula init' writes one to start from\n") == (
        said.status, said.err,
    )  # fmt: skip


def test_two_workspaces_of_a_repository_are_compared_together(
    git_repo: Make, capsys: Capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = {f"{place}/{path}": text for place in ("north", "south") for path, text in SHOP.items()}
    repo = git_repo(files)
    monkeypatch.chdir(repo.path)
    repo.write({f"{place}/toner.toml": TONER.replace("= 1.00", "= 2.00") for place in ("north", "south")})

    data = run(capsys, "diff", "--format", "json").json("diff")

    assert ["north/toner.toml", "south/toner.toml"] == [item["file"] for item in data["recipes"]]
    assert 4 == data["same"]
    one = run(capsys, "diff", "--format", "json", "--workspace", "south").json("diff")
    assert ["south/toner.toml"] == [item["file"] for item in one["recipes"]]


def test_a_workspace_of_another_repository_is_asked_in_there(
    git_repo: Make, capsys: Capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    outer = git_repo({"note.txt": "a clone in a clone, as a submodule is\n"})
    inner = git_repo(SHOP, name=f"{outer.path.name}/inner")
    inner.write({"toner.toml": TONER.replace("= 1.00", "= 2.00")})
    monkeypatch.chdir(outer.path)

    assert 0 == run(capsys, "check", "--fail-on", "never").status
    assert 2 == run(capsys, "check", "--staged").status  # nothing of it is staged out here
    assert 0 == run(capsys, "check", "--staged", "--hook").status
    for command in ("diff", "review"):
        said = run(capsys, command)
        words = "inner belongs to another repository, a submodule or clone: ask in there"
        assert (2, f"git formula: {words}\n") == (said.status, said.err)
    monkeypatch.chdir(inner.path)
    assert {"toner": "changed"} == recipes(run(capsys, "diff", "--format", "json").json("diff"))


def test_a_workspace_that_a_commit_brings_or_removes(shop: Any, capsys: Capsys) -> None:
    shop.git("rm", "-r", "--quiet", ".")
    shop.commit("gone")

    data = run(capsys, "diff", "HEAD~1..HEAD", "--format", "json").json("diff")

    assert {"removed"} == set(recipes(data).values())


def test_a_terminal_without_arrows_gets_their_codes(shop: Any) -> None:
    shop.write({"polish.toml": SWAPPED})
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONPATH": str(Path(__file__).parents[2])}

    done = subprocess.run(
        [sys.executable, "-m", "formula_vcs", "diff"], cwd=shop.path, env=environment, capture_output=True, check=False
    )

    assert (0, b"HEAD \\u2192 work tree") == (done.returncode, done.stdout.splitlines()[0])


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_no_bug_of_ours(shop: Any) -> None:
    shop.write({"polish.toml": SWAPPED})
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}

    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "formula_vcs", "diff"],
            cwd=shop.path, env=environment, stdout=full, stderr=subprocess.PIPE, check=False,
        )  # fmt: skip

    assert (2, b"git formula: cannot write: No space left on device\n") == (done.returncode, done.stderr)
