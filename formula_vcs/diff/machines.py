"""Changes of equipment and of packaging under a recipe.

What is swapped comes with the step, or the header, that names it; its own numbers come by themselves.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from formula_vcs.diff.change import GONE, Change, Put, Whole
from formula_vcs.diff.change_words import from_to, plain
from formula_vcs.diff.material_changes import differing, price_words
from formula_vcs.diff.record_edits import describe
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.facts import Unread, spelled
from formula_vcs.model.formula import Formula
from formula_vcs.model.packaging import Packaging
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import replace

Thing = Equipment | Packaging
_PACKAGING = "packaging"


def with_equipment(change: Change, old: Formula, new: Formula) -> Change:
    """A change with the equipment and the packaging that it names and the old version did not use."""
    brings: dict[str, Thing] = {}
    fresh = new.equipment.keys() - old.equipment.keys()
    wanted = set(_named(change)) & fresh if fresh else set()
    brings |= {f"equipment:{name}": new.equipment[name] for name in sorted(wanted)}
    for name, pack in new.packaging.items():
        if name not in old.packaging and any(_names_pack(edit, name) for edit in change.edits):
            brings[f"{_PACKAGING}:{name}"] = pack
    return replace(change, brings={**change.brings, **brings}) if brings else change


def _names_pack(edit: object, name: str) -> bool:
    return isinstance(edit, Put) and edit.path == (_PACKAGING,) and edit.value == name


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
    """One change a number of a machine or a pack that both versions use, and files that came or went under it."""
    brought = {key for change in changes for key in change.brings}
    machines = {name for made in (new.recipe, *new.premixes.values()) for name in made.mixers}
    packs = set(filter(None, [new.recipe.packaging]))
    return [
        *_of_shelf("equipment", (old.equipment, new.equipment), brought, machines),
        *_of_shelf(_PACKAGING, (old.packaging, new.packaging), brought, packs),
    ]


def _of_shelf(
    kind: str, sides: tuple[Mapping[str, Thing], Mapping[str, Thing]], brought: Collection[str], named: Collection[str]
) -> Iterator[Change]:
    old, new = sides
    for name, thing in old.items():
        other = new.get(name)
        if other is not None and other is not thing:
            yield from thing_changes(kind, thing, other)
    for name, thing in new.items():
        if name not in old and f"{kind}:{name}" not in brought:
            yield _file(kind, name, thing)
    for name in old:
        if name not in new and name in named:
            yield _file(kind, name, None)


def _file(kind: str, name: str, thing: Thing | None) -> Change:
    was, now = (name, None) if thing is None else (None, name)
    words = f"{kind} '{name}': its file {'is gone' if thing is None else 'is there now'}"
    return Change("other", f"{kind}/{name}", was, now, words, (Whole(f"{kind}:{name}", thing),))


def thing_changes(kind: str, old: Thing, new: Thing) -> Iterator[Change]:
    """One change a fact of a piece of equipment, or of a packaging; its price lists say what moved in them."""
    owner = f"{kind}:{old.id}"
    if old.readable != new.readable:
        words = f"{kind} '{old.id}': its file {'does not parse any more' if old.readable else 'parses again'}"
        yield Change("other", f"{kind}/{old.id}", None, None, words, (Whole(owner, new),))
        return
    for path, was, now in differing(old.facts, new.facts):
        before, after = (None if value is GONE else value for value in (was, now))
        texts = tuple(None if value is None else plain(value) for value in (before, after))
        odd = any(isinstance(value, Unread | dict | list) for value in (before, after))
        prices = path[-1] == "price" and not odd
        label = " ".join(path).replace("_", " ")
        moved = price_words(before or (), after or ()) if prices else from_to(before, after)
        said = describe(path, before, after) if odd else f"{label}: {moved}"
        where = f"{kind}/{old.id}/{spelled(path)}"
        text = f"{kind} '{old.id}', {said}"
        yield Change("price" if prices else "other", where, texts[0], texts[1], text, (Put(owner, path, now),))
