"""Classes, pairs and names: every class is known, pairs read back, what a name says is marked as such."""

from __future__ import annotations

import pytest

from formula_vcs.chemistry import compile_tables, pair_rows
from formula_vcs.chemistry.class_tables import OF_CHARGE
from formula_vcs.chemistry.substances import classes_of
from formula_vcs.chemistry.tables import load
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.pair import Pair
from formula_vcs.model.substance_classes import CHARGES, CLASSES, with_wider
from formula_vcs.toml.rules_file import read_rules


def test_every_class_is_known_and_has_members_or_parts() -> None:
    tables = set(compile_tables.parsed("classes")["class"]) | set(OF_CHARGE.values())
    wider = {name for parts in CLASSES.values() for name in parts}

    assert set() == tables - set(CLASSES)
    assert set() == set(CLASSES) - tables - wider


def test_compiled_pairs_read_back_as_they_were() -> None:
    facts = read_rules(compile_tables.parsed("pairs"))

    assert list(pair_rows.rows_of(facts)) == list(pair_rows.shipped())


def test_there_are_more_than_forty_pairs_and_none_blocks() -> None:
    found = pair_rows.shipped()

    assert 79 == len(found) == len({pair.id for pair in found})
    assert {"warn", "note"} == {pair.severity for pair in found}


@pytest.mark.parametrize("pair", pair_rows.shipped(), ids=lambda pair: pair.id)
def test_a_pair_says_what_happens_what_to_do_and_who_says_so(pair: Pair) -> None:
    assert pair.what
    assert pair.instead
    assert pair.source
    assert ("common practice, no source" == pair.source) == (not pair.checked)


@pytest.mark.parametrize(
    ("name", "charge", "guessed"),
    [
        ("sodium laureth sulfate", "anionic", False),
        ("behentrimonium methosulfate", "cationic", False),
        ("cocamidopropyl betaine", "amphoteric", False),
        ("decyl glucoside", "non-ionic", False),
        ("polyquaternium-22", "amphoteric", False),
        ("polyquaternium-47", "amphoteric", True),
        ("polyquaternium-55", "cationic", True),
        ("sodium methyl oleoyl taurate", "anionic", True),
        ("sodium lauroyl alaninate", "anionic", True),
        ("potassium stearate", "anionic", False),
        ("lauryldimonium chloride", "cationic", True),
        ("ceteareth-30", "non-ionic", True),
        ("trideceth-9", "non-ionic", True),
        ("steareth-100", "non-ionic", True),
        ("peg-8 laurate", "non-ionic", True),
        ("sucrose laurate", "non-ionic", True),
        ("hydrolyzed pea protein", "amphoteric", False),
        ("glycerin", "", False),
        ("sodium chloride", "", False),
        ("magnesium sulfate", "", False),
    ],
)
def test_a_charge(name: str, charge: str, guessed: bool) -> None:
    found = classes_of(name)

    assert (charge, guessed) == (found.charge, found.guessed)


def test_a_number_speaks_where_no_class_has_the_name() -> None:
    assert "sulfate surfactant" in classes_of("sodium dodecyl sulphate of ours", "151-21-3").names
    assert frozenset() == classes_of("glycerin", "").names


def test_a_name_of_the_tables_goes_before_its_number() -> None:
    """Who writes the number of another substance is told so elsewhere; the name decides."""
    assert "cationic" in classes_of("cetrimonium chloride", "151-21-3").names


def test_a_number_that_names_of_several_classes_share_says_nothing() -> None:
    """Steareth-2 and -21 share one number and one class; decyl and caprylyl glucoside too."""
    shared = load("classes")["cas"]

    assert "ethoxylate" in shared["9005-00-9"]
    assert [] == list(filter(None, map(cas_trouble, shared)))


def test_wider_classes() -> None:
    assert {"calcium salt", "polyvalent salt", "electrolyte"} == with_wider("calcium salt")
    assert frozenset() == with_wider("no class")
    assert {"anionic", "cationic", "amphoteric", "non-ionic"} == CHARGES
