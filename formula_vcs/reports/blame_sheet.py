"""A recipe line by line with the commit that each line is owed to, laid out once for every format."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from formula_vcs.git.commit_log import Commit
from formula_vcs.history.balance_blame import BalanceBlame, balance_blame
from formula_vcs.history.blame import Blamed, blame, worded
from formula_vcs.history.blame_parts import GRADE, PLACE, Facet
from formula_vcs.history.version_of_recipe import Version
from formula_vcs.model.facts import Path, spelled
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import STEP_ORDER, Charge, Recipe
from formula_vcs.model.values import dataclass
from formula_vcs.words.imitation import titled

AMOUNT: Final = "amount"
PHASE: Final = "phase"
_GROUPS: Final = {
    "step": "Steps", "spec": "Spec", "claims": "Claims", "claim": "Claims", "markets": "Markets",
    "accept": "Accepted findings",
}  # fmt: skip
_ORDER: Final = ("header", "markets", "claims", "claim", "phase", "step", "spec", "accept")
_NAMES: Final = {PLACE: PHASE, GRADE: GRADE}
_SETS: Final = {"claims": "claim", "markets": "market"}
_CHARGE: Final = 4  # names in the path of a charge


@dataclass(frozen=True, slots=True)
class BlamePart:
    """One part of a line: what it is called, what it is, what it was before the commit, and the words of the change."""

    what: str
    where: str
    value: str | None
    old: str | None
    text: str
    version: Version


@dataclass(frozen=True, slots=True)
class BlameLine:
    """One line of a recipe: a charge, a step, an entry of the spec or the header.

    ``parts`` are in the order of the file; ``last`` changed last, ``first`` is the oldest.  ``value`` is empty for a
    step, a claim and a market: they have parts, or are there.
    """

    group: str
    kind: str
    where: str
    name: str
    value: str
    parts: tuple[BlamePart, ...]
    last: BlamePart
    first: BlamePart
    balance: BalanceBlame | None = None


@dataclass(frozen=True, slots=True)
class BlameSheet:
    """All lines of a recipe at a revision; ``commits`` are those that lines are owed to, the newest first."""

    recipe: Recipe
    revision: str
    commit: str | None
    file: str
    lines: tuple[BlameLine, ...]
    commits: tuple[Commit, ...]
    cut: bool


_Key = tuple[str, Path]  # the group of a line, and the path that its facts begin with
_Age = Callable[[Version], int]


def blame_sheet(
    tip: Version, formula: Formula, order: Mapping[str, int], *, revision: str, commit: str | None, file: str
) -> BlameSheet:
    """Work out every line of a recipe; ``order`` numbers the commits of its history, the oldest first."""
    recipe = formula.recipe
    found: dict[_Key, list[BlamePart]] = {}
    for facet, owed in blame(tip).items():
        found.setdefault(_line_of(facet.path), []).append(_part(facet, owed))

    def age(version: Version) -> int:
        return order.get(version.commit.oid, len(order))

    positions, charges = _positions(recipe), {charge.path: charge for charge in recipe.charges}
    ranked = sorted(found.items(), key=lambda item: _rank(recipe, item[0], positions))
    lines = tuple(_line(key, parts, tip, recipe, charges.get(key[1]), age) for key, parts in ranked)
    newest = sorted(_versions(lines), key=age, reverse=True)
    cut = any(version.status == "cut" for version in newest)
    return BlameSheet(recipe, revision, commit, file, lines, tuple(version.commit for version in newest), cut)


def _versions(lines: tuple[BlameLine, ...]) -> list[Version]:
    owed = [part.version for line in lines for part in line.parts]
    for line in lines:
        if line.balance is not None:
            owed += [line.balance.version, *(mover.version for mover in line.balance.movers)]
    return list({version.commit.oid: version for version in owed}.values())


def _line_of(path: Path) -> _Key:
    if path[0] == "phase":
        return "phase", path[:_CHARGE]
    if path[0] == "step" and len(path) > 1:
        return "step", path[:2]
    # all of "step" is one fact where it cannot be read
    return (path[0], path) if path[0] in _GROUPS and path[0] != "step" else ("header", path)


def _rank(recipe: Recipe, key: _Key, positions: Mapping[Path, int]) -> tuple[int, int]:
    group, path = key
    if group == "step":
        order = recipe.facts.get(STEP_ORDER, ())
        return _ORDER.index(group), order.index(path[1]) if path[1] in order else len(order)
    if group == "phase":  # a phase holds together, whatever order its facts came in
        first = list(recipe.phases).index(path[1]) if path[1] in recipe.phases else 0
        return _ORDER.index(group), first * len(recipe.facts) + positions.get(path, len(recipe.facts))
    return _ORDER.index(group), positions.get(path, len(recipe.facts))


def _positions(recipe: Recipe) -> dict[Path, int]:
    """Number all that paths of facts begin with, by the first fact that does."""
    found: dict[Path, int] = {}
    for number, path in enumerate(recipe.facts):
        for length in range(len(path) + 1):
            found.setdefault(path[:length], number)
    return found


def _titled(recipe: Recipe, group: str, path: Path) -> str:
    if group == "phase":
        title = recipe.phases.get(path[1], "")
        return f"Phase {path[1]}, {titled(title)}" if title else f"Phase {path[1]}"
    return _GROUPS.get(group, "Header")


def _part(facet: Facet, owed: Blamed) -> BlamePart:
    path = facet.path
    if facet.what:
        name = "order" if path[0] == "step" else _NAMES[facet.what]
    elif path[0] == "phase" and len(path) == _CHARGE:
        name = AMOUNT
    else:
        name = path[-1].replace("_", " ")
    where = spelled(path) + (f"/{name}" if facet.what else "")
    return BlamePart(name, where, owed.new, owed.old, owed.text, owed.version)


def _line(  # noqa: PLR0917 - what a line is made of
    key: _Key, parts: list[BlamePart], tip: Version, recipe: Recipe, charge: Charge | None, age: _Age
) -> BlameLine:
    group, path = key
    titled = _titled(recipe, group, path)
    # what a charge carries besides (a note, how much more it may be) is no amount, place or grade
    counting = [part for part in parts if charge is None or part.what in (AMOUNT, PHASE, GRADE)] or parts
    last = max(counting, key=lambda part: age(part.version))
    first = min(parts, key=lambda part: age(part.version))
    if charge is not None:
        owed = balance_blame(tip, charge) if charge.balance else None
        amount = "no amount" if charge.amount is None else worded(charge.amount)
        return BlameLine(titled, "charge", spelled(path), charge.ingredient, amount, tuple(parts), last, first, owed)
    if group == "step":
        return BlameLine(titled, "step", spelled(path), path[1], "", tuple(parts), last, first)
    value = "" if group in _SETS else parts[0].value or ""
    name = path[1] if group in _SETS else _label(group, path)
    return BlameLine(titled, _SETS.get(group, group), spelled(path), name, value, tuple(parts), last, first)


def _label(group: str, path: Path) -> str:
    if group == "phase":
        return " ".join(path[2:])
    shown = path[1:] if group in _GROUPS else path
    return " ".join(name for name in shown if name).replace("_", " ")
