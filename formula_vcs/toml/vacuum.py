"""Read a pressure below that of the room: absolute, or against the room's; which of the two has to be said."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any, Final

from formula_vcs.model.facts import Path
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.toml.takers import FactReader, shown, wrong_kind
from formula_vcs.units import unit_reading
from formula_vcs.units.unit_reading import ABSOLUTE, ATMOSPHERE, GAUGE
from formula_vcs.words.late_pattern import late_pattern

PRESSURE: Final = "pressure"
_NUMBER: Final = r"\d{1,9}(?:\.\d{1,9})?"
_WRITTEN: Final = late_pattern(
    rf"(?P<side>at (?:most|least) )?(?P<minus>-)?(?P<low>{_NUMBER})(?: to (?P<again>-)?(?P<high>{_NUMBER}))?"
    r" ?(?P<unit>[A-Za-z]+)(?: ?\(?(?P<kind>abs\.?|absolute|a|gauge|g)\)?)?"
)
_HOW: Final = '"0.2 bar absolute", or "-0.8 bar gauge" against the room'


def vacuum(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a vacuum as a range of absolute pressures, in its own words."""
    if not isinstance(raw, str):
        wrong_kind(sheet, path, raw, f"a pressure in quotes, {_HOW},")
        return
    found = read_vacuum(raw)
    if isinstance(found, str):
        sheet.refuse(path, raw, f"'{path[-1]}': '{shown(raw)}' {found}", "bad-quantity")
    else:
        sheet.put(path, found)


def read_vacuum(raw: str) -> Range | str:
    """Read a vacuum; a str says why it is none."""
    text = " ".join(raw.replace("\u2212", "-").split())
    match = _WRITTEN.fullmatch(text)
    if match is None:
        return f"is no pressure; write {_HOW}"
    gauge = _counted(match)
    if isinstance(gauge, str):
        return f"{gauge}; write {_HOW}"
    side = match["side"]
    if side is not None and match["high"] is not None:
        return f"has two ends and a side; write {_HOW}"
    ends = [_end(number, match["unit"], gauge=gauge) for number in (match["low"], match["high"] or match["low"])]
    wrong = next((end for end in ends if isinstance(end, str)), None)
    if wrong is not None:
        return wrong
    low, high = (end for end in ends if isinstance(end, Quantity))
    if gauge:
        low, high = sorted((low, high), key=lambda end: end.base)  # "-0.4 to -0.6" and its reverse mean one thing
    if low.base > high.base:
        return f'is upside down; write "{high.value:f} to {low.value:f} {low.unit}"'
    if side is None:
        return Range(text, low, high)
    return Range(text, None, high) if side == "at most " else Range(text, low, None)


def _counted(match: re.Match[str]) -> bool | str:
    """Say whether a pressure is counted from the room's; a str says why that cannot be told."""
    kind = (match["kind"] or "").casefold()
    below = match["minus"] is not None
    if match["high"] is not None and (match["again"] is not None) != below:
        return "has ends on both sides of the room's pressure"
    if not kind and not below:
        return "does not say from where it is counted"
    gauge = kind.startswith("g") or (below and not kind)
    if gauge == below:
        return gauge
    return "lies over the pressure of the room" if gauge else "cannot be: no absolute pressure is below nothing"


def _end(number: str, unit: str, *, gauge: bool) -> Quantity | str:
    try:
        read = unit_reading.read_quantity(f"{number} {unit}", PRESSURE)
    except unit_reading.QuantityError as bad:
        return f"is no pressure: {bad.message}"
    base = ATMOSPHERE - read.base if gauge else read.base
    if base <= 0:
        return "leaves no pressure at all" if not gauge else "is more than the whole pressure of the air"
    if base > ATMOSPHERE:
        return "is no vacuum: it lies over the pressure of the air, 1.01325 bar"
    value = -read.value if gauge else Decimal(read.value)
    return Quantity(number, value, f"{read.unit} {GAUGE if gauge else ABSOLUTE}", PRESSURE, base)
