"""A rate of exchange that changes, as a buyer reads it."""

from __future__ import annotations

import pytest

from formula_vcs.diff.counterfactuals import bears_on_figure, bears_on_label
from formula_vcs.diff.material_changes import workspace_changes
from formula_vcs.workspace.snapshot import Files, Snapshot

MAY = '[[rate]]\nof = "USD"\nis = "0.862 EUR"\nday = 2026-05-04\n'
JUNE = MAY.replace("0.862", "0.871").replace("05-04", "06-01")
POUND = '[[rate]]\nof = "GBP"\nis = "1.15 EUR"\nday = 2026-05-04\n'


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (MAY, MAY + JUNE, "1 USD = 0.862 \u2192 0.871 EUR (+1.0 %) from 2026-06-01"),
        (MAY, JUNE + MAY, "1 USD = 0.862 \u2192 0.871 EUR (+1.0 %) from 2026-06-01"),  # in front: no other row moved
        (MAY, MAY.replace("0.862", "0.9"), "1 USD = 0.862 \u2192 0.9 EUR (+4.4 %) on 2026-05-04"),
        ("", MAY, "+ 1 USD = 0.862 EUR, rate of 2026-05-04"),
        (MAY, "", "\u2212 1 USD = 0.862 EUR, rate of 2026-05-04"),
        (MAY, POUND + MAY, "+ 1 GBP = 1.15 EUR, rate of 2026-05-04"),
        (MAY, MAY + 'source = "the bank"\n', "source, note or order"),
    ],
)
def test_a_rate_that_changes_is_one_change(old: str, new: str, words: str) -> None:
    sides = [Snapshot(Files({"workspace.toml": f'title = "Shed"\n{text}'})).workspace for text in (old, new)]
    (change,) = workspace_changes(*sides)

    assert f"workspace, rate: {words}" == change.text
    assert bears_on_figure(change, "cost_per_kg")
    assert not bears_on_figure(change, "density")
    assert not bears_on_label(change)


def test_a_rate_that_cannot_be_read_is_said_as_it_stands() -> None:
    sides = [
        Snapshot(Files({"workspace.toml": f'title = "Shed"\n{text}'})).workspace
        for text in (MAY, MAY.replace("2026-05-04", '"May"'))
    ]
    (change,) = workspace_changes(*sides)

    assert "workspace, rate 1 day: 2026-05-04 \u2192 May" == change.text
