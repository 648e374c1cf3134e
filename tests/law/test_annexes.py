"""The tables of Annexes II to VI: all in force, compiled as they stand, each looked up without reading the rest."""

from __future__ import annotations

import json

import pytest

from formula_vcs.law import compile_annexes
from formula_vcs.law.annex_rows import AnnexRows
from formula_vcs.law.annex_store import annex_row, annex_rows_about, entries_cited
from formula_vcs.law.annex_tables import AnnexTables, law_names
from formula_vcs.law.packs_in_force import law_of, product, product_names
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.law_row import DIMENSIONS

TABLES = AnnexTables()
FILED = list(AnnexRows(TABLES, compile_annexes.held(), compile_annexes.worded()))


@pytest.mark.parametrize(("annex", "in_force"), [("ii", 1737), ("iii", 370), ("iv", 154), ("v", 55), ("vi", 33)])
def test_every_entry_in_force_is_held(annex: str, in_force: int) -> None:
    """Counts of the consolidated text of 18 May 2026 (02009R1223-20260518)."""
    assert in_force == len(TABLES.entries[annex])


def test_the_compiled_annexes_are_what_the_tables_say() -> None:
    """Changed a table or a reading?  ``python -m formula_vcs.law.compile_annexes``."""
    rows, keys, unread = compile_annexes.compiled()

    assert compile_annexes.ROWS.read_text("utf-8") == rows
    assert compile_annexes.KEYS.read_text("utf-8") == keys
    assert [] == unread


def test_every_entry_has_a_row_of_its_own_or_by_hand() -> None:
    """But the entries of Annex III that only name an allergen on the label, which the pack of the allergens does."""
    filed = {compile_annexes.entry_of(filed.row) for filed in FILED if filed.row.kind != "hint"}
    named = {entry for row in law_of(("EU",)).all_rows() for entry in entries_cited(row.citation)}
    entries = {(annex, entry) for annex, lines in TABLES.entries.items() for entry in lines}

    assert set() == entries - filed - named - set(compile_annexes.held())


@pytest.mark.parametrize("annex", ["ii", "iii", "iv", "v", "vi"])
def test_a_row_is_sound(annex: str) -> None:
    """It is cited, its numbers check, and its scope names what some product is."""
    types = {name for found in map(product, product_names()) if found for name in found.types}
    for row, keys in FILED:
        if row.pack != f"eu-annex-{annex}":
            continue
        assert row.citation.startswith(f"Regulation (EC) No 1223/2009, Annex {annex.upper()}/")
        assert [""] * len(row.cas) == [cas_trouble(number) for number in row.cas]
        assert all(key == key.casefold() for key in keys)
        for scope in (row.where, row.unless):
            assert set(scope.type) <= types
            assert set(scope.contact) <= {"leave-on", "rinse-off", "oral"}


def test_a_row_comes_back_as_it_was_filed() -> None:
    for row, _ in FILED[:: len(FILED) // 200]:
        found = annex_row(row.id)
        assert found is not None
        assert row.citation == found.citation
        assert row.at_most == found.at_most
        assert [getattr(row.where, name) for name in DIMENSIONS] == [getattr(found.where, name) for name in DIMENSIONS]


def _ids(*names: str, cas: str = "") -> set[str]:
    return {row.id for row in annex_rows_about(names, (cas,) if cas else ())}


@pytest.mark.parametrize(
    ("name", "cas", "row"),
    [
        ("lidocaine", "", "eu-ii-399"),
        ("natrium something", "137-58-6", "eu-ii-399"),
        ("lidocaine hcl", "", "eu-ii-399-hint"),
        ("mercuric iodide", "", "eu-ii-221"),
        ("lead acetate", "", "eu-ii-289"),
        ("sodium arsenite", "", "eu-ii-43"),
        ("antimony trioxide", "", "eu-ii-40"),
        ("zirconium lactate", "", "eu-ii-391"),
        ("nicotine tartrate", "", "eu-ii-246"),
        ("nickel sulfate", "", "eu-ii-1100"),
        ("1,4-dioxane", "", "eu-ii-343"),
        ("benzo[a]pyrene", "", "eu-ii-612"),
        ("n-nitrosodimethylamine", "", "eu-ii-410"),
        ("ephedrine hydrochloride", "", "eu-ii-164"),
        ("procainamide hcl", "", "eu-ii-25"),
        ("ci 15850:1", "", "eu-iv-27"),
        ("titanium dioxide (nano)", "13463-67-7", "eu-vi-27a"),
        ("silver (nano)", "", "eu-ii-1727"),
        ("laurus nobilis leaf extract", "84603-73-6", "eu-ii-359-shared"),
        ("unheard of", "84603-73-6", "eu-ii-359"),
    ],
)
def test_a_substance_is_found(name: str, cas: str, row: str) -> None:
    assert row in _ids(name, cas=cas)


@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("phenyl mercuric acetate", "eu-ii-221"),
        ("mercurialis annua extract", "eu-ii-221"),
        ("barium sulfate", "eu-ii-46"),
        ("selenium sulfide", "eu-ii-297"),
        ("saccharomyces/selenium ferment", "eu-ii-297"),
        ("aluminum zirconium tetrachlorohydrex gly", "eu-ii-391"),
        ("silver", "eu-ii-1727"),
        ("lidocaine sulfate", "eu-ii-399"),
        ("gold", "eu-ii-1728"),
        ("polyaminopropyl biguanide", "eu-ii-1281"),
        ("4,6-dimethyl-pyran-2-one", "eu-ii-1389"),
    ],
)
def test_a_substance_is_not_of_an_entry(name: str, row: str) -> None:
    """What the entry excepts, another form of it, a plant of a like name, and slips of the inventory's numbers."""
    assert row not in _ids(name)
    assert f"{row}-hint" not in _ids(name) or "ferment" in name


def test_names_that_the_words_of_an_entry_give() -> None:
    assert ("Chlormethine",) == law_names("Chlormethine (INN) and its salts")
    assert ("Dichloromethane", "methylene chloride") == law_names("Dichloromethane; methylene chloride")


def test_a_row_is_one_line_of_json() -> None:
    """So that a change of a table is read as one in a diff."""
    for line in compile_annexes.ROWS.read_text("utf-8").splitlines()[:50]:
        name, pack, data = line.split("\t")
        assert name.startswith(pack.replace("annex-", ""))
        assert "citation" in json.loads(data)
