"""What is written about the commands and the rules agrees with what there is."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path
from subprocess import run

import pytest

from formula_vcs.cli import main
from formula_vcs.rules.registry import RULES

ROOT = Path(__file__).resolve().parents[1]
MAN = "formula_vcs/manual/git-formula.1"
BASH = "formula_vcs/manual/completions/git-formula.bash"
ZSH = "formula_vcs/manual/completions/_git-formula"
TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "formula_vcs", "hooks", "recipes", "tests"}
SETUP = re.compile(r"^<!-- setup: ([^>]+) -->\n```sh\n(.*?)```$", re.MULTILINE | re.DOTALL)


@cache
def _text(file: str) -> str:
    return (ROOT / file).read_text("utf-8")


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_has_a_page(rule: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--explain", rule]) == 0
    assert rule in capsys.readouterr().out


def test_the_readme_has_two_setup_commands_of_one_line() -> None:
    found = SETUP.findall(_text("README.md"))

    assert [name for name, _ in found] == ["main job", "tests"]
    assert [command.count("\n") for _, command in found] == [1, 1]


def test_the_guide_for_developers_shows_the_rooms_as_they_are_in_their_order() -> None:
    tree = re.findall(r"^      ([a-z]+)(?:/|\.py) ", _text("DEVELOPERS.md"), re.MULTILINE)
    layers = tomllib.loads(_text("pyproject.toml"))["tool"]["importlinter"]["contracts"][0]["layers"]
    package = ROOT / "formula_vcs"
    rooms = {path.parent.name for path in package.glob("*/__init__.py")} | {
        path.stem for path in package.glob("[a-z]*.py")
    }

    assert [name for name in layers if name != "(__main__)"] == [name for name in tree if name != "manual"]
    assert rooms == set(tree) - {"manual"}


def test_the_guide_for_developers_is_read_in_a_few_minutes() -> None:
    assert len(_text("DEVELOPERS.md").split()) < 1200


def test_the_top_of_the_repository_holds_nothing_but_what_people_look_for_there() -> None:
    files = run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout.split("\0")  # fmt: skip
    top = {name.split("/")[0] for name in files if name and (ROOT / name).exists()}

    assert {name for name in top if not name.startswith(".")} == TOP


def test_an_installation_has_the_manual_page_and_the_completions_where_they_are_looked_for() -> None:
    shared = tomllib.loads(_text("pyproject.toml"))["tool"]["hatch"]["build"]["targets"]["wheel"]["shared-data"]

    assert shared == {
        MAN: "share/man/man1/git-formula.1",
        BASH: "share/bash-completion/completions/git-formula",
        ZSH: "share/zsh/site-functions/_git-formula",
    }
    assert all((ROOT / file).is_file() for file in shared)
