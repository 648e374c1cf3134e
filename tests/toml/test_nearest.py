"""The hint at what may be meant: a slip of the pen, or the beginning of a name."""

from __future__ import annotations

import pytest

from formula_vcs.toml.takers import NAME_LIMIT, nearest

NAMES = ("lip-balm", "hand-cream", "cost_per_kg", "cost_per_pack", "pH_estimate")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("lip", "lip-balm"),
        ("LIP", "lip-balm"),
        ("balm", "lip-balm"),
        ("hand creme", "hand-cream"),
        ("cost", "cost_per_kg"),
        ("cost per kg", "cost_per_kg"),
        ("li", ""),
        ("ip", ""),
        ("alm", ""),
        ("x" * (NAME_LIMIT + 1), ""),
    ],
)
def test_what_may_be_meant(typed: str, meant: str) -> None:
    assert (f"; did you mean '{meant}'?" if meant else "") == nearest(typed, NAMES)
