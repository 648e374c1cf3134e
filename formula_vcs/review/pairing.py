"""Which recipes two moments differ in, and what they were called: what comparing begins with."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from formula_vcs.model.facts import ALIKE, likeness
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import replace
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, Snapshot, id_of, kind_of

_MOST_PAIRS: Final = 400


def touched_between(old: Snapshot, new: Snapshot) -> set[str]:
    """Name the files whose content differs."""
    return {path for path in {*old.listing, *new.listing} if old.content_id(path) != new.content_id(path)}


def pairs_of(
    old: Snapshot, new: Snapshot, touched: set[str], only: Sequence[str], renames: Mapping[str, str]
) -> Iterable[tuple[str, Recipe | None, Recipe | None]]:
    """Give the recipes that may differ, by the id that they have now, as they were and as they are."""
    before, after = old.ids("recipe"), new.ids("recipe")
    materials = {id_of(path) for path in touched if kind_of(path) == "ingredients"}
    premixes = {id_of(path) for path in touched if kind_of(path) == "recipe"}
    machines = any(kind_of(path) in ("equipment", "packaging") for path in touched)
    deep = bool(materials) or machines or _for_all(touched) or _made_by(new, premixes)
    for name in dict.fromkeys([*sorted({*before, *after})]):
        if (only and name not in only) or name in renames.values():
            continue
        if name in renames:
            was = old.recipe(renames[name])
            yield name, None if was is None else replace(was, id=name), new.recipe(name)
            continue
        own = before.get(name) in touched or after.get(name) in touched or before.get(name) != after.get(name)
        if own or deep:
            yield name, old.recipe(name), new.recipe(name)


def renamed_between(old: Snapshot, new: Snapshot) -> dict[str, str]:
    """Give recipes whose file got another name, and so the recipe another id: ``{new id: old id}``.

    As git does it, by likeness: most facts of the one that came are those of the one that went.
    """
    went = [name for name in old.ids("recipe") if name not in new.ids("recipe")]
    came = [name for name in new.ids("recipe") if name not in old.ids("recipe")]
    if not went or not came or len(went) * len(came) > _MOST_PAIRS:
        return {}
    ranked: list[tuple[float, str, str]] = []
    for before in went:
        was = old.recipe(before)
        for after in came:
            now = new.recipe(after)
            if was is not None and now is not None:
                ranked.append((likeness(was.facts, now.facts), after, before))
    found: dict[str, str] = {}
    for share, after, before in sorted(ranked, reverse=True):
        if share >= ALIKE and after not in found and before not in found.values():
            found[after] = before
    return found


def _for_all(touched: set[str]) -> bool:
    """Say whether something moved that every recipe rests on: the workspace's defaults, or a rule of the house."""
    return WORKSPACE_FILE in touched or any(kind_of(path) == "rules" for path in touched)


def _made_by(snapshot: Snapshot, premixes: set[str]) -> bool:
    """Say whether a touched recipe is an ingredient of others."""
    if not premixes:
        return False
    return any(
        ingredient is not None and ingredient.recipe in premixes
        for ingredient in map(snapshot.ingredient, snapshot.made_by_recipes())
    )
