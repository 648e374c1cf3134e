"""The table of common units is what pint says of the definitions."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction

import pytest

from formula_vcs.units import compile_units, unit_reading, unit_table


def test_the_table_is_pints_answer() -> None:
    """Compiled again, every unit of the table means the same: definitions and table cannot drift apart."""
    for spelled in dict.fromkeys(compile_units.spellings()):
        asked = unit_reading.ask_pint(spelled, spelled, "EUR" if "money" in spelled else "")
        over, under, offset, offset_under, dimension = unit_table.TABLE[spelled]

        assert (asked.factor, asked.offset) == (Fraction(over, under), Fraction(offset, offset_under)), spelled
        assert asked.dimension == dimension, spelled


def test_the_table_holds_nothing_else() -> None:
    """No unit is left in it that the definitions no longer have."""
    assert set(compile_units.spellings()) == set(unit_table.TABLE)
    assert unit_reading.defined_names() == unit_table.NAMES


@pytest.mark.parametrize("unit", ["kg/L", "EUR/kg", "mPa*s", "degF", "%", "rpm"])
def test_a_common_unit_needs_no_pint(unit: str) -> None:
    """Reading it loads no pint; reading an uncommon one does."""
    script = (
        "import sys; from formula_vcs.units.unit_reading import read_quantity; read_quantity(sys.argv[1]);"
        "sys.exit('pint' in sys.modules)"
    )

    assert 0 == subprocess.run([sys.executable, "-c", script, f"8 {unit}"], check=False).returncode
    assert 1 == subprocess.run([sys.executable, "-c", script, "8 kg/m^2"], check=False).returncode
