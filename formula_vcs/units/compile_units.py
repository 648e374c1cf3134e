"""Ask pint once for the units that recipes are full of, and write its answers down.

``python -m formula_vcs.units.compile_units`` writes ``unit_table.py`` from ``units.txt``.  pint costs a hook 0.1 to
0.2 s at every commit, more than everything else together; with the table it is loaded only where a file has a unit
that is not in it.  A test compiles the table again and compares, so it always is what pint says of the definitions.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from formula_vcs.units import unit_reading

TARGET: Final = Path(__file__).with_name("unit_table.py")
_HEAD: Final = '''\
"""What pint says of the trade's units: written by compile_units.py from units.txt, not by hand."""

from __future__ import annotations

from typing import Final

# Unit: numerator and denominator of its factor to the base unit, and of its offset; its dimension.
'''
# Besides each unit alone, what recipes and ingredients are full of: a price, a density, a share, a viscosity ...
_MASSES: Final = ("kg", "g", "mg", "ug", "t", "lb", "oz")
_VOLUMES: Final = ("L", "mL", "m^3", "cm^3", "gal")
_OVER: Final = (
    (("money",), (*_MASSES, *_VOLUMES)),
    (("kg", "g", "mg", "lb"), (*_VOLUMES, "kg", "g", "mL")),
    (("ug", "CFU"), ("kg", "g", "mL")),
    (("m", "mm"), ("s", "min")),
    # peroxide value and conductivity, which certificates of lots are full of
    (("mmol",), ("kg", "g", "L")),
    (("uS", "mS"), ("cm", "m")),
)
_TIMES: Final = (("Pa", "mPa", "kPa"), ("s",))


def spellings() -> Iterator[str]:
    """Give the units that the table holds, as they are spelled for pint."""
    yield from sorted(unit_reading.defined_names())
    yield "money"  # what a piece of packaging costs; as a name people write a currency
    for tops, bottoms in _OVER:
        yield from (f"{top}/{bottom}" for top in tops for bottom in bottoms)
    yield from (f"{left}*{right}" for left in _TIMES[0] for right in _TIMES[1])


def compiled() -> str:
    """Give the text of the table, pint asked afresh for each unit."""
    lines = [_HEAD + "TABLE: Final[dict[str, tuple[int, int, int, int, str]]] = {"]
    for spelled in dict.fromkeys(spellings()):
        unit = unit_reading.ask_pint(spelled, spelled, "XXX" if "money" in spelled else "")
        parts = (*unit.factor.as_integer_ratio(), *unit.offset.as_integer_ratio())
        lines.append(f'    "{spelled}": ({", ".join(map(str, parts))}, "{unit.dimension}"),')
    lines.append("}\n\nNAMES: Final = frozenset(")
    lines += ["    (", *(f'        "{name}",' for name in sorted(unit_reading.defined_names())), "    )", ")\n"]
    return "\n".join(lines)


if __name__ == "__main__":
    TARGET.write_text(compiled(), encoding="ascii")
