"""The sizes and the sources of duties against what was published.

SUPAC-SS: Nonsterile Semisolid Dosage Forms, FDA guidance for industry, May 1997 (SUPAC-SS CMC 7).  Its title and
table of contents were seen; level 1 of section III.A was read in a handbook's words; the numbers of III.B to III.D, IV
and V are from memory.  Regulation (EC) No 1223/2009: Articles 10, 13 and 19 and Annex I as on legislation.gov.uk and
EUR-Lex; Article 13's clause on updates and Article 11(2)(d) are from memory.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from formula_vcs.evidence.coverage import crossed
from formula_vcs.evidence.drift.drift import Drift
from formula_vcs.law import duty_table
from formula_vcs.model.evidence import KINDS

LITTLE = Fraction(1, 10**6)


def verdict(when: str, size: Fraction, kind: str = "stability", functions: frozenset[str] = frozenset()) -> str:
    """Give what is to be done about a kind of evidence at a size of change."""
    found = crossed(Drift(when, "x", "moved", size, functions=functions), kind)
    return "nothing" if found is None else found[0]


@pytest.mark.parametrize(
    ("when", "line", "below", "beyond", "section"),
    [
        ("amount", Fraction(5, 100), "nothing", "decide", "III"),  # level 1: up to 5 % of the approved amount
        ("amount", Fraction(10, 100), "decide", "repeat", "III"),  # level 2: up to 10 % (from memory)
        ("sum", Fraction(5, 100), "nothing", "decide", "III"),  # level 1: total additive effect up to 5 %
        ("sum", Fraction(10, 100), "decide", "repeat", "III"),  # level 2: up to 10 % (from memory)
        ("batch", Fraction(10), "decide", "repeat", "V"),  # level 1: up to and including a factor of 10 (from memory)
    ],
)
def test_lines_of_supac_ss(when: str, line: Fraction, below: str, beyond: str, section: str) -> None:
    """Exactly on a line is within it ("up to", "up to and including")."""
    assert below == verdict(when, line)
    assert beyond == verdict(when, line + LITTLE)
    sources = [row.source for row in duty_table.as_shipped().lines[when] if row.above == line and not row.of]
    assert sources
    assert all(f"SUPAC-SS {section}" in source for source in sources)


def test_a_preservative_is_tested_at_every_level() -> None:
    """SUPAC-SS III.D (from memory): the preservative test is asked for at levels 1, 2 and 3."""
    preservative = frozenset({"preservative"})

    for size in (LITTLE, Fraction(1, 10), Fraction(2, 10), Fraction(1)):
        assert "repeat" == verdict("amount", size, "challenge-test", preservative)
    assert "nothing" == verdict("amount", LITTLE, "challenge-test")


def test_other_equipment_shear_and_phases() -> None:
    """SUPAC-SS IV (from memory): same design level 1; other design, high to low shear, other combining level 2."""
    assert "decide" == verdict("mixer", Fraction(1))
    assert ["repeat"] * 3 == [verdict(when, Fraction(1)) for when in ("mixer-kind", "shear", "order")]


def test_the_scale_says_that_it_binds_no_cosmetic() -> None:
    assert "SUPAC-SS CMC 7" in duty_table.scale()
    assert "May 1997" in duty_table.scale()
    assert "binds no cosmetic" in duty_table.note()


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("safety-assessment", "Article 10(1)(c)"),  # "kept up to date in view of additional relevant information"
        ("notification", "Article 13"),
        ("artwork", "Article 19(1)"),
        ("stability", "Annex I, A.2"),  # physical/chemical characteristics and stability of the cosmetic product
        ("challenge-test", "Annex I, A.3"),  # microbiological quality; "results of preservation challenge test"
        ("challenge-test", "ISO 11930"),
        ("pack-compatibility", "Annex I, A.4"),  # impurities, traces, information about the packaging material
        ("process-validation", "ISO 22716:2007, clause 15"),  # change control; the wording is from memory
    ],
)
def test_the_ground_of_each_kind(kind: str, words: str) -> None:
    assert words in duty_table.as_shipped().work(kind).source


@pytest.mark.parametrize(
    ("scheme", "words"),
    [("cosmos-organic-4", "control manual"), ("nop-organic", "7 CFR 205.400(f)(2)"), ("other", "common practice")],
)
def test_a_certificate_rests_on_what_its_scheme_says(scheme: str, words: str) -> None:
    assert words in duty_table.as_shipped().work("certificate", scheme).source


def test_every_row_has_its_source_and_its_owner() -> None:
    rows = [row for rows in duty_table.as_shipped().lines.values() for row in rows]

    assert len(rows) == len({row.id for row in rows})
    assert all(row.source for row in rows)
    assert 7 == len({duty_table.as_shipped().work(kind).owner for kind in KINDS})


def test_a_price_is_nobody_s_duty() -> None:
    assert not {"price", "other", "accept"} & duty_table.as_shipped().lines.keys()
