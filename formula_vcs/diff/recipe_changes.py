"""The changes inside one recipe: charges, steps, spec, header."""

from __future__ import annotations

import re
from typing import Any, Final

from formula_vcs.diff.apply import moved, renamed
from formula_vcs.diff.change import GONE, Change, Drop, Edit, Move, PlaceStep, Put
from formula_vcs.diff.change_words import ARROW, amount_change, from_to, number, plain
from formula_vcs.diff.match import Grade, Matching, match
from formula_vcs.diff.record_edits import describe
from formula_vcs.model.amount import Accepted
from formula_vcs.model.facts import Path, Unread, spelled
from formula_vcs.model.recipe import STEP_ORDER, Charge, Recipe

_SET_KIND: Final = {"markets": "header", "area": "header", "claims": "claim"}
_HEADER: Final = frozenset(
    {
        "title",
        "product",
        "form",
        "emulsion",
        "density",
        "for",
        "spray",
        "hydroalcoholic",
        "mixed",
        "pack",
        "packaging",
        "yield",
        "batch",
        "amounts",
        "total",
    }
)
_STEP_WORDS: Final = {
    "into": "vessel", "from": "takes from", "add": "adds", "temp": "temperature", "accept": "accepts",
    "adjust": "adjusts with", "measure": "measures",
}  # fmt: skip


