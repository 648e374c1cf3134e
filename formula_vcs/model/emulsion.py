"""Kinds of emulsion, as the trade writes them: what is inside stands first, what is outside last."""

from __future__ import annotations

from typing import Final

OIL_IN_WATER: Final = "O/W"
IN_OIL: Final = ("W/O", "W/Si")  # oil, or silicone, outside
DOUBLE: Final = ("W/O/W", "O/W/O")
KINDS: Final = (OIL_IN_WATER, *IN_OIL, *DOUBLE)


def holds_water_in_oil(kind: str) -> bool:
    """Say whether somewhere in an emulsion of a kind there are droplets of water in oil."""
    return kind != OIL_IN_WATER
