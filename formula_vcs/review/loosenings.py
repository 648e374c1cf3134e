"""What in a change makes the judgement milder or blinder, and what only passes because of it.

A diff is a patch, so the old version's eyes are had by making every change but the loosening ones: the rest of the
change is then judged under the markets, limits, acceptances and rules that the old version had.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from formula_vcs.diff.apply import apply
from formula_vcs.diff.change import GONE, RECIPE, Change, Put
from formula_vcs.diff.change_words import from_to
from formula_vcs.diff.counterfactuals import all_findings
from formula_vcs.law.compliance import markets
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.model.finding import SEVERITIES, Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import SHEAR_MODES
from formula_vcs.model.values import dataclass
from formula_vcs.rules.registry import RULES
from formula_vcs.toml.takers import shown
from formula_vcs.words.quoting import quoted

_MOST_TRIED: Final = 12  # changes of which each is judged by itself, whether it hides something
_MOST_HIDDEN: Final = 20
_MOST_NAMED: Final = 3
_SWAPPED: Final = "swap"  # of two grades: what it hides is hidden by what a material is


@dataclass(frozen=True, slots=True)
class Loosening:
    """One thing that is milder or blinder than it was.

    ``kind`` is that of a rule ``guard-KIND``.  ``hides`` are the findings that the rest of the change has under what
    the old version asked for, and has not any more.  ``change`` is the id of the change, empty where it is none of a
    recipe's.  ``recipes`` are those that it is under.
    """

    kind: str
    words: str
    file: str
    at: Path = ()
    change: str = ""
    recipes: tuple[str, ...] = ()
    hides: tuple[Finding, ...] = ()

    def finding(self, severity: str = "warn") -> Finding:
        """Give it as a finding of the review."""
        rule = RULES[f"guard-{self.kind}"]
        message = self.words
        if self.hides:
            first = self.hides[0]
            more = f"; and {len(self.hides) - 1} more" if len(self.hides) > 1 else ""
            message += f"; without it: {first.severity} [{first.rule}] {first.message}{more}"
        recipe = self.recipes[0] if len(self.recipes) == 1 else None
        return Finding(
            rule.id, "block" if severity == "block" else "warn", message, self.file, at=self.at, recipe=recipe,
            source=rule.source, subject=self.change or self.words,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Step:
    """One fact that a change sets: whose, where, and both values."""

    owner: str
    path: Path
    old: Any
    new: Any
    before: Facts
    after: Facts

    @property
    def row_was_there(self) -> bool:
        """Say whether the row of a house pack stood there before."""
        return any(path[:4] == self.path[:4] for path in self.before)


def loosenings(past: Formula, present: Formula, changes: Sequence[Change], day: datetime.date) -> tuple[Loosening, ...]:
    """Give what loosens one recipe, each with what it hides.

    What a product is and what a material is made of may change for good reasons: such a change is named only where it
    hides a finding, or where the product becomes a premix.
    """
    certain = [(change, kind, words) for change in changes for kind, words in _certain(change, past, present)]
    possible: dict[tuple[str, str], list[Change]] = {}
    for change in changes:
        kind = _possible(change)
        if kind:
            possible.setdefault((kind, next(edit.owner for edit in change.edits)), []).append(change)
    if not certain and not possible:
        return ()
    now = _worst(all_findings(present, day))
    taken = {change.id for change, _, _ in certain}
    once = {(kind, words): change for change, kind, words in reversed(certain)}
    found = [
        Loosening(kind, words, _file(change, present), _at(change), change.id, (present.recipe.id,))
        for change, kind, words in certain
        if once[kind, words] is change
    ]
    hidden = _hidden(past, changes, taken, now, day) if certain else ()
    if hidden:
        found[0] = _with(found[0], hidden) if len(found) == 1 else found[0]
        if len(found) > 1:
            found = [_with(one, _hidden(past, changes, {one.change}, now, day)) for one in found[:_MOST_TRIED]] + found[
                _MOST_TRIED:
            ]
            if not any(one.hides for one in found):  # only together
                found[0] = _with(found[0], hidden)
    for (kind, _), group in list(possible.items())[:_MOST_TRIED]:
        # all that one file tells otherwise together: half of a composition would add up to nothing
        told = [change for change in group if change.id not in taken]
        # a swap that mends what was wrong before has hidden nothing
        fresh = kind == _SWAPPED
        hides = _hidden(past, changes, {change.id for change in told}, now, day, fresh=fresh) if told else ()
        if hides:
            first, words = told[0], "; ".join(change.text for change in told[:_MOST_NAMED])
            one = Loosening(
                "material" if fresh else kind, words, _file(first, present), _at(first), first.id, (present.recipe.id,)
            )
            found.append(_with(one, hides))
    return tuple(found)


def hidden_rank(one: Loosening) -> int:
    """Rank a loosening by the worst that it hides: a block first, last what hides nothing."""
    return min((SEVERITIES.index(finding.severity) for finding in one.hides), default=len(SEVERITIES))


def _with(one: Loosening, hides: Sequence[Finding]) -> Loosening:
    return Loosening(one.kind, one.words, one.file, one.at, one.change, one.recipes, tuple(hides))


def _hidden(
    past: Formula,
    changes: Sequence[Change],
    loose: set[str],
    now: dict[str, int],
    day: datetime.date,
    *,
    fresh: bool = False,
) -> tuple[Finding, ...]:
    """Judge all changes but some under what the old version asked for; give what the new version has not.

    ``fresh`` leaves out what the old version had already.
    """
    kept = [change for change in changes if not change.derived and change.id not in loose]
    seen = all_findings(apply(past, kept), day)
    never = len(SEVERITIES)
    found = {
        finding.fingerprint: finding
        for finding in seen
        if finding.severity != "note" and SEVERITIES.index(finding.severity) < now.get(finding.fingerprint, never)
    }
    before = _worst(all_findings(past, day)) if found else {}
    brought = [one for key, one in found.items() if before.get(key, never) > SEVERITIES.index(one.severity)]
    ranked = sorted(brought if brought or fresh else found.values(), key=lambda one: SEVERITIES.index(one.severity))
    return tuple(ranked[:_MOST_HIDDEN])


def _worst(findings: Iterable[Finding]) -> dict[str, int]:
    found: dict[str, int] = {}
    for finding in findings:
        rank = SEVERITIES.index(finding.severity)
        found[finding.fingerprint] = min(rank, found.get(finding.fingerprint, rank))
    return found


def _file(change: Change, present: Formula) -> str:
    owner = next((edit.owner for edit in change.edits), RECIPE)
    kind, _, name = owner.partition(":")
    if kind == "ingredient" and name in present.ingredients:
        return present.ingredients[name].file
    if kind == "premix" and name in present.premixes:
        return present.premixes[name].file
    if kind == "workspace":
        first = next((edit.path for edit in change.edits if isinstance(edit, Put)), ())
        return f"rules/{first[1]}.toml" if first[:1] == ("rules",) and len(first) > 1 else "workspace.toml"
    return present.recipe.file


def _at(change: Change) -> Path:
    found = next((edit.path for edit in change.edits if isinstance(edit, Put)), ())
    return found[2:] if found[:1] == ("rules",) else found


def _facts_of(formula: Formula, owner: str) -> Facts:
    kind, _, name = owner.partition(":")
    if kind == "ingredient":
        return formula.ingredients[name].facts if name in formula.ingredients else {}
    if kind == "premix":
        return formula.premixes[name].facts if name in formula.premixes else {}
    if kind in ("equipment", "packaging"):
        things = formula.equipment if kind == "equipment" else formula.packaging
        return things[name].facts if name in things else {}
    return formula.workspace.facts if kind == "workspace" else formula.recipe.facts


def _steps(change: Change, past: Formula, present: Formula) -> Iterator[_Step]:
    for edit in change.edits:
        if isinstance(edit, Put):
            before, after = _facts_of(past, edit.owner), _facts_of(present, edit.owner)
            owner = edit.owner.partition(":")[0]
            yield _Step(owner, edit.path, before.get(edit.path, GONE), edit.value, before, after)


def _certain(change: Change, past: Formula, present: Formula) -> Iterator[tuple[str, str]]:
    """Give kind and words of what a change loosens for certain."""
    if change.derived:
        return
    gone = change.kind in ("removed", "joined")  # a bound goes with its charge
    for step in _steps(change, past, present):
        if gone and step.path[:1] == ("phase",):
            continue
        left = _left_markets(step, past, present)
        if left:
            yield "market", left
            continue
        for owners, matches, kind, judge in _TABLE:
            if step.owner in owners and matches(step.path):
                words = judge(step)
                if words:
                    yield kind, f"{_named(change, step)}{words}"
                break


def _left_markets(step: _Step, past: Formula, present: Formula) -> str:
    """Say which markets of the workspace a recipe leaves that now names its own: the same of each that it names."""
    own = step.owner == RECIPE and step.path[:1] == ("markets",)
    if not own or any(path[:1] == ("markets",) for path in step.before):
        return ""
    now = markets(present)
    left = [market for market in markets(past) if market not in now]
    return f"markets: {', '.join(left)} left, which the workspace names" if left else ""


def _named(change: Change, step: _Step) -> str:
    whose = change.where.split("/")
    lead = f"{whose[0]} {quoted(whose[1])}: " if step.owner in ("ingredient", "premix") and len(whose) > 1 else ""
    return f"{lead}{' '.join(step.path)}: "


def _possible(change: Change) -> str:
    """Give the kind of what a change may loosen: it does where it hides something."""
    if change.kind == "grade-swap":
        return _SWAPPED
    for edit in change.edits:
        if not isinstance(edit, Put):
            continue
        owner, first = edit.owner.partition(":")[0], edit.path[0]
        if owner == RECIPE and first in _WHAT_IT_IS:
            return "product"
        if owner == "ingredient" and first in _WHAT_IT_IS_MADE_OF:
            return "material"
        if owner == "workspace" and first == "rules":
            return "rule"
        if owner == "equipment":
            return "handling"
    return ""


# Judges of one fact: the words of a loosening, empty where it is none.


def _taken(step: _Step) -> str:
    """Say that something that stood is gone."""
    return "taken away" if step.new is GONE and step.old is not GONE else ""


def _struck(step: _Step) -> str:
    """Say that a member of a set is gone."""
    return "struck out" if step.old is True and step.new is not True else ""


def _promise(step: _Step) -> str:
    """Say that a claim in own words is gone, or needs another proof."""
    return "struck out" if step.new is GONE and step.old is not GONE else _any(step)


def _any(step: _Step) -> str:
    """Say any change of something that was there."""
    return "" if step.old is GONE else from_to(_plain(step.old), _plain(step.new))


def _wider(step: _Step) -> str:
    if step.old is GONE:
        return ""
    if step.new is GONE:
        return f"{step.old} taken away"
    old, new = step.old, step.new
    if isinstance(old, Range) and isinstance(new, Range):
        lower = _beyond(old.low, new.low, lambda was, now: now < was)
        higher = _beyond(old.high, new.high, lambda was, now: now > was)
        return f"widened from {old} to {new}" if lower or higher else ""
    return "" if old == new else f"changed from {old} to {new}"


def _beyond(old: Quantity | None, new: Quantity | None, looser: Callable[[Fraction, Fraction], bool]) -> bool:
    """Say whether an end of a range lies further out, or measures something else."""
    if old is None:
        return False
    return new is None or not old.comparable(new) or looser(old.base, new.base)


def _raised(step: _Step) -> str:
    return _bound(step, lambda old, new: new > old)


def _lowered(step: _Step) -> str:
    return _bound(step, lambda old, new: new < old)


def _bound(step: _Step, looser: Callable[[Any, Any], bool]) -> str:
    if step.old is GONE:
        return ""
    if step.new is GONE:
        return f"{_plain(step.old)} taken away"
    old, new = _size(step.old), _size(step.new)
    if old is None or new is None:
        return "" if step.old == step.new else f"changed from {_plain(step.old)} to {_plain(step.new)}"
    return f"loosened from {_plain(step.old)} to {_plain(step.new)}" if looser(old, new) else ""


def _size(value: Any) -> Any:  # noqa: ANN401 - a fact is anything
    if isinstance(value, Quantity):
        return value.base
    if isinstance(value, str) and value in SHEAR_MODES:
        return SHEAR_MODES.index(value)
    if isinstance(value, str) and value in SEVERITIES:
        return -SEVERITIES.index(value)
    return value if isinstance(value, Decimal | int) and not isinstance(value, bool) else None


def _product(step: _Step) -> str:
    return f"{_plain(step.old)} becomes a premix, which no limit, label or claim is for" if step.new == "premix" else ""


def _accepted(step: _Step) -> str:
    if step.new is GONE or step.new == step.old:
        return ""
    return f"accepted: {getattr(step.new, 'why', '') or 'no reason given'}"


def _plain(value: Any) -> Any:  # noqa: ANN401 - a fact is anything
    if isinstance(value, Unread):
        return shown(value.raw)
    return None if value is GONE else value if isinstance(value, str | bool) else str(value)


# what narrows a row of the house where it comes to one that was there
_NARROWING: Final = frozenset({"where", "unless", "unless_function", "function", "above", "placed", "sold", "per"})


def _rule(step: _Step) -> str:
    """Say how a row of the house is milder: tighter is a higher floor, a lower ceiling, another substance."""
    key = step.path[4] if len(step.path) > 4 else ""
    if step.path[2:3] == ("pair",):
        return _pair(step, key)
    if step.path[2:3] in (("duty",), ("kind",)):
        return _asked(step, key)
    if key in ("because", "note", "source", "checked", "words", "print"):
        return ""
    if step.old is GONE:
        milder = key in _NARROWING or (key == "severity" and step.new != "block")
        return f"{_plain(step.new)} added" if milder and step.row_was_there else ""
    if key == "at_most":
        return _raised(step)
    if key == "severity":
        return _lowered(step)
    if key in ("substances", "cas", "like", "with", "group"):
        return _struck(step) if isinstance(step.old, bool) else "" if step.new == step.old else _any(step)
    return _any(step)


def _pair(step: _Step, key: str) -> str:
    """Say how a pair of the house is milder: switched off, gone, softer, or on a condition that it did not have.

    Another reason for what is switched off already switches nothing off.
    """
    if key == "off":
        return "switched off" if step.old is GONE else ""
    if key in ("what", "instead", "source", "checked", "note"):
        return ""
    if step.old is GONE:
        return "" if key == "severity" or not step.row_was_there else f"{key} added"
    if step.new is GONE:
        return "" if key in _PAIR_CONDITIONS else _taken(step)
    return _lowered(step) if key == "severity" else _any(step)


def _asked(step: _Step, key: str) -> str:
    """Say how a row of the house's table of duties asks for less: a higher floor, fewer kinds or functions."""
    if key in ("source", "note", "checked", "owner") or (step.path[2] == "kind" and key in ("repeat", "decide")):
        return _taken(step) if key == "source" and step.path[2] == "kind" else ""
    if key == "above":
        if step.old is GONE:
            return f"{step.new} added" if step.row_was_there else ""
        return "" if step.new is GONE else _raised(step)
    if key == "of":
        was, now = (any(path[:5] == step.path[:5] for path in side) for side in (step.before, step.after))
        if step.new is GONE:
            return _struck(step) if now else ""  # a row that names no function is about every one
        return "narrowed to some functions" if step.row_was_there and not was else ""
    if key in ("repeat", "decide") and isinstance(step.old, tuple):
        gone = [kind for kind in step.old if kind not in (step.new if isinstance(step.new, tuple) else ())]
        return f"{', '.join(gone)} taken away" if gone else ""
    return _any(step) if step.old is not GONE and step.new is not GONE else ""


