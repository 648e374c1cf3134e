"""The content hash: one name for what a recipe means, whatever its layout.

A batch and a proof pin the version that they are about by its commit and by this hash.  The commit says where to
find it; the hash still says which recipe was meant where history was rewritten, and shows a pin that was typed wrong.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from formula_vcs.model.amount import Addition, Amount, BookTotal
from formula_vcs.model.facts import Facts, Unread
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import Recipe
from formula_vcs.words.checksums import sha256
from formula_vcs.words.numbers import exact_text

DIGITS: Final = 64
# Why a finding is lived with says nothing about what is made or what it must measure.
_ACCEPTED: Final = "accept"


def content_hash(recipe: Recipe, premixes: Mapping[str, Recipe]) -> str:
    """The SHA-256, in 64 hexadecimal digits, of the meaning of a recipe and of the premixes in it.

    Charges, steps, spec and header count; comments, layout, the order of charges in the file, "0.30" or "0.3",
    accepted findings and the name of the recipe's own file do not.  Facts of ingredients are no part of it: they are
    compared at the pinned commit.
    """
    whole = {"": _lines(recipe.facts), **{name: _lines(premixes[name].facts) for name in sorted(premixes)}}
    text = "".join(f"[{_word(name)}]\n{lines}" for name, lines in whole.items())
    return sha256(text.encode("utf-8", "surrogateescape")).hexdigest()


def _lines(facts: Facts) -> str:
    return fact_lines({path: value for path, value in facts.items() if path[0] != _ACCEPTED})


def fact_lines(facts: Facts) -> str:
    """Spell facts, a line each in one order: equal facts have one spelling, and others never share it."""
    return "".join(sorted(f"{' '.join(map(_word, path))} = {_value(value)}\n" for path, value in facts.items()))


def _word(name: str) -> str:
    return f'"{name}"' if name and not {'"', "\\", "\n"} & set(name) else repr(name)


def _value(value: Any) -> str:
    """Spell a value so that equal values have one spelling and different ones never share it."""
    if isinstance(value, Quantity):
        return f"{value.dimension} {value.base} {value.currency}"
    if isinstance(value, Range):
        return f"{_end(value.low)} to {_end(value.high)}"
    if isinstance(value, Amount | BookTotal):
        kind = value.kind if isinstance(value, Amount) else f"total {value.about}"
        return f"{kind} {exact_text(Fraction(value.value))} {_end(value.quantity)}"
    if isinstance(value, Addition):
        return f"{_word(value.what)} {_end(value.share)}"
    if isinstance(value, tuple | list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{_word(str(key))}: {_value(value[key])}' for key in sorted(value))}}}"
    if isinstance(value, Unread):
        return f"unread {value.raw!r}"
    return _plain(value)


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return exact_text(Fraction(value))
    if isinstance(value, str):
        return repr(value)
    if value is None or isinstance(value, int | float | Fraction | datetime.date | datetime.time):
        return str(value)
    raise TypeError(f"a fact of an unknown type: {type(value).__name__}")


def _end(value: Quantity | None) -> str:
    return "open" if value is None else _value(value)
