"""CAS numbers: their form and their check digit."""

from __future__ import annotations

from typing import Final

from formula_vcs.words.late_pattern import late_pattern

_FORM: Final = late_pattern(r"[1-9]\d{1,6}-\d\d-\d")


def cas_trouble(number: str) -> str:
    """Say what is wrong with a CAS number, nothing where it can be one.

    The last digit is the sum of the others, each times its place from the right, modulo 10 (CAS, "Check Digit
    Verification of CAS Registry Numbers").

    >>> cas_trouble("532-32-1"), cas_trouble("532-32-2")
    ('', 'is no CAS number: its check digit would be 1')
    """
    if _FORM.fullmatch(number) is None:
        return 'is no CAS number; one looks like "532-32-1"'
    *digits, check = (int(digit) for digit in number if digit != "-")
    wanted = sum(place * digit for place, digit in enumerate(reversed(digits), 1)) % 10
    return "" if wanted == check else f"is no CAS number: its check digit would be {wanted}"
