"""Two materials that were swapped for each other: what their files state differently, most important first."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.diff.change import Change
from formula_vcs.diff.change_words import plain
from formula_vcs.figures.cost import choose
from formula_vcs.law.limit_use import percent
from formula_vcs.law.max_use import stated_uses
from formula_vcs.model.facts import Path, Unread
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass
from formula_vcs.rules.process.handling_unstated import DEMANDS, asks_for
from formula_vcs.rules.registry import RULES
from formula_vcs.words.numbers import shown

NOT_STATED: Final = "not stated"
# What two files may state differently, most important first: a topic, and the first names of its facts.
_TOPICS: Final[tuple[tuple[str, tuple[str, ...]], ...]] = (
    ("handling", ("handling",)),
    ("composition", ("substances",)),
    ("made by", ("recipe",)),
    ("allergens", ("allergens",)),
    ("active", ("active",)),
    ("max use", ("max_use",)),
    ("spec", ("spec",)),
    ("origin", ("origin", "cosmos", "nop", "made", "concentrate")),
    ("source", ("source",)),
    ("certificates", ("certificate",)),
    ("hazards", ()),
    ("class", ("class",)),
    ("functions", ("functions",)),
    ("density", ("density",)),
    ("HLB", ("hlb", "required_hlb")),
    ("price", ("price",)),
    ("supplier", ("supplier",)),
    ("code", ("code",)),
)
TOPICS: Final = tuple(topic for topic, _ in _TOPICS)
_OF: Final = {first: topic for topic, firsts in _TOPICS for first in firsts}
_UNSAID: Final = frozenset({"note", "source", "because", "title"})  # words about a fact, and none of what a material is


@dataclass(frozen=True, slots=True)
class SwapDifference:
    """One thing that two files state differently: ``what`` within a topic of `TOPICS`, "not stated" where one does not.

    ``lost`` marks a demand on the process that the old file states and the new one leaves open.
    """

    topic: str
    what: str
    old: str
    new: str
    lost: bool = False


@dataclass(frozen=True, slots=True)
class Swap:
    """A change by which one material took the place of another, with all that their files state differently."""

    change: str
    old: str
    new: str
    differences: tuple[SwapDifference, ...]


def swaps(past: Formula, present: Formula, changes: Iterable[Change], day: datetime.date) -> tuple[Swap, ...]:
    """Give the swaps among the changes of a recipe and of its premixes, each with what the two files state."""
    found: list[Swap] = []
    for change in changes:
        pair = swapped(past, present, change)
        if pair is not None:
            found.append(Swap(change.id, pair[0].id, pair[1].id, differences(*pair, day)))
    return tuple(found)


def swapped(past: Formula, present: Formula, change: Change) -> tuple[Ingredient, Ingredient] | None:
    """Give the two materials of a swap; None for another change, and where one has no file that can be read.

    A file whose supplier changed is another material under the old name.
    """
    if change.kind == "ingredient" and change.where.endswith("/supplier"):
        name = change.where.split("/")[1]
        old, new = past.ingredients.get(name), present.ingredients.get(name)
        return (old, new) if old is not None and new is not None and old.readable and new.readable else None
    of_premix = change.kind == "premix" and change.where.endswith("/place") and change.old != change.new
    if change.kind != "grade-swap" and not of_premix:
        return None
    old, new = (
        None if name is None else side.ingredients.get(name)
        for side, name in ((past, change.old), (present, change.new))
    )
    return (old, new) if old is not None and new is not None and old.readable and new.readable else None


def differences(old: Ingredient, new: Ingredient, day: datetime.date) -> tuple[SwapDifference, ...]:
    """Give what two files state differently; the price is the one in force on a day."""
    found = [*_facts(old, new), *_prices(old, new, day)]
    return tuple(sorted(found, key=lambda one: (TOPICS.index(one.topic), not one.lost)))


def _facts(old: Ingredient, new: Ingredient) -> Iterator[SwapDifference]:
    seen: set[Path] = set()
    for path in dict.fromkeys((*old.facts, *new.facts)):
        topic = _topic(path)
        whole = path[: _DEPTHS.get(path[0], len(path))]
        if topic is None or whole in seen:
            continue
        seen.add(whole)
        was, now = (_said(material, whole) for material in (old, new))
        if was != now:
            lost = topic == "handling" and whole[1] in DEMANDS and now == NOT_STATED
            what = "" if topic in ("hazards", "certificates") else " ".join(whole[1:]).replace("_", " ")
            yield SwapDifference(topic, what, was, now, lost)


def _topic(path: Path) -> str | None:
    if path == ("source",):  # where the material comes from; below a table it is who says so
        return "source"
    if path[-1] in _UNSAID or path[0] == "price":
        return None
    if path[:2] == ("handling", "hazards"):
        return "hazards"
    if path[0] == "certificate":
        return "certificates" if path[-1] == "scheme" else None
    return _OF.get(path[0])


_SHARES: Final = frozenset({"substances", "allergens", "cosmos", "nop", "active", "max_use"})  # bare numbers here are %
# how much of a path names what is said as one: a list of functions, of names in [handling], of certificates
_DEPTHS: Final = {"functions": 1, "class": 1, "handling": 2, "certificate": 1}


def _said(material: Ingredient, path: Path) -> str:
    """Say what a material states at a path: one value, or the members of a list."""
    if path[0] == "certificate":
        names = [value for at, value in material.facts.items() if at[0] == "certificate" and at[-1] == "scheme"]
        return ", ".join(sorted(map(str, names))) or NOT_STATED
    value = material.facts.get(path)
    if value is None and path[0] in _DEPTHS:
        members = [at[-1] for at, one in material.facts.items() if at[: len(path)] == path and one is True]
        return ", ".join(members) or NOT_STATED
    if value is None or isinstance(value, Unread):
        return NOT_STATED
    return f"{_plain(value)} %" if isinstance(value, Decimal) and path[0] in _SHARES else _plain(value)


def _plain(value: object) -> str:
    return shown(value, 0, 4) if isinstance(value, Fraction) else plain(value)


def _prices(old: Ingredient, new: Ingredient, day: datetime.date) -> Iterator[SwapDifference]:
    was, now = (choose(material, day, None) for material in (old, new))
    before, after = (
        NOT_STATED if isinstance(one, str) else f"{shown(one.per_kg, 2, 4)} {one.currency}/kg" for one in (was, now)
    )
    if before != after:
        yield SwapDifference("price", "", before, after)


def lost_demands(
    past: Formula, present: Formula, changes: Sequence[Change], recipe: Recipe
) -> list[tuple[Finding, str]]:
    """Warn of each swap whose new material leaves open what the old one asked of the process, with the change's id.

    "'silica-abrasive' asks for medium shear at most; 'silica-cheap' states nothing."
    """
    found: list[tuple[Finding, str]] = []
    for change in changes:
        pair = swapped(past, present, change)
        if pair is None:
            continue
        old, new = pair
        lost = [asks_for(name, value) for name, value in old.care.items() if name in DEMANDS and name not in new.care]
        most = stated_uses(old)
        if most and not stated_uses(new):
            shares = ", ".join(f"{percent(share)} for {name}" for name, share in most.items())
            lost.append(f"at most {shares}")
        if lost:
            stated = DEMANDS.keys() & new.care.keys() or stated_uses(new)
            said = "does not state it" if stated else "states nothing"
            why = f" ({old.care['because']})" if "because" in old.care else ""
            words = f"{_called(old, new)} asks for {' and '.join(lost)}{why}; {_called(new, old)} {said}"
            rule = RULES["demand-lost"]
            finding = Finding(
                rule.id, rule.severity, words, recipe.file, at=_place(present, change, new.id), recipe=recipe.id,
                source=rule.source, subject=f"{old.id}/{new.id}",
            )  # fmt: skip
            found.append((finding, change.id))
    return found


def _called(material: Ingredient, other: Ingredient) -> str:
    """Name one of two materials, by its supplier where both have one name."""
    supplier = material.get("supplier") or "no supplier"
    return f"'{material.id}' of {supplier}" if material.id == other.id else f"'{material.id}'"


def _place(present: Formula, change: Change, material: str) -> Path:
    """Give the path of the charge that the swapped material came to, or of the premix that it is in."""
    own = [charge.path for charge in present.recipe.charges if charge.ingredient == material]
    if own:
        return own[0]
    premix = change.where.split("/")[1] if change.kind == "premix" else ""
    return next(
        (
            charge.path
            for charge in present.recipe.charges
            for inside in [present.premix_of(charge.ingredient)]
            if inside is not None and (inside.id == premix or premix in _names_inside(present, charge.ingredient))
        ),
        (),
    )


def _names_inside(formula: Formula, name: str) -> set[str]:
    """Name the premix recipes inside an ingredient, to any depth."""
    found: set[str] = set()
    waiting = [name]
    while waiting:
        inside = formula.premix_of(waiting.pop())
        if inside is not None and inside.id not in found:
            found.add(inside.id)
            waiting.extend(inside.uses)
    return found