# what makes a pair of fewer products where it stands there
_PAIR_CONDITIONS: Final = frozenset(
    {"together", "emulsion", "pH", "first", "hot", "rough", "without", "where", "unless"}
)
_WHAT_IT_IS: Final = frozenset(
    {"product", "for", "spray", "hydroalcoholic", "area", "form", "emulsion", "amounts", "total"}
)
_WHAT_IT_IS_MADE_OF: Final = frozenset(
    {"substances", "allergens", "functions", "class", "acid", "alkali", "polymer", "max_use"}
)
_WORDS: Final = (("handling", "note"), ("handling", "because"))


def _first(*names: str) -> Callable[[Path], bool]:
    return lambda path: path[0] in names


def _last(*names: str) -> Callable[[Path], bool]:
    return lambda path: path[-1] in names


_MADE: Final = (RECIPE, "premix")
_Row = tuple[tuple[str, ...], Callable[[Path], bool], str, Callable[[_Step], str]]
_TABLE: Final[tuple[_Row, ...]] = (
    ((RECIPE,), _first("product"), "product", _product),
    (_MADE, _first("accept"), "accept", _accepted),
    (_MADE, _first("markets", "packs"), "market", _struck),
    (_MADE, _first("claims"), "claim", _struck),
    (_MADE, _first("claim"), "claim", _promise),
    (_MADE, _first("spec"), "spec", _wider),
    (_MADE, lambda path: path[0] == "step" and path[-1] == "accept", "spec", _wider),
    (_MADE, _last("at_most"), "spec", _raised),
    (_MADE, _last("at_least"), "spec", _lowered),
    (_MADE, _last("tolerance", "second_check"), "tolerance", _any),
    (("ingredient",), lambda path: path[:2] in _WORDS, "handling", lambda _: ""),
    (("ingredient",), lambda path: path[:2] == ("handling", "shear_at_most"), "handling", _raised),
    (("ingredient",), lambda path: path[:2] == ("handling", "temp_at_most"), "handling", _raised),
    (("ingredient",), lambda path: path[:2] == ("handling", "add_below"), "handling", _raised),
    (("ingredient",), lambda path: path[:2] == ("handling", "shear_at_least"), "handling", _lowered),
    (("ingredient",), lambda path: path[:2] == ("handling", "temp_at_least"), "handling", _lowered),
    (("ingredient",), lambda path: path[:2] == ("handling", "rest"), "handling", _lowered),
    (("ingredient",), _first("handling"), "handling", _struck),
    (("ingredient",), lambda path: path[0] == "max_use" and path[-1] in ("source", "note"), "spec", lambda _: ""),
    (("ingredient",), _first("max_use"), "spec", _raised),
    (("ingredient",), _first("spec"), "spec", _wider),
    (("ingredient",), _first("certificate"), "evidence", _taken),
    (("workspace",), lambda path: path[0] == "rules" and len(path) > 3, "rule", _rule),
    (("workspace",), _first("markets", "packs"), "market", _struck),
    (("workspace",), _first("tolerance"), "tolerance", _any),
    (("workspace",), _first("reason", "minimum"), "house", _any),
)
