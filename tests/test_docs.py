"""What is written about the commands and the rules agrees with what there is."""

from __future__ import annotations

import argparse
import re
import tomllib
from functools import cache
from importlib import import_module
from pathlib import Path
from subprocess import run

import pytest

from formula_vcs.cli import COMMANDS, main
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


def _options(command: str) -> list[str]:
    parser = argparse.ArgumentParser()
    import_module(f"formula_vcs.commands.{COMMANDS[command][0]}").arguments(parser)
    names = {name for action in parser._actions for name in action.option_strings}
    return sorted(name for name in names if name.startswith("--") and name != "--help")


def _named(option: str, text: str) -> bool:
    return re.search(rf"{re.escape(option)}(?![\w-])", text) is not None


def _in_man(option: str) -> bool:
    # mdoc writes --as-of as "Fl -as-of"; a second name follows after a comma
    return re.search(rf"Fl (?:-[\w-]+ , )?{re.escape(option[1:])}(?![\w-])", _text(MAN)) is not None


def _bash_part(command: str) -> str:
    """Give what the completion for bash offers after a command and a dash."""
    found = re.search(
        rf"^\t(?:[\w,*|-]+\|)?{command},-\*(?:\|.+)?\)\n(.*?)\n\t\t;;$", _text(BASH), re.MULTILINE | re.DOTALL
    )
    assert found is not None, f"no options of {command}"
    return found[1]


def _zsh_part(command: str) -> str:
    """Give what the completion for zsh offers for a command, with the lists that it takes from above."""
    found = re.search(rf"^        \({command}\)\n(.*?)\n          ;;$", _text(ZSH), re.MULTILINE | re.DOTALL)
    assert found is not None, f"no options of {command}"
    lists = dict(re.findall(r"^  (\w+)=\(\s(.*?)\s\)$", _text(ZSH), re.MULTILINE | re.DOTALL))
    return found[1] + "".join(words for name, words in lists.items() if f"${name}" in found[1])


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_named_everywhere(command: str) -> None:
    assert f".Nm git formula {command}\n" in _text(MAN)
    assert re.search(rf"^\.It Cm {command}\b", _text(MAN), re.MULTILINE)
    assert re.search(rf'__gitcomp "[\w ]*\b{command}\b', _text(BASH))
    assert f"'{command}:" in _text(ZSH)


@pytest.mark.parametrize("command", [command for command in COMMANDS if _options(command)])
def test_every_option_is_named_everywhere(command: str) -> None:
    options = _options(command)

    assert [option for option in options if not _in_man(option)] == []
    assert [option for option in options if not _named(option, _bash_part(command))] == []
    assert [option for option in options if not _named(option, _zsh_part(command))] == []


@pytest.mark.parametrize("command", [command for command in COMMANDS if _options(command)])
def test_no_completion_offers_what_a_command_does_not_take(command: str) -> None:
    for part in (_bash_part(command), _zsh_part(command)):
        assert set(re.findall(r"(?<![\w-])--[a-z][\w-]*", part)) <= {*_options(command), "--help"}


def test_the_man_page_names_no_option_that_is_none() -> None:
    named = {f"-{name}" for line in _text(MAN).splitlines() for name in re.findall(r"Fl (-[a-z][\w-]*)", line)}
    known = {option for command in COMMANDS for option in _options(command)}
    of_git = {"--no-verify"}
    assert named <= known | of_git | {"--help", "--required"}


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
