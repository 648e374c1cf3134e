"""By which words a change can be meant."""

from __future__ import annotations

import pytest

from formula_vcs.commands.change_args import handles, named, parted, said
from formula_vcs.diff.change import Change, Put
from formula_vcs.errors import UserError
from formula_vcs.review.subset import Pick


def pick(recipe: str, kind: str, where: str) -> Pick:
    change = Change(kind, where, None, None, where)
    owner = where.split("/")[1] if where.startswith("ingredient/") else recipe
    return Pick(recipe, change, {f"{owner}.toml": (Put("", (kind, *where.split("/")), 1),)})


GLYCERIN = pick("cream", "amount", "phase/A/charge/glycerin")
MOVED = pick("cream", "moved", "phase/A/charge/glycerin")
IN_B = pick("cream", "amount", "phase/B/charge/oil")
IN_C = pick("cream", "amount", "phase/C/charge/oil")
TIME = pick("cream", "step-changed", "step/wet-gum/time")
SPEED = pick("cream", "step-changed", "step/wet-gum/speed")
PH = pick("cream", "spec", "spec/pH")
CLAIM = pick("cream", "claim", "claim/natural-origin at least 95 %")
PRICE = pick("cream", "price", "ingredient/oil/price")
SAME_PRICE = pick("balm", "price", "ingredient/oil/price")
BALM = pick("balm", "amount", "phase/A/charge/wax")
BESIDE = pick("", "other", "lot/oil-12/status")
ALL = [GLYCERIN, MOVED, IN_B, IN_C, TIME, SPEED, PH, CLAIM, PRICE, SAME_PRICE, BALM, BESIDE]


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        ("amount:phase/A/charge/glycerin", [GLYCERIN]),
        ("amount:glycerin", [GLYCERIN]),
        ("moved:A/glycerin", [MOVED]),
        ("cream:moved:glycerin", [MOVED]),
        ("B/oil", [IN_B]),
        ("charge/wax", [BALM]),
        ("wax", [BALM]),
        ("wet-gum/time", [TIME]),
        ("step/wet-gum/speed", [SPEED]),
        ("speed", [SPEED]),
        ("pH", [PH]),
        ("ph", [PH]),
        ("spec/pH", [PH]),
        ("claim", [CLAIM]),
        ("natural-origin at least 95 %", [CLAIM]),
        ("oil/price", [PRICE, SAME_PRICE]),
        ("cream:oil/price", [PRICE, SAME_PRICE]),
        ("balm", [SAME_PRICE, BALM]),
        ("oil-12/status", [BESIDE]),
    ],
)
def test_names(word: str, expected: list[Pick]) -> None:
    assert expected == named(ALL, word)


def test_a_swap_is_known_by_both_of_its_names() -> None:
    change = Change("grade-swap", "phase/A/charge/jojoba-organic", "jojoba-organic", "jojoba", "swap", ())
    swap = Pick("balm", change, {"balm.toml": (Put("", ("x",), 1),)})

    assert [swap] == named([*ALL, swap], "jojoba-organic") == named([*ALL, swap], "jojoba")


@pytest.mark.parametrize(
    ("word", "message"),
    [
        ("glycerin", "names 2 changes: 'amount:glycerin', 'moved:glycerin'"),
        ("oil", "names 2 changes: 'B/oil', 'C/oil'"),
        ("wet-gum", "names 2 changes: 'wet-gum/time', 'wet-gum/speed'"),
        ("glycerine", "no change here is called 'glycerine'; did you mean 'amount:glycerin'"),
        ("xyz", "there is 'amount:glycerin', "),
        ("x" * 5000, "no change here is called"),
        ("moved:wax", "no change here is called 'moved:wax'"),
        ("\x1b[31m", "no change here"),
        ("", "no change here is called ''"),
        ("/", "no change here"),
    ],
)
def test_names_that_fit_none_or_several(word: str, message: str) -> None:
    with pytest.raises(UserError) as raised:
        named(ALL, word)

    assert message in str(raised.value)
    assert 700 > len(str(raised.value))


def test_each_has_a_handle_that_names_it() -> None:
    for one in ALL:
        assert {one.keys} == {other.keys for other in named(ALL, handles([one], ALL)[0])}, handles([one], ALL)[0]


def test_only_and_without_part_the_same_changes() -> None:
    only = parted(ALL, ["oil/price", "pH"], [])
    without = parted(ALL, [], ["oil/price", "pH"])

    assert (PH, PRICE, SAME_PRICE) == only.taken
    assert (only.taken, only.left) == (without.left, without.taken)
    assert "if only 2 of 11 changes are taken: 'spec/pH', 'oil/price'" == said(only)
    assert "if 9 of 11 changes are taken, without 'spec/pH', 'oil/price'" == said(without)


def test_nothing_to_part() -> None:
    with pytest.raises(UserError, match="nothing differs"):
        parted([], ["x"], [])
