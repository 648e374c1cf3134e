"""What is said of the demo is no wider than a terminal of 80 columns; each command is run as behind git's pager."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path

import pytest

from formula_vcs.cli import main
from formula_vcs.reports.terminal import columns

_TYPED = (
    "-h", "check", "check --explain limit", "show hand-cream", "show lip-balm --evidence", "diff main...proposal",
    "review main...proposal", "blame hand-cream", "log hand-cream", "log lip-balm --figure organic --below 60",
    "label hand-cream", "uses glycerin", "uses --lot SB-7", "explain glycerin", "survey", "list", "list lots",
    "batch hand-cream --size '25 kg' --dry-run", "batch sheet hc-041", "batch cost hc-041", "trace hc-040 hc-041",
    "trace --against-recipe hc-041", "help", "help pairs", "help law", "document composition hand-cream",
    "document specification hand-cream", "document ingredients hand-cream", "document allergens hand-cream",
    "document instructions hand-cream", "document claims hand-cream", "document change-note hand-cream --since HEAD~5",
    "propose face-toner --target 'cost at most 1.00 EUR/kg'",
)  # fmt: skip


@pytest.fixture(scope="module")
def island(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the demo's repository once."""
    folder = tmp_path_factory.mktemp("widths") / "island"
    assert main(["demo", str(folder)]) == 0
    return folder


def test_no_line_is_wider_than_the_terminal(
    island: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(island)
    monkeypatch.setenv("GIT_PAGER_IN_USE", "true")
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")
    capsys.readouterr()
    wide = dict[str, list[str]]()
    for words in _TYPED:
        status = main(shlex.split(words))
        said = capsys.readouterr()
        assert status in (0, 1), (words, said.err)
        assert said.out, words
        if over := [line for line in said.out.splitlines() if columns(line) > 80]:
            wide[words] = over[:3]

    assert {} == wide


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("document nothing hand-cream", "choose from 'composition'"),
        ("log proposal -- hand-cream", "is one word too many"),
        ("approve hand-cream", "approve wants a recipe and --role"),
        ("propose hand-cream", "say what is to be reached"),
    ],
)
def test_what_is_wrong_is_folded_on_a_terminal(
    words: str, told: str, island: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(island)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)

    assert main(shlex.split(words)) == 2

    said = capsys.readouterr().err
    assert told in " ".join(said.split())
    assert [line for line in said.splitlines() if columns(line) > 80] == []
