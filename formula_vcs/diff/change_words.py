"""Say a change in the chemist's words."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from formula_vcs.model.amount import Amount
from formula_vcs.model.facts import Unread
from formula_vcs.words.numbers import exact_text, shown, signed

ARROW = "\u2192"


def plain(value: Any) -> str:
    """Write a value as it is read: a list with commas, true as yes, an exact number as a decimal."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Fraction):
        return exact_text(value)
    if isinstance(value, tuple):
        return ", ".join(plain(item) for item in value) or "nothing"
    if isinstance(value, Unread):
        return f"{value.raw} (not readable)" if value.raw is not None else "missing"
    return str(value)


def from_to(old: Any, new: Any) -> str:
    """Write "4.00 -> 5.00", or that a value came or went."""
    if old is None:
        return f"now {plain(new)}"
    if new is None:
        return f"was {plain(old)}, now left out"
    return f"{plain(old)} {ARROW} {plain(new)}"


def number(amount: Amount | None) -> str | None:
    """An amount as JSON has it: the digits of a percentage, else the text."""
    if amount is None:
        return None
    return f"{amount.value:f}" if amount.kind in ("percent", "parts") else amount.text


def amount_change(old: Amount | None, new: Amount | None) -> str:
    """Say how an amount changed: from, to, percentage points, and relative to what it was."""
    if old is None or new is None or old.kind != new.kind or old.kind not in ("percent", "parts"):
        return from_to(old, new)
    before, after = Fraction(old.value), Fraction(new.value)
    unit = " %" if old.kind == "percent" else " parts"
    points = "points" if old.kind == "percent" else "parts"
    text = f"{old.value} {ARROW} {new.value}{unit}, {signed(after - before)} {points}"
    if before:
        text += f" ({signed((after - before) / before * 100, 0, 1)} % of it)"
    return text


def shift(old: Fraction, new: Fraction) -> str:
    """Say how a share that follows from others moved."""
    return f"{shown(old)} {ARROW} {shown(new)} %, {signed(new - old)} points"
