"""Patterns that are compiled late: the same answers, and each of the package compiles."""

from __future__ import annotations

import importlib
import pkgutil
import re

import pytest

import formula_vcs
from formula_vcs.words.late_pattern import _Late, late_pattern


def test_it_answers_as_the_pattern_does() -> None:
    late, early = late_pattern(r"(\d+) kg", re.IGNORECASE), re.compile(r"(\d+) kg", re.IGNORECASE)
    for text in ("5 KG", "5 g", ""):
        for name in ("match", "search", "fullmatch", "findall", "split"):
            assert str(getattr(early, name)(text)) == str(getattr(late, name)(text))
    assert "x" == late.sub("x", "7 kg")
    assert early.pattern == late.pattern
    assert [b"a"] == late_pattern(rb"[a-c]").findall(b"xa")


def test_it_is_compiled_once(monkeypatch: pytest.MonkeyPatch) -> None:
    late = late_pattern("a+")
    late.search("a")

    def again(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr(re, "compile", again)
    assert late.search("baa") is not None


def test_what_is_no_pattern_says_so_when_it_is_asked() -> None:
    with pytest.raises(re.error):
        late_pattern("(").search("")


def test_all_of_the_package_are_patterns() -> None:
    found = 0
    for module in pkgutil.walk_packages(formula_vcs.__path__, "formula_vcs."):
        if not module.name.endswith("__main__"):
            for one in vars(importlib.import_module(module.name)).values():
                if isinstance(one, _Late):
                    re.compile(one._text, one._flags)
                    found += 1
    assert found > 100
