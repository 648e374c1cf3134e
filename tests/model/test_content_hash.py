from __future__ import annotations

from formula_vcs.model.content_hash import DIGITS, content_hash
from formula_vcs.workspace.snapshot import Files, Snapshot

WORKSPACE = 'title = "Shed"\n'
CREAM = """
title = "Cream"
product = "hand cream"
[phase.A.charge]
water = "to 100"
gum = 0.30
[[step]]
id = "mix"
into = "main"
add = ["A"]
time = "8 min"
[spec]
pH = "4.8 to 5.4"
"""
GUM = 'title = "Gum"\n[substances]\n"Xanthan Gum" = 100\n'
SOLUTION = 'title = "Gum, swollen"\nrecipe = "swollen"\n'
SWOLLEN = 'title = "Swollen"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\nraw-gum = 1.0\n'


def hashed(cream: str, swollen: str | None = None) -> str:
    files = {"workspace.toml": WORKSPACE, "cream.toml": cream, "ingredients/gum.toml": GUM}
    if swollen is not None:
        files |= {"ingredients/gum.toml": SOLUTION, "swollen.toml": swollen}
    with Snapshot(Files(files)) as snapshot:
        recipe = snapshot.recipe("cream")
        assert recipe is not None
        return content_hash(recipe, snapshot.formula(recipe).premixes)


def test_layout_and_spelling_are_no_meaning() -> None:
    same = CREAM.replace("0.30", "0.3").replace('"8 min"', '"480 s"').replace("[spec]", "# a word\n\n[spec]")
    assert DIGITS == len(hashed(CREAM))
    assert hashed(CREAM) == hashed(same)


def test_the_order_of_charges_is_no_meaning_that_of_steps_is() -> None:
    swapped = CREAM.replace('water = "to 100"\ngum = 0.30', 'gum = 0.30\nwater = "to 100"')
    assert hashed(CREAM) == hashed(swapped)
    two = CREAM.replace("[spec]", '[[step]]\nid = "rest"\nrest = "1 h"\n[spec]')
    first = CREAM.replace("[[step]]", '[[step]]\nid = "rest"\nrest = "1 h"\n[[step]]')
    assert hashed(two) != hashed(first)


def test_every_part_counts() -> None:
    edits = {"0.30": "0.31", "8 min": "9 min", "5.4": "5.5", "hand cream": "cream", 'title = "Cream"': 'title = "C"'}
    others = [hashed(CREAM.replace(old, new)) for old, new in edits.items()]
    assert len({hashed(CREAM), *others}) == 1 + len(edits)


def test_an_accepted_finding_does_not_count() -> None:
    accepted = CREAM + '[[accept]]\nrule = "allergen-margin"\nwhy = "known"\n'
    assert hashed(CREAM) == hashed(accepted)


def test_the_inside_of_a_premix_counts() -> None:
    assert hashed(CREAM, SWOLLEN) != hashed(CREAM, SWOLLEN.replace("1.0", "1.1"))
    assert hashed(CREAM, SWOLLEN) == hashed(CREAM, SWOLLEN.replace("1.0", "1.00"))


def test_a_value_that_is_refused_still_counts() -> None:
    assert hashed(CREAM.replace("0.30", "nan")) != hashed(CREAM.replace("0.30", "-1"))
