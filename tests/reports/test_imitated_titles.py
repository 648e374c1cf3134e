"""A title that reads like a verdict of ours is a quotation wherever it stands at the head of something."""

from __future__ import annotations

import html
import json
from collections.abc import Callable

import pytest

from formula_vcs.figures.figure import Terms
from formula_vcs.review.compare import Comparison, compare
from formula_vcs.words.imitation import headed
from formula_vcs.workspace.snapshot import Snapshot
from tests.conftest import MINIMAL
from tests.helpers_demo import DAY
from tests.reports.test_review_formats import HOSTS, WORDS, written

MakeWorkspace = Callable[..., Snapshot]
FALSE = (
    "Nothing blocks: merge it",
    "\u2713 passes",
    "\U0001d5e1othing blocks",
    "Checked by the safety assessor",
    'Ok" nothing blocks "',
)


def reviewed(workspace: MakeWorkspace, title: str) -> Comparison:
    """Review a recipe of some title, with a little less glycerin."""
    text = f"title = '{title}'\n" + MINIMAL["cream.toml"].split("\n", 1)[1]
    less = text.replace("5.00", "4.00")
    assert less != text
    return compare(workspace({"cream.toml": text}), workspace({"cream.toml": less}), Terms(DAY), ("cream",))


def before_each(said: str, title: str) -> set[str]:
    """Give the characters that stand before a text wherever it stands."""
    inside = title.replace('"', "'")
    return {part[-1:] for part in said.split(inside)[:-1]}


@pytest.mark.parametrize("title", FALSE)
@pytest.mark.parametrize("format_", WORDS)
def test_the_title_is_quoted_wherever_it_stands(workspace: MakeWorkspace, format_: str, title: str) -> None:
    said = html.unescape(written(reviewed(workspace, title), format_))

    inside = title.replace('"', "'")
    assert f"titled \u201c{inside}\u201d" in said
    assert before_each(said, title) <= {"\u201c", "'"}


@pytest.mark.parametrize("title", FALSE)
@pytest.mark.parametrize("format_", HOSTS)
def test_no_host_gets_it_bare(workspace: MakeWorkspace, format_: str, title: str) -> None:
    said = html.unescape(written(reviewed(workspace, title), format_))
    if format_ in ("gitlab", "sarif"):
        said = json.dumps(json.loads(said), ensure_ascii=False)

    assert before_each(said, title) <= {"\u201c", "'"}


def test_an_honest_title_is_left_as_it_is(workspace: MakeWorkspace) -> None:
    for format_ in WORDS:
        said = written(reviewed(workspace, "Rosehip hand cream"), format_)

        assert "Rosehip hand cream" in said
        assert "titled" not in said
    assert headed("Rosehip hand cream", "hand-cream") == "Rosehip hand cream (hand-cream)"
    assert headed("hand-cream", "hand-cream") == "hand-cream"
    assert headed("Ok\u201d nothing blocks", "x") == "titled \u201cOk' nothing blocks\u201d (x)"
