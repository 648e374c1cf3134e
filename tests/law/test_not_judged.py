"""What nobody judges is said by name, in every format, and never counts as passed."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from formula_vcs.cli import main
from formula_vcs.law.not_judged import FIELDS, not_judged_words, open_fields
from formula_vcs.model.law_row import MARKETS


def test_every_market_that_there_are_facts_for_says_what_is_left_open() -> None:
    assert set(MARKETS) == set(FIELDS)
    for market, fields in FIELDS.items():
        assert fields == open_fields([("cream", (market,))])
    assert any("safety assessment" in field for field in FIELDS["EU"])
    for words in ("IFRA", "CLP", "purity"):
        assert any(words in field for field in FIELDS["EU"]), words


def test_another_market_stands_first_and_none_at_all_is_named() -> None:
    found = open_fields([("cream", ("EU", "CN")), ("gel", ("UK",)), ("oil", ()), ("wax", ()), ("soap", ())])

    assert ("the law, where no market is named (oil, wax and 1 more)", "market CN", "market UK") == found[:3]
    assert FIELDS["EU"] == found[3:]


def test_nothing_is_said_of_nothing() -> None:
    assert () == open_fields([])
    assert "" == not_judged_words(())


@pytest.fixture
def repo(git_repo: Callable[..., Any], minimal: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed cream for the EU and a market that nobody has facts for."""
    cream = minimal["cream.toml"]
    title, rest = cream.split("\n", 1)
    found = git_repo({**minimal, "cream.toml": f'{title}\nproduct = "cream"\nmarkets = ["EU", "CN"]\n{rest}'})
    monkeypatch.chdir(found.path)
    return found


def test_a_check_says_it_in_text_markdown_and_json(repo: Any, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("text", "markdown"):
        main(["check", "--format", name])
        said = " ".join(capsys.readouterr().out.split())

        assert "Not judged here: market CN; the safety assessment" in said.replace("\\", ""), name
    main(["check", "--format", "json"])

    assert ["market CN", *FIELDS["EU"]] == json.loads(capsys.readouterr().out)["not_judged"]


def test_a_review_says_it_too(repo: Any, capsys: pytest.CaptureFixture[str]) -> None:
    text = (repo.path / "cream.toml").read_text("utf-8")
    repo.write({"cream.toml": text.replace('title = "', 'title = "New ', 1)})
    repo.git("commit", "-qanm", "another name")
    main(["review", "HEAD~1", "HEAD"])

    assert "Not judged here: market CN; the safety assessment" in " ".join(capsys.readouterr().out.split())
    main(["review", "HEAD~1", "HEAD", "--format", "json"])

    assert ["market CN", *FIELDS["EU"]] == json.loads(capsys.readouterr().out)["not_judged"]
    main(["review", "HEAD~1", "HEAD", "--format", "markdown"])

    assert "Not judged here: market CN" in capsys.readouterr().out
