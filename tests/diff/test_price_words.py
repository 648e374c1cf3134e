"""A price that falls or rises, as a buyer reads it."""

from __future__ import annotations

import pytest

from formula_vcs.diff.material_changes import ingredient_changes
from formula_vcs.workspace.snapshot import Files, Snapshot

JAN = '[[price]]\ncost = "7.20 EUR/kg"\nsince = 2026-01-05\n'
BULK = '[[price]]\ncost = "6.10 EUR/kg"\nfrom = "250 kg"\nsince = 2026-01-05\n'
OLD = '[[price]]\ncost = "8.00 EUR/kg"\n'


def said(old: str, new: str) -> str:
    materials = []
    for text in (old, new):
        snapshot = Snapshot(Files({"ingredients/oil.toml": f'title = "Oil"\n[substances]\n"Oil" = 100\n{text}'}))
        material = snapshot.ingredient("oil")
        assert material is not None
        materials.append(material)
    (change,) = ingredient_changes(*materials)
    return change.text


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (JAN, JAN + '[[price]]\ncost = "6.85 EUR/kg"\nsince = 2026-06-01\n',
         "7.20 \u2192 6.85 EUR/kg (\u22124.9 %) from 2026-06-01"),
        (OLD + JAN, OLD + JAN + '[[price]]\ncost = "7.92 EUR/kg"\nsince = 2026-06-01\n',
         "7.20 \u2192 7.92 EUR/kg (+10.0 %) from 2026-06-01"),
        (JAN + BULK, JAN + BULK + '[[price]]\ncost = "5.49 EUR/kg"\nfrom = "250 kg"\nsince = 2026-06-01\n',
         "6.10 \u2192 5.49 EUR/kg (\u221210.0 %) from 2026-06-01, 250 kg and more"),
        # for another quantity, or before all others: it takes the place of none
        (JAN, JAN + '[[price]]\ncost = "6.85 EUR/kg"\nfrom = "25 kg"\nsince = 2026-06-01\n',
         "+ 6.85 EUR/kg from 25 kg since 2026-06-01"),
        (JAN, JAN + '[[price]]\ncost = "6.85 EUR/kg"\nsince = 2025-06-01\n', "+ 6.85 EUR/kg since 2025-06-01"),
        # in another currency nothing is compared
        (JAN, JAN + '[[price]]\ncost = "6.85 USD/kg"\nsince = 2026-06-01\n',
         "7.20 EUR/kg \u2192 6.85 USD/kg from 2026-06-01"),
        (JAN, JAN.replace("7.20", "6.85"),
         "7.20 \u2192 6.85 EUR/kg (\u22124.9 %) from 2026-01-05"),
        ('[[price]]\ncost = "0 EUR/kg"\n', '[[price]]\ncost = "1 EUR/kg"\n', "0 \u2192 1 EUR/kg"),
        (JAN + BULK, JAN.replace("7.20", "6.85") + BULK.replace("6.10", "5.49"),
         ("7.20 \u2192 6.85 EUR/kg (\u22124.9 %) from 2026-01-05; "
          "6.10 \u2192 5.49 EUR/kg (\u221210.0 %) from 2026-01-05, 250 kg and more")),
    ],
)  # fmt: skip
def test_a_price_that_moves(old: str, new: str, words: str) -> None:
    assert f"oil, price: {words}" == said(old, new)
