"""Which recipes of a survey are shown, in which order, in which groups."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from typing import Any, Final

from formula_vcs.errors import UserError
from formula_vcs.review.listed_files import ListedFile, wrong_word
from formula_vcs.survey.survey import SurveyedRecipe, worst_first

_FAR: Final = Fraction(10**9)


def _used(one: SurveyedRecipe) -> Fraction:
    return one.state.limit.used if one.state.limit is not None else Fraction(0)


def _margin(one: SurveyedRecipe) -> Fraction:
    return min((claim.margin for claim in one.state.claims if claim.margin is not None), default=_FAR)


_ORDERS: Final[dict[str, Callable[[SurveyedRecipe], Any]]] = {
    "worst": worst_first,
    "id": lambda one: one.id,
    "cost": lambda one: (-(one.state.cost if one.state.cost is not None else -_FAR), one.id),
    "change": lambda one: (-(one.dearer or Fraction(0)), one.id),
    "limit": lambda one: (-_used(one), one.id),
    "claims": lambda one: (_margin(one), one.id),
}
SORTS: Final = tuple(_ORDERS)
_GROUPS: Final[dict[str, Callable[[SurveyedRecipe], str]]] = {
    "product": lambda one: one.product or "no product",
    "market": lambda one: ", ".join(one.markets) or "no market",
    "status": lambda one: one.state.status,
}
GROUPS: Final = tuple(_GROUPS)


def chosen(found: Iterable[SurveyedRecipe], words: Sequence[str], order: str) -> list[SurveyedRecipe]:
    """Give the recipes that all words fit, in an order.

    :raises UserError: a word compares with what is no number.
    """
    for word in words:
        if wrong_word(word):
            raise UserError(wrong_word(word))
    fitting = [one for one in found if all(_searched(one).fits(word) for word in words)] if words else list(found)
    return sorted(fitting, key=_ORDERS[order])


def grouped(found: Sequence[SurveyedRecipe], by: str | None) -> tuple[tuple[str, tuple[SurveyedRecipe, ...]], ...]:
    """Give the recipes in groups, the group of the first one first; one nameless group where none are asked for."""
    if by is None:
        return (("", tuple(found)),)
    groups: dict[str, list[SurveyedRecipe]] = {}
    for one in found:
        groups.setdefault(_GROUPS[by](one), []).append(one)
    return tuple((name, tuple(same)) for name, same in groups.items())


def _searched(one: SurveyedRecipe) -> ListedFile:
    """Give what a recipe can be found by."""
    state = one.state
    said = [
        ("id", one.id), ("title", one.title), ("product", one.product), ("file", one.file), ("status", state.status),
        ("breaks", "yes" if one.breaks else "no"),
    ]  # fmt: skip
    said += [("market", market) for market in one.markets]
    said += [("claim", f"{claim.claim} {claim.verdict}") for claim in state.claims]
    said += [("rule", finding.rule) for finding in (*state.findings, *one.broken)]
    said += [("evidence", f"{what} {worth}") for what, worth in one.evidence]
    said += [("limit", state.limit.what)] if state.limit is not None else []
    numbers = [("blocks", Fraction(state.blocks)), ("warns", Fraction(state.warns))]
    numbers += [("cost", state.cost)] if state.cost is not None else []
    numbers += [("change", one.dearer)] if one.dearer is not None else []
    numbers += [("limit", state.limit.used * 100)] if state.limit is not None else []
    numbers += [("margin", claim.margin) for claim in state.claims if claim.margin is not None]
    return ListedFile("recipe", one.id, one.title, one.file, (), tuple(said), tuple(numbers))
