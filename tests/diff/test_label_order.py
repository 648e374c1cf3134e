"""What moved in the ingredient list, and which changes did it."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

from formula_vcs.diff.label_order import LabelMove
from formula_vcs.figures.figure import Terms
from formula_vcs.reports import label_words
from formula_vcs.review.compare import Review, compare
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
DAY = datetime.date(2026, 6, 1)
OTHERS = {
    f"ingredients/{name}.toml": f'title = "{name}"\n[substances]\n"{inci}" = 100\n'
    for name, inci in {"betaine": "Betaine", "oil": "Oil", "salt": "Salt", "sugar": "Sugar"}.items()
}
CHARGES = {"glycerin": "5.00", "oil": "4.00", "betaine": "3.00", "salt": "0.50", "sugar": "0.40"}


def cream(more: str = "", **charges: str | None) -> str:
    there = {name: amount for name, amount in {**CHARGES, **charges}.items() if amount is not None}
    lines = "\n".join(f"{name} = {amount}" for name, amount in there.items())
    return f'title = "Cream"\n{more}\n[phase.A.charge]\nwater = "to 100"\n{lines}\n'


def moved(workspace: MakeWorkspace, new: str, old: str = "") -> Review:
    before, after = (workspace({**OTHERS, "cream.toml": text}) for text in (old or cream(), new))
    (review,) = compare(before, after, Terms(DAY)).reviews
    return review


def said(moves: tuple[LabelMove, ...]) -> list[tuple[str, int | None, int | None, tuple[str, ...]]]:
    return [(move.name, move.before, move.after, move.causes or ()) for move in moves]


def test_the_name_whose_amount_moved_is_the_one_that_passes(workspace: MakeWorkspace) -> None:
    """Glycerin falls behind two others, which only make room."""
    review = moved(workspace, cream(glycerin="2.00", sugar="0.41"))

    assert [("Glycerin", 2, 4, ("amount:phase/A/charge/glycerin",))] == said(review.label)
    (move,) = review.label
    assert {"amount:phase/A/charge/glycerin": Fraction(2)} == {s.change: s.value for s in move.shares}
    assert not move.only_free


def test_two_changes_that_move_a_name_only_together(workspace: MakeWorkspace) -> None:
    """Betaine has to rise and oil has to fall before they pass each other; each brought half of the way."""
    review = moved(workspace, cream(betaine="3.60", oil="3.50"))

    pair = ("amount:phase/A/charge/oil", "amount:phase/A/charge/betaine")
    (move,) = review.label
    assert pair == move.causes
    assert [Fraction(-1, 2)] * 2 == [abs(share.value) * -1 for share in move.shares]
    assert (move.after or 0) - (move.before or 0) == sum(share.value for share in move.shares)


def test_a_name_comes_and_another_goes(workspace: MakeWorkspace) -> None:
    review = moved(workspace, cream(oil=None), cream(betaine=None))

    assert [
        ("Betaine", None, 3, ("added:phase/A/charge/betaine",)),
        ("Oil", 3, None, ("removed:phase/A/charge/oil",)),
    ] == said(review.label)
    assert [
        ("Betaine comes in, 3rd", ["because betaine (A): added, 3.00 %"]),
        ("Oil goes, was 3rd", ["because oil (A): removed, was 4.00 %"]),
    ] == label_words.lines(review)


def test_below_one_percent_any_order_will_do(workspace: MakeWorkspace) -> None:
    """Regulation (EC) No 1223/2009, Article 19(1)(g): the label that is printed stays right."""
    review = moved(workspace, cream(salt="0.30"))

    assert [True] == [move.only_free for move in review.label]
    assert [("1 name below 1 % moves, where any order will do", [])] == label_words.lines(review)


def test_a_name_that_crosses_the_line_moves_even_at_its_place(workspace: MakeWorkspace) -> None:
    review = moved(workspace, cream(salt="1.20"))

    assert [("Sodium Chloride", 5, 5, ("amount:phase/A/charge/salt",))] == said(review.label)
    assert "Sodium Chloride: 5th \u2192 5th, now above the line at 1 %" == label_words.lines(review)[0][0]


def test_a_name_that_crosses_the_line_and_moves_says_both(workspace: MakeWorkspace) -> None:
    """Below the line its place binds nobody: who reads only '2nd to 5th' would print a new label for nothing."""
    review = moved(workspace, cream(glycerin="0.05"))
    (move,) = (move for move in review.label if move.name == "Glycerin")

    assert move.crossed
    assert "free" == move.part
    (words, *_) = (words for words, _ in label_words.lines(review) if words.startswith("Glycerin"))
    assert words.endswith(", now below the line at 1 %")


def test_a_move_that_a_material_brings_under_an_untouched_recipe(workspace: MakeWorkspace) -> None:
    old = {**OTHERS, "cream.toml": cream()}
    new = {**old, "ingredients/betaine.toml": 'title = "betaine"\n[substances]\n"Betaine" = 20\n"Glycerin" = 80\n'}
    (review,) = compare(workspace(old), workspace(new), Terms(DAY)).reviews

    assert [("Betaine", 4, 4, ("ingredient:ingredient/betaine/substances/Betaine",))] == said(review.label)
    assert "now below the line at 1 %" in label_words.lines(review)[0][0]


def test_nothing_moves_where_only_amounts_do(workspace: MakeWorkspace) -> None:
    assert () == moved(workspace, cream(glycerin="5.10")).label


def test_a_premix_has_no_label(workspace: MakeWorkspace) -> None:
    premix = 'product = "premix"'

    assert () == moved(workspace, cream(premix, glycerin="2.00"), cream(premix)).label


def test_ordinals() -> None:
    expected = ["1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "112th", "122nd"]

    assert expected == [label_words.ordinal(n) for n in (1, 2, 3, 4, 11, 12, 13, 21, 112, 122)]