class RecipeDiff:
    """Two versions of one recipe's facts, compared."""

    def __init__(self, old: Recipe, new: Recipe, owner: str, grades: tuple[Grade, Grade], inci: Grade) -> None:
        """Take the versions, the owner of the edits, what makes two ingredients one material, and its INCI name."""
        self.old = old
        self.new = new
        self.owner = owner
        self.grades = grades
        self.inci = inci
        self._differ = [
            path for path in dict.fromkeys((*old.facts, *new.facts))
            if old.facts.get(path, GONE) != new.facts.get(path, GONE)
        ]  # fmt: skip
        self._touched = {path[:4] if path[0] == "phase" else path[:2] for path in self._differ}  # charges, steps ...
        self._explained: set[Path] = set()
        self._renames: dict[str, str] = {}
        self._moves: list[tuple[Change, Path, Path]] = []

    def changes(self) -> list[Change]:
        """All changes: charges, then steps, then everything else by its fact."""
        matching = match(self.old.charges, self.new.charges, *self.grades)
        charges = self._charges(matching)
        steps = self._steps()
        rest = self._rest()
        return self._with_steps(charges) + steps + rest

    # charges

    def _charges(self, matching: Matching) -> list[Change]:
        changes: list[Change] = []
        for before, after in matching.same:
            changes += self._pair(before, after)
        for kind, groups in (("split", matching.split), ("joined", matching.joined)):
            for befores, afters in groups:
                changes.append(self._regrouped(kind, befores, afters))
        changes += [self._went(charge) for charge in matching.removed]
        changes += [self._came(charge) for charge in matching.added]
        return changes

    def _facts_of(self, recipe: Recipe, charge: Charge) -> dict[Path, Any]:
        found = {charge.path: recipe.facts[charge.path]} if charge.path in recipe.facts else {}
        found.update({(*charge.path, name): value for name, value in charge.more.items()})
        self._explained.update(found)
        return found

    def _pair(self, before: Charge, after: Charge) -> list[Change]:
        if before.path == after.path and before.path not in self._touched:
            return []
        old, new = self._facts_of(self.old, before), self._facts_of(self.new, after)
        changes: list[Change] = []
        place = f"{before.ingredient} ({before.phase})"
        if before.path != after.path:
            changes.append(self._relocation(before, after))
            place = f"{after.ingredient} ({after.phase})"
        depth = len(before.path)
        for tail in dict.fromkeys(path[depth:] for path in (*old, *new)):
            was, now = (facts.get((*charge.path, *tail), GONE) for facts, charge in ((old, before), (new, after)))
            if was != now:
                changes.append(self._charge_fact(before, tail, was, now, place))
        return changes

    def _charge_fact(self, before: Charge, tail: Path, was: Any, now: Any, place: str) -> Change:
        path = (*before.path, *tail)
        edits = (Put(self.owner, path, now),)
        old, new = (None if value is GONE else value for value in (was, now))
        if isinstance(old, Unread) or isinstance(new, Unread) or tail:
            kind = "amount" if tail in (("at_most",), ("at_least",)) else "other"
            name = f"{tail[0].replace('_', ' ')}: " if tail else ""
            return Change(kind, spelled(path), _text(old), _text(new), f"{place}: {name}{from_to(old, new)}", edits)
        return Change("amount", spelled(path), number(old), number(new), f"{place}: {amount_change(old, new)}", edits)

    def _relocation(self, before: Charge, after: Charge) -> Change:
        swap = before.ingredient != after.ingredient
        self._renames[before.key] = after.key
        amount = plain(before.amount) if before.amount is not None else "no amount"
        if swap:
            where = "" if before.phase == after.phase else f", moved from phase {before.phase} to {after.phase}"
            inci = self.inci(after.ingredient)
            grade = f"another grade of {inci}" if inci else "another grade"
            words = f"{before.ingredient} {ARROW} {after.ingredient} ({before.phase}): {grade}, {amount}{where}"
            change = Change("grade-swap", spelled(before.path), before.ingredient, after.ingredient, words)
        else:
            words = f"{before.ingredient}: moved from phase {before.phase} to {after.phase}, {amount}"
            change = Change("moved", spelled(before.path), before.phase, after.phase, words)
        self._moves.append((change, before.path, after.path))
        return change

    def _regrouped(self, kind: str, befores: list[Charge], afters: list[Charge]) -> Change:
        edits: list[Edit] = []
        old = {path: value for charge in befores for path, value in self._facts_of(self.old, charge).items()}
        new = {path: value for charge in afters for path, value in self._facts_of(self.new, charge).items()}
        edits += [Put(self.owner, path, GONE) for path in old if path not in new]
        edits += [Put(self.owner, path, value) for path, value in new.items() if old.get(path, GONE) != value]
        before, after = (", ".join(f"{plain(c.amount)} in {c.phase}" for c in side) for side in (befores, afters))
        words = f"{befores[0].ingredient}: {kind}, {before} {ARROW} {after}"
        where = spelled((befores if kind == "split" else afters)[0].path)
        return Change(kind, where, before, after, words, tuple(edits))

    def _went(self, charge: Charge) -> Change:
        edits = tuple(Put(self.owner, path, GONE) for path in self._facts_of(self.old, charge))
        words = f"{charge.ingredient} ({charge.phase}): removed, was {plain(charge.amount)}"
        return Change("removed", spelled(charge.path), number(charge.amount), None, words, edits)

    def _came(self, charge: Charge) -> Change:
        facts = self._facts_of(self.new, charge)
        edits = tuple(Put(self.owner, path, value) for path, value in facts.items())
        words = f"{charge.ingredient} ({charge.phase}): added, {plain(charge.amount)}"
        return Change("added", spelled(charge.path), None, number(charge.amount), words, edits)

    def _with_steps(self, changes: list[Change]) -> list[Change]:
        """Give relocations their edits, now that it is known which steps follow them."""
        places = {id(change): (old, new) for change, old, new in self._moves}
        done: list[Change] = []
        for change in changes:
            if id(change) in places:
                old, new = places[id(change)]
                names = f"{old[1]}/{old[3]}"
                steps = tuple(step for step, followed in self._followed.items() if names in followed)
                move = Move(self.owner, old, new, steps)
                done.append(Change(change.kind, change.where, change.old, change.new, change.text, (move,)))
            else:
                done.append(change)
        return done

    # steps

    def _steps(self) -> list[Change]:
        self._followed: dict[str, set[str]] = {}
        before, after = (list(recipe.facts.get(STEP_ORDER, ())) for recipe in (self.old, self.new))
        self._explained.add(STEP_ORDER)
        changes = [self._step_went(name) for name in before if name not in after]
        changes += [self._step_came(name, after) for name in after if name not in before]
        for name in moved(before, after):
            edits = (PlaceStep(self.owner, name, tuple(after[: after.index(name)])),)
            was, now = (_position(order, name) for order in (before, after))
            changes.append(Change("step-moved", f"step/{name}", was, now, f"step '{name}': {was} {ARROW} {now}", edits))
        for name in after:
            if name in before and ("step", name) in self._touched:
                changes += self._step_changed(name)
        return changes

    def _step_facts(self, recipe: Recipe, name: str) -> dict[Path, Any]:
        found = {path: value for path, value in recipe.facts.items() if path[:2] == ("step", name)}
        self._explained.update(found)
        return found

    def _step_went(self, name: str) -> Change:
        edits: list[Edit] = [Put(self.owner, path, GONE) for path in self._step_facts(self.old, name)]
        edits.append(Drop(self.owner, name))
        return Change("step-removed", f"step/{name}", name, None, f"step '{name}': removed", tuple(edits))

    def _step_came(self, name: str, order: list[str]) -> Change:
        facts = self._step_facts(self.new, name)
        edits: list[Edit] = [Put(self.owner, path, value) for path, value in facts.items()]
        edits.append(PlaceStep(self.owner, name, tuple(order[: order.index(name)])))
        shear = facts.get(("step", name, "shear"))
        words = f"step '{name}': added, {_position(order, name)}" + (f", {shear} shear" if shear else "")
        return Change("step-added", f"step/{name}", None, name, words, tuple(edits))

    def _step_changed(self, name: str) -> list[Change]:
        old, new = self._step_facts(self.old, name), self._step_facts(self.new, name)
        changes: list[Change] = []
        for path in dict.fromkeys((*old, *new)):
            was, now = old.get(path, GONE), new.get(path, GONE)
            if was == now or self._follows(name, path, was, now):
                continue
            before, after = (None if value is GONE else value for value in (was, now))
            label = _STEP_WORDS.get(path[2], path[2])
            words = f"step '{name}', {label}: {from_to(before, after)}"
            edits = (Put(self.owner, path, now),)
            changes.append(Change("step-changed", spelled(path), _text(before), _text(after), words, edits))
        return changes

    def _follows(self, step: str, path: Path, was: Any, now: Any) -> bool:
        """Say whether a step only follows charges that moved or were swapped."""
        if path[2:] not in (("add",), ("adjust",)) or not isinstance(was, tuple):
            return False
        used = {name for item in was for name in [getattr(item, "what", item)] if name in self._renames}
        if tuple(renamed(item, self._renames) for item in was) != now:
            return False
        # one move follows in the whole step or not at all, so both lists of the step must follow it
        for other in ("add", "adjust"):
            there = self.new.facts.get(("step", step, other), ())
            if any(getattr(item, "what", item) in used for item in there if isinstance(there, tuple)):
                return False
        self._followed.setdefault(step, set()).update(used)
        return True

    # everything else

    def _rest(self) -> list[Change]:
        changes = self._claims()
        for path in self._differ:
            if path not in self._explained:
                was, now = self.old.facts.get(path, GONE), self.new.facts.get(path, GONE)
                changes.append(self._fact(path, was, now))
        return changes

    def _claims(self) -> list[Change]:
        """Read a claim that went and one that came as one change, where they only differ in their number."""
        changes: list[Change] = []
        went, came = (
            [path for path in one.facts if path[0] == "claims" and len(path) == 2 and path not in other.facts]
            for one, other in ((self.old, self.new), (self.new, self.old))
        )
        for old in went:
            new = next((path for path in came if _numberless(path[1]) == _numberless(old[1])), None)
            if new is not None and self.old.facts[old] is True and self.new.facts[new] is True:
                came.remove(new)
                self._explained.update((old, new))
                edits = Put(self.owner, old, GONE), Put(self.owner, new, True)
                words = f"claim: {old[1]} {ARROW} {new[1]}"
                changes.append(Change("claim", spelled(("claim", old[1])), old[1], new[1], words, edits))
        return changes

    def _fact(self, path: Path, was: Any, now: Any) -> Change:
        old, new = (None if value is GONE else value for value in (was, now))
        edits = (Put(self.owner, path, now),)
        if path[0] in _SET_KIND and len(path) == 2 and True in (old, new):
            verb = "now" if new else "no longer"
            names = (path[1] if old else None), (path[1] if new else None)
            what = path[0].removesuffix("s")
            where = spelled((what, path[1]))
            return Change(_SET_KIND[path[0]], where, *names, f"{what} '{path[1]}': {verb} stated", edits)
        if path[0] == "claim" and len(path) == 2 and isinstance(old or new, str) and None in (old, new):
            verb = "now" if new else "no longer"
            names = (path[1] if old else None), (path[1] if new else None)
            return Change("claim", spelled(path), *names, f"claim '{path[1]}' ({old or new}): {verb} stated", edits)
        if isinstance(old, Unread) or isinstance(new, Unread):
            return Change("other", spelled(path), _text(old), _text(new), describe(path, old, new), edits)
        kind = "other"
        if path[0] in ("spec", "claim"):
            kind = path[0]
        elif path[0] in _HEADER and len(path) == 1:
            kind = "header"
        elif path[0] == "accept":
            kind = "accept"
        return Change(kind, spelled(path), _text(old), _text(new), f"{_label(path)}: {from_to(old, new)}", edits)


def _numberless(claim: str) -> str:
    return re.sub(r"\d+(?:\.\d+)?(?= ?%)", "#", claim)


def _label(path: Path) -> str:
    if path[0] == "phase" and len(path) > 1:
        return " ".join(("phase", path[1], *path[2:]))
    if path[0] == "accept" and len(path) > 2:
        return f"accepted: '{path[1]}'" + (f" about '{path[2]}'" if path[2] else "")
    return " ".join(path)


def _text(value: Any) -> str | None:
    if value is None:
        return None
    if isinstance(value, Accepted):
        return str(value)
    return plain(value)


def _position(order: list[str], name: str) -> str:
    index = order.index(name)
    return f"after '{order[index - 1]}'" if index else "first"
