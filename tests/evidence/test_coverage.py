"""What a proof is worth, and which of several counts."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

import pytest

from formula_vcs.evidence.coverage import (
    COVERS,
    DECIDE,
    EXPIRED,
    REFUSED,
    REPEAT,
    UNKNOWN,
    Coverage,
    best,
    covered,
    crossed,
    ends_soon,
)
from formula_vcs.evidence.drift.drift import Drift
from formula_vcs.evidence.pinned_versions import Pinned
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.evidence import Proof
from tests.helpers_demo import Edit, demo

DAY = datetime.date(2026, 6, 22)
CREAM = demo("hand-cream")
HASH = content_hash(CREAM.recipe, CREAM.premixes)
PROOF = Proof("evidence/e.toml", 1, "hand-cream", "stability", "c" * 40, HASH, "ST-1", datetime.date(2026, 2, 12))
PIN = Pinned("found", "c" * 40, CREAM)


def worth(*edits: Edit, proof: Proof = PROOF, pin: Pinned = PIN) -> Coverage:
    """Say what a proof of the shipped hand cream is worth for it with edits."""
    return covered(proof, pin, demo("hand-cream", *edits), DAY)


def glycerin(amount: str) -> Edit:
    return ("hand-cream.toml", "glycerin          = 5.00", f"glycerin = {amount}")


@pytest.mark.parametrize(
    ("amount", "state"),
    [("5.00", COVERS), ("4.80", COVERS), ("4.74", DECIDE), ("4.50", DECIDE), ("4.49", REPEAT), ("6.00", REPEAT)],
)
def test_an_amount_against_the_scale(amount: str, state: str) -> None:
    """Glycerin also comes with no other material of the cream, so its relative change is that of the charge."""
    assert state == worth(glycerin(amount)).state


def test_why_it_does_not_cover() -> None:
    (crossing,) = worth(glycerin("4.40")).crossings

    assert "glycerin \u221212 % of its amount (beyond 10 %)" == crossing.text
    assert "amount-level-3" == crossing.line.id


def test_a_proof_of_a_kind_that_the_change_does_not_touch_covers() -> None:
    assert COVERS == worth(glycerin("4.80"), proof=replace(PROOF, kind="artwork")).state
    assert COVERS == worth(("hand-cream.toml", '"75 mL"', '"50 mL"'), proof=replace(PROOF, kind="challenge-test")).state
    assert REPEAT == worth(("hand-cream.toml", '"75 mL"', '"50 mL"'), proof=replace(PROOF, kind="artwork")).state


def test_the_pack_that_was_tested_counts_where_the_proof_states_it() -> None:
    from formula_vcs.units.unit_reading import read_quantity

    proof = replace(PROOF, kind="pack-compatibility", pack=read_quantity("50 mL", "volume"))

    assert DECIDE == worth(proof=proof).state
    assert COVERS == worth(("hand-cream.toml", '"75 mL"', '"50 mL"'), proof=proof).state


def test_a_certificate_is_asked_about_every_change_of_the_formula_and_about_no_price() -> None:
    proof = replace(PROOF, kind="certificate", scheme="cosmos-organic-4")

    assert REPEAT == worth(glycerin("4.99"), proof=proof).state
    assert COVERS == worth(("ingredients/shea-butter.toml", 'cost  = "', 'cost  = "1'), proof=proof).state
    assert REPEAT == worth(("ingredients/glycerin.toml", 'supplier  = "', 'supplier  = "New '), proof=proof).state


def test_what_cannot_count() -> None:
    assert (UNKNOWN, "shallow") == ((found := worth(pin=Pinned("shallow", "c" * 40))).state, found.why.split()[3])
    assert UNKNOWN == worth(pin=Pinned("no-git", "c" * 40)).state
    assert REFUSED == worth(pin=Pinned("unknown", "c" * 40)).state
    assert REFUSED == worth(pin=Pinned("no-recipe", "c" * 40)).state
    assert REFUSED == worth(proof=replace(PROOF, hash="0" * 64)).state
    broken = demo("hand-cream", ("hand-cream.toml", '"to 100"', "60.00"))
    proof = replace(PROOF, hash=content_hash(broken.recipe, broken.premixes))
    assert "its version did not pass its check" == worth(proof=proof, pin=Pinned("found", "c" * 40, broken)).why


def test_it_ends_after_its_last_day() -> None:
    assert EXPIRED == worth(proof=replace(PROOF, until=DAY - datetime.timedelta(days=1))).state
    last = worth(proof=replace(PROOF, until=DAY))
    assert COVERS == last.state
    assert ends_soon(last, DAY)
    assert not ends_soon(worth(proof=replace(PROOF, until=DAY + datetime.timedelta(days=91))), DAY)


def test_a_proof_for_good_has_no_end_that_could_be_counted_beyond() -> None:
    always = worth(proof=replace(PROOF, until=datetime.date.max))

    assert COVERS == always.state
    assert not ends_soon(always, DAY)
    assert ends_soon(always, datetime.date.max - datetime.timedelta(days=1))


def test_of_several_the_one_that_covers_most_counts_and_the_newest_of_equals() -> None:
    newer = replace(PROOF, report="ST-2", passed=datetime.date(2026, 5, 1))
    newest = replace(PROOF, report="ST-3", passed=datetime.date(2026, 6, 1))
    states = [Coverage(PROOF, COVERS), Coverage(newer, COVERS), Coverage(newest, REPEAT)]

    assert "ST-2" == best(states).proof.report
    assert "ST-3" == best([Coverage(PROOF, EXPIRED), states[2]]).proof.report
    # the newest has to be renewed; that an older one would not cover either is history
    assert "ST-3" == best([Coverage(PROOF, REPEAT), Coverage(newest, EXPIRED)]).proof.report
    assert "ST-1" == best([Coverage(PROOF, REPEAT), Coverage(newest, REFUSED)]).proof.report


def test_rows_of_a_function_are_for_materials_that_have_it() -> None:
    size = Fraction(1, 100)

    assert crossed(Drift("amount", "x", "", size), "challenge-test") is None
    found = crossed(Drift("amount", "x", "", size, functions=frozenset({"fragrance"})), "challenge-test")
    assert found is not None
    assert ("repeat", "fragrance") == (found[0], found[1].id)
