"""Changes of equipment under a recipe: a machine that is swapped comes with its step, its own numbers by themselves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from formula_vcs.diff.change import GONE, Change, Put, Whole
from formula_vcs.diff.change_words import from_to, plain
from formula_vcs.diff.free_data import describe
from formula_vcs.diff.material_changes import differing
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.facts import Unread, spelled
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import replace


def with_equipment(change: Change, old: Formula, new: Formula) -> Change:
    """Give a change with the equipment that it names and the old version did not use."""
    fresh = new.equipment.keys() - old.equipment.keys()
    wanted = set(_named(change)) & fresh if fresh else set()
    if not wanted:
        return change
    brings = {f"equipment:{name}": new.equipment[name] for name in sorted(wanted)}
    return replace(change, brings={**change.brings, **brings})


def _named(change: Change) -> Iterator[str]:
    for edit in change.edits:
        if isinstance(edit, Put) and edit.path[:1] == ("step",) and edit.path[-1] == "mixer":
            if isinstance(edit.value, str):
                yield edit.value
        elif isinstance(edit, Whole) and isinstance(edit.value, Recipe):
            yield from edit.value.mixers
    for brought in change.brings.values():
        if isinstance(brought, Recipe):
            yield from brought.mixers


def equipment_changes(old: Formula, new: Formula, changes: Sequence[Change]) -> list[Change]:
    """Give one change a number of a machine that both versions use, and files that came or went under a step."""
    found: list[Change] = []
    for name, machine in old.equipment.items():
        other = new.equipment.get(name)
        if other is not None and other is not machine:
            found += machine_changes(machine, other)
    brought = {key for change in changes for key in change.brings}
    for name, machine in new.equipment.items():
        if name not in old.equipment and f"equipment:{name}" not in brought:
            found.append(_file(name, machine))
    named = {name for made in (new.recipe, *new.premixes.values()) for name in made.mixers}
    found += [_file(name, None) for name in old.equipment if name not in new.equipment and name in named]
    return found


def _file(name: str, machine: Equipment | None) -> Change:
    was, now = (name, None) if machine is None else (None, name)
    words = f"equipment '{name}': its file {'is gone' if machine is None else 'is there now'}"
    return Change("other", f"equipment/{name}", was, now, words, (Whole(f"equipment:{name}", machine),))


def machine_changes(old: Equipment, new: Equipment) -> list[Change]:
    """Give one change a fact of a piece of equipment."""
    owner = f"equipment:{old.id}"
    if old.readable != new.readable:
        words = f"equipment '{old.id}': its file {'does not parse any more' if old.readable else 'parses again'}"
        return [Change("other", f"equipment/{old.id}", None, None, words, (Whole(owner, new),))]
    changes: list[Change] = []
    for path, was, now in differing(old.facts, new.facts):
        before, after = (None if value is GONE else value for value in (was, now))
        texts = tuple(None if value is None else plain(value) for value in (before, after))
        odd = any(isinstance(value, Unread | dict | list) for value in (before, after))
        label = " ".join(path).replace("_", " ")
        said = describe(path, before, after) if odd else f"{label}: {from_to(before, after)}"
        edits = (Put(owner, path, now),)
        where = f"equipment/{old.id}/{spelled(path)}"
        changes.append(Change("other", where, texts[0], texts[1], f"equipment '{old.id}', {said}", edits))
    return changes
