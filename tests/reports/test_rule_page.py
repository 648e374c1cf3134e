"""Pages of rules fit into 80 columns and keep their samples."""

from __future__ import annotations

import pytest

from formula_vcs.cli import main
from formula_vcs.reports.rule_page import rule_page
from formula_vcs.reports.terminal import columns
from formula_vcs.rules.registry import RULES


@pytest.mark.parametrize("rule", RULES)
def test_no_page_of_a_rule_is_wider_than_a_terminal(rule: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert 0 == main(["check", "--explain", rule])
    assert [] == [line for line in capsys.readouterr().out.splitlines() if columns(line) > 80]


def test_words_are_folded_and_samples_stay() -> None:
    text = f"{'word ' * 20}\nand on.\n\nSo:\n    a = 1\n    b = 2\n- one\n- two\n    {'x ' * 50}"
    words = " ".join(["word"] * 16)

    assert rule_page(text) == "\n".join(
        [words, "word word word word and on.", "", "So:", "    a = 1", "    b = 2", "- one", "- two",
         f"    {' '.join('x' * 38)}", f"        {' '.join('x' * 12)}"]
    )  # fmt: skip
