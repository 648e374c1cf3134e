"""What a name reads as, whatever it is written with."""

from __future__ import annotations

import unicodedata

import pytest

from formula_vcs.model.ingredient import inci_key
from formula_vcs.words.deceptive import fold, look_alike, unseen

HIDDEN = "\u00ad\u034f\u061c\u115f\u17b4\u180b\u180e\u200b\u200d\u202e\u2028\u2060\u206a\u2800\u3164\ufe0f\ufeff\uffa0\ufff9\ue000\U0001d173\U000e0061\U000e0100\x07\x85\uffff"  # noqa: E501


@pytest.mark.parametrize("character", HIDDEN, ids=lambda character: f"U+{ord(character):04X}")
def test_a_hidden_character_is_found_and_does_not_hide_a_substance(character: str) -> None:
    assert unseen(character)
    assert fold(character.join("Formaldehyde")) == "formaldehyde"


@pytest.mark.parametrize(
    ("name", "reads"),
    [
        ("F\u1d0frm\u0251ldehyd\u1d07", "formaldehyde"),  # small capitals, a Latin alpha
        ("Hydr\u03bfquin\u043ene", "hydroquinone"),  # Greek, Cyrillic
        ("\u041d\u0423D\u0420\u041eQU\u0406NONE", "hydpoquinone"),
        ("\U0001d5e1\U0001d5fc\U0001d601\U0001d5f5ing", "nothing"),  # mathematical bold
        ("\uff26ormaldehyde", "formaldehyde"),  # full width
        ("Glyc\u00e9rin", "glycerin"),
        ("Glyce\u0301rin", "glycerin"),
        ("CI \u0667\u0667\u0668\u0669\u0661", "ci 77891"),
        ("\u03b1-Pinene", "\u03b1-pinene"),  # a Greek letter that stands alone is one
        ("Sodium\u00a0Benzoate", "sodium benzoate"),
        ("  Sodium   BENZOATE ", "sodium benzoate"),
    ],
)
def test_what_a_name_reads_as(name: str, reads: str) -> None:
    assert fold(name) == reads


def test_folding_again_changes_nothing() -> None:
    for code in range(0x20000):
        once = fold(chr(code) + "x")
        assert fold(once) == once, hex(code)


def test_what_is_printed_and_seen_is_not_called_hidden() -> None:
    for character in "aZ0 -\u00e9\u00df\u0141\u4e2d\u0e01\u0905\u2192\u00b5\u00a0\u2009\u2705":
        assert not unseen(character), unicodedata.name(character)


def test_a_letter_reads_as_itself() -> None:
    assert [look_alike(character) for character in "aZ1\u00e9\u00df\u0142\u4e2d"] == [""] * 7
    assert look_alike("\u0430") == "a"


def test_water_with_a_letter_of_another_script_is_water() -> None:
    assert inci_key("\u0410qua") == "aqua"
