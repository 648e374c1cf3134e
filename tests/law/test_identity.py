"""A name is found in every spelling and language that the tables know; what is only near to one is a guess."""

from __future__ import annotations

from pathlib import Path

import pytest

from formula_vcs.law.compile_names import TABLES, kept_inventory, numbers_text, others_text, synonyms, words_text
from formula_vcs.law.identity import entry_of, identify, law_key, loose_key, names_of_number
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.ingredient import inci_key


def test_what_is_compiled_is_what_the_tables_say() -> None:
    """``python -m formula_vcs.law.compile_names`` was run after the last edit of synonyms.toml."""
    for name, text in (
        ("cas-names", numbers_text(kept_inventory())),
        ("other-names", others_text()),
        ("words", words_text()),
    ):
        assert text == (TABLES / f"{name}.tsv").read_text(encoding="utf-8"), name


def test_every_name_of_the_inventory_is_known_and_means_itself() -> None:
    """28,776 names; those that people write for another INCI name ("Water") mean that one."""
    entries = kept_inventory()
    moved = {loose_key(name) for name, *_ in synonyms()}

    assert 28_700 < len(entries)
    for entry in entries[::7]:
        found = identify(entry.inci)
        assert found.certain
        assert loose_key(entry.inci) in moved or entry.inci == found.inci
    assert not [number for entry in entries for number in entry.cas.split("; ") if number and cas_trouble(number)]


def test_every_other_name_means_what_its_line_says() -> None:
    for name, inci, _, _ in synonyms():
        assert loose_key(inci) == loose_key(identify(name).inci), name


@pytest.mark.parametrize(
    ("name", "inci"),
    [
        ("Aluminium Hydroxide", "Aluminum Hydroxide"),
        ("SODIUM  LAURETH SULPHATE", "Sodium Laureth Sulfate"),
        ("PEG 40 hydrogenated castor oil", "PEG-40 Hydrogenated Castor Oil"),
        ("Phenoxy ethanol", "Phenoxyethanol"),
        ("Butyrospermum Parkii (Shea) Butter", "Butyrospermum Parkii Butter"),
        ("Aqua/Water/Eau", "Aqua"),
        ("Aqua (Water)", "Aqua"),
        ("CI77891", "CI 77891"),
        ("C.I. No. 77891", "CI 77891"),
        ("15850:1", "CI 15850"),
        ("E202", "Potassium Sorbate"),
        ("E 202", "Potassium Sorbate"),
        ("Kaliumbenzoat", "Potassium Benzoate"),
        ("benzoato di sodio", "Sodium Benzoate"),
        ("Natrii benzoas", "Sodium Benzoate"),
        ("Dioxyde de titane", "Titanium Dioxide"),
        ("Vitamin A Palmitate", "Retinyl Palmitate"),
        ("Avobenzone", "Butyl Methoxydibenzoylmethane"),
        ("FD&C Yellow No. 5", "CI 19140"),
        ("Lyral", "Hydroxyisohexyl 3-Cyclohexene Carboxaldehyde"),
        ("HICC", "Hydroxyisohexyl 3-Cyclohexene Carboxaldehyde"),
        ("Galaxolide", "Hexamethylindanopyran"),
        ("Iso E Super", "Tetramethyl Acetyloctahydronaphthalenes"),
        ("Oakmoss Absolute", "Evernia Prunastri Extract"),
        ("(R)-Carvone", "Carvone"),
        ("Hexyl cinnamic aldehyde", "Hexyl Cinnamal"),
        ("Benzoic acid, sodium salt", "Sodium Benzoate"),
    ],
)
def test_other_spellings_and_languages_are_the_same_substance(name: str, inci: str) -> None:
    found = identify(name)

    assert inci == found.inci
    assert found.certain
    assert inci_key(inci) == law_key(name)


@pytest.mark.parametrize(
    "name",
    ["Gly\u0441erin", "Gly\u200bcerin", "\uff27\uff4c\uff59\uff43\uff45\uff52\uff49\uff4e",
     "\u0262\u029f\u028f\u1d04\u1d07\u0280\u026a\u0274", "Glyc\u03b5rin", "Gly\u00adcerin", "G\u0301lycerin"],
)  # fmt: skip
def test_names_that_deceive_the_eye_are_still_that_substance(name: str) -> None:
    assert "Glycerin" == identify(name).inci


def test_a_greek_letter_of_chemistry_is_read_as_its_name() -> None:
    assert "alphapinene" == loose_key("\u03b1-Pinene")
    assert loose_key("gamma-Decalactone") == loose_key("\u03b3-Decalactone")


@pytest.mark.parametrize(
    ("name", "inci"),
    [
        ("Aquaa", "Aqua"),
        ("Sodium Benzoat", "Sodium Benzoate"),
        ("Hexyl Cinamal", "Hexyl Cinnamal"),
        ("Cetearyl Alchohol", "Cetearyl Alcohol"),
        ("Paraffinum Liqidum", "Paraffinum Liquidum"),
        ("Butyrospermum Parki Butter", "Butyrospermum Parkii Butter"),
        ("Glycrin", "Glycerin"),
        ("Xanthane Gum", "Xanthan Gum"),
        ("Cocamidopropylbetain", "Cocamidopropyl Betaine"),
        ("Sodium Lauret Sulfate", "Sodium Laureth Sulfate"),
    ],
)
def test_a_slip_of_the_pen_is_a_guess(name: str, inci: str) -> None:
    found = identify(name)

    assert inci == found.near[0]
    assert not found.certain


@pytest.mark.parametrize(
    "name", ["Unobtainium", "Magic Peptide Complex", "x", "", "Sodium Benzoate (and) Potassium Sorbate"]
)
def test_what_no_table_knows_is_unknown(name: str) -> None:
    assert ("", ()) == (identify(name).how, identify(name).near)


def test_numbers_tell_what_a_name_does_not() -> None:
    assert ("Sodium Fluoride", "number") == (
        identify("Zahnsalz", "7681-49-4").inci,
        identify("Zahnsalz", "7681-49-4").how,
    )
    assert ("CI 77891", "Titanium Dioxide") == names_of_number("13463-67-7")
    assert not identify("Deckweiss 9", "13463-67-7").certain  # the number is two names'
    assert not identify("Zahnsalz", "7681-49-5").certain  # its check digit is wrong


def test_a_nano_form_has_a_key_of_its_own() -> None:
    assert "titanium dioxide (nano)" == law_key("Titanium Dioxide [nano]")
    assert "ci 77891 (nano)" == law_key("CI77891 (nano)")


def test_what_the_inventory_has_of_a_name() -> None:
    found = entry_of("sodium sulphate")

    assert found is not None
    assert ("Sodium Sulfate", ("7727-73-3", "7757-82-6"), ("231-820-9",)) == found[:3]
    assert ("bulking", "viscosity controlling") == found.functions
    assert None is entry_of("unobtainium")


def _lists() -> list[tuple[str, list[str]]]:
    lines = Path(__file__).with_name("ingredient-lists.txt").read_text("utf-8").splitlines()
    parted = [line.partition("|") for line in lines if not line.startswith("#")]
    return [(kind.strip(), [name.strip() for name in names.split(";")]) for kind, _, names in parted]


def test_there_are_forty_lists() -> None:
    assert 40 <= len(_lists())
    assert 400 < sum(len(names) for _, names in _lists())


@pytest.mark.parametrize(("kind", "names"), _lists(), ids=[kind for kind, _ in _lists()])
def test_no_name_of_a_usual_ingredient_list_is_unknown(kind: str, names: list[str]) -> None:
    assert not [name for name in names if not identify(name).certain], kind
