"""What is typed wrongly is said in one line; pages of help fit into a terminal of 80 columns."""

from __future__ import annotations

import pytest

from formula_vcs.cli import CALLED_BY_GIT, COMMANDS, main

Capsys = pytest.CaptureFixture[str]


@pytest.mark.parametrize("command", [*COMMANDS, *CALLED_BY_GIT])
@pytest.mark.parametrize("columns", ["40", "200"])
def test_help_fits_into_80_columns(command: str, columns: str, capsys: Capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    with pytest.raises(SystemExit) as ended:
        main([command, "-h"])

    assert 0 == ended.value.code
    out = capsys.readouterr().out
    assert out.startswith("usage: git formula ")
    assert [] == [line for line in out.splitlines() if len(line) > 80]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (
            ("check", "--no-such-thing"),
            "'--no-such-thing' is no option of 'git formula check'; 'git formula check -h' says",
        ),
        (("check", "--formt=x"), "'--formt=x' is no option of 'git formula check'; did you mean '--format'?"),
        (("check", "--rev", "--output=x"), "argument --rev: expected one argument; 'git formula check -h' says"),
        (("review", "--format", "word"), "argument --format: invalid choice: 'word' (choose from "),
        (("label",), "the following arguments are required: "),
        (("reason", "one", "two"), "'two' is one word too many for 'git formula reason'; 'git formula reason -h' says"),
    ],
)
def test_one_line_says_which_word_is_wrong(typed: tuple[str, ...], said: str, capsys: Capsys) -> None:
    assert 2 == main(typed)
    captured = capsys.readouterr()

    assert "" == captured.out
    (line,) = captured.err.splitlines()
    assert line.startswith(f"git formula: {said}")


@pytest.mark.parametrize("command", ["check", "review"])
def test_many_choices_are_named_below_their_option(command: str, capsys: Capsys) -> None:
    with pytest.raises(SystemExit):
        main([command, "-h"])
    out = " ".join(capsys.readouterr().out.split())

    assert "--format FORMAT" in out
    assert "text, json, markdown, " in out
