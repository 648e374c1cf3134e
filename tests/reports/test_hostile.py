"""Hostile names in every format of every command: nothing of theirs takes effect where it lands."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from tests.commands.bench_repo import HOSTILE, HOSTILE_TOML, KELP_GEL, POLISH, SHOP, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]

COMMANDS = (
    ("show", "polish"),
    ("show", "mica"),
    ("diff",),
    ("review",),
    ("label", "polish"),
    ("uses", "mica"),
    ("check",),
)
_ACTIVE = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069]")


@pytest.fixture
def hostile(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a shop whose every free text is hostile, changed in the work tree."""
    quoted = f'"{HOSTILE_TOML}"'
    polish = (
        POLISH.replace('"Reef face polish"', quoted)
        .replace('title = "Gel base"', f"title = {quoted}")
        .replace('"face scrub"', quoted)
        .replace('["natural-origin at least 99 %"]', f"[{quoted}]")
        .replace("citric-acid      =", "mica = 1.00\ncitric-acid      =")
    )
    files = {
        **SHOP,
        "polish.toml": polish,
        "premixes/kelp-gel.toml": KELP_GEL.replace('"Kelp gel"', quoted),
        "ingredients/mica.toml": SHOP["ingredients/mica.toml"]
        .replace('"Mica" =', f"{quoted} =")
        .replace('"Mica"', quoted)
        .replace('"Tern Rock"', quoted),
    }
    repo = git_repo(files)
    repo.write({
        "polish.toml": polish.replace("= 14.00", "= 13.00")
        .replace('id    = "fold-polish"', f"id    = {quoted}")
        + f"\n[[accept]]\nrule = {quoted}\nabout = {quoted}\nwhy = {quoted}\n\n[phase.{quoted}.charge]\n{quoted} = 1\n",
        "ingredients/mica.toml": files["ingredients/mica.toml"].replace("4.00", "5.00").replace("Tern", "X"),
        "lots/`a` | b @team <b>.toml": "x = 1\n",
    })  # fmt: skip
    monkeypatch.chdir(repo.path)
    return repo


@pytest.mark.parametrize("command", COMMANDS, ids="-".join)
def test_text(hostile: Any, capsys: Capsys, command: tuple[str, ...]) -> None:
    said = run(capsys, *command)

    assert said.status in (0, 1), said.err
    assert not _ACTIVE.search(said.out)
    assert not [line for line in said.out.splitlines() if line.lstrip().startswith("::") or "##[" in line]


@pytest.mark.parametrize("command", COMMANDS, ids="-".join)
def test_markdown(hostile: Any, capsys: Capsys, command: tuple[str, ...]) -> None:
    said = run(capsys, *command, "--format", "markdown")

    assert said.status in (0, 1), said.err
    assert not _ACTIVE.search(said.out)
    bare = re.sub(r"\\.", "", said.out)  # what is escaped has no effect
    assert "`" not in bare
    assert "<b>" not in bare
    assert "[a](" not in bare
    assert "$x" not in bare
    assert "@team" not in bare
    assert "#12" not in bare
    assert "::" not in bare.replace("<!--", "")
    # the cells of each table stay as many as its head has
    heads = 0
    for line in said.out.splitlines():
        pipes = re.sub(r"\\.", "", line).count("|")
        heads = heads if line.startswith("|") and heads else pipes
        assert pipes == (heads if line.startswith("|") else 0)


@pytest.mark.parametrize("command", COMMANDS, ids="-".join)
def test_json(hostile: Any, capsys: Capsys, command: tuple[str, ...]) -> None:
    said = run(capsys, *command, "--format", "json")
    schema = {"review": "diff"}.get(command[0], command[0])

    data = said.json(schema)

    assert said.out.isascii()
    assert not _ACTIVE.search(said.out)
    if "polish" in command:
        assert HOSTILE == data["title"]
