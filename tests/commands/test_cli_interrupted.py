"""Control-C that another error wraps is no bug of ours."""

from __future__ import annotations

import pytest

from formula_vcs import cli
from formula_vcs.commands import list_


def test_an_error_that_wraps_control_c(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def stopped(_: object) -> int:
        try:
            raise KeyboardInterrupt
        except KeyboardInterrupt as stop:
            raise RuntimeError("Error calling __set_name__") from stop

    monkeypatch.setattr(list_, "run", stopped)

    assert 130 == cli.main(["list"])
    assert "" == capsys.readouterr().err


def test_an_error_that_wraps_another_is_a_bug(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(_: object) -> int:
        try:
            raise KeyError("x")
        except KeyError as error:
            raise RuntimeError("broken") from error

    monkeypatch.setattr(list_, "run", broken)

    assert 3 == cli.main(["list"])
    assert "bug of ours" in capsys.readouterr().err
