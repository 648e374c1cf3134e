"""The tables of substances: what is compiled is what is written, and every number and name is possible."""

from __future__ import annotations

import re
import time

import pytest

from formula_vcs.chemistry.compile_tables import TABLES, compiled, parsed
from formula_vcs.chemistry.substances import LONGEST
from formula_vcs.chemistry.tables import COMPILED
from formula_vcs.model.cas import cas_trouble


@pytest.mark.parametrize("name", TABLES)
def test_what_is_compiled_is_what_is_written(name: str) -> None:
    """Run ``python -m formula_vcs.chemistry.compile_tables`` where this fails."""
    assert compiled(name) == (COMPILED / f"{name}.json").read_text(encoding="utf-8")


def test_cas_numbers_of_the_charges_have_their_check_digit() -> None:
    rows = parsed("charge")["class"]
    numbers = [cas for row in rows for cas in row["names"].values() if cas]

    assert len(numbers) > 180
    assert [] == list(filter(None, map(cas_trouble, numbers)))


def test_patterns_of_the_charges_are_folded_and_quick() -> None:
    """A name is somebody else's text: the longest that is looked at takes no pattern long."""
    begun = time.process_time()
    for rule in parsed("charge")["rule"]:
        assert rule["name"] == rule["name"].casefold()
        for word in ("sodium lauryl ", "peg-1", "hydrolyzed ", "-"):
            re.search(rule["name"], (word * LONGEST)[:LONGEST])

    assert time.process_time() - begun < 0.5
