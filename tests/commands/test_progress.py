"""Progress is said on a terminal, after a second, and wiped."""

from __future__ import annotations

import io
import sys

import pytest

from formula_vcs.commands.progress import Ticker


class Terminal(io.StringIO):
    """A stderr that is a terminal."""

    def isatty(self) -> bool:
        return True


def test_long_work_is_said_and_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", out := Terminal())

    def broken_off() -> None:
        with Ticker("comparing", first=0) as ticking:
            ticking(3, 10)
            raise KeyError

    with pytest.raises(KeyError):
        broken_off()

    assert "\rcomparing 3 of 10 recipes\r\033[K" == out.getvalue()


@pytest.mark.parametrize(("stream", "first"), [(Terminal(), 60.0), (io.StringIO(), 0.0)])
def test_short_work_and_pipes_see_nothing(monkeypatch: pytest.MonkeyPatch, stream: io.StringIO, first: float) -> None:
    monkeypatch.setattr(sys, "stderr", stream)

    with Ticker("comparing", first=first) as ticking:
        ticking(3, 10)

    assert "" == stream.getvalue()
