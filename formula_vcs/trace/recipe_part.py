"""Part two of a trace: what changed in the recipe between the versions that two batches name, by whom and why."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from formula_vcs.diff.change import Change
from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.git.commit_log import Commit
from formula_vcs.history.blame_parts import touched
from formula_vcs.history.versions import Version, between, changes_from
from formula_vcs.model.values import dataclass
from formula_vcs.trace.batch_context import BatchContext

# Kinds of change that no measurement can follow from; they are counted and not listed.
_PAPER: Final = frozenset({"price", "claim", "accept", "header"})
_PAPER_FACTS: Final = frozenset({
    "price", "origin", "cosmos", "nop", "certificate", "allergens", "supplier", "code", "note", "title", "batch",
    "functions", "markets", "packs", "tolerance", "currency",
    "rate", "packaging", "item", "overfill", "loss",
})  # fmt: skip
_WORDS: Final = frozenset({"note", "title"})
# where the path of the fact begins
_OWNERS: Final = {"ingredient": 2, "premix": 2, "equipment": 2, "packaging": 2, "workspace": 1}


@dataclass(frozen=True, slots=True)
class Touched:
    """One change between the two versions, with the commits that made it, oldest first; none where that is not known.

    ``undone`` says that those commits belong to the older side only: the change is their being absent.
    """

    change: Change
    by: tuple[Commit, ...]
    undone: bool = False


@dataclass(frozen=True, slots=True)
class RecipePart:
    """What differs in the recipe.

    ``state``: same (one meaning), differs, other (two different recipes), lost (a version cannot be read).
    ``why`` says what is missing.  ``aside`` counts changes that move no result, by what they are about.
    """

    state: str
    changes: tuple[Touched, ...] = ()
    aside: tuple[tuple[str, int], ...] = ()
    why: str = ""

    def by(self, wanted: Callable[[Change], bool]) -> tuple[Commit, ...]:
        """Give the commits of changes, oldest first, each once."""
        found = {commit.oid: commit for item in self.changes if wanted(item.change) for commit in item.by}
        return tuple(found.values())


def recipe_part(repo: repository.Repo | None, folder: str, old: BatchContext, new: BatchContext) -> RecipePart:
    """Compare the versions that two batches name."""
    lost = [f"{side.batch.id}: {side.lost}" for side in (old, new) if side.lost]
    if old.formula is None or new.formula is None:
        return RecipePart("lost", why="; ".join(lost))
    changes = changes_from(old.formula, new.formula)
    other = old.batch.recipe != new.batch.recipe
    real = [change for change in changes if not change.derived]
    listed = [change for change in real if not _paper(change)]
    aside = _counted(change for change in real if _paper(change))
    if not listed:
        return RecipePart("other" if other else "same", aside=aside)
    done, undone, why = _way(repo, folder, old, new)
    if other and not any(change.where == "id" for version in (*done, *undone) for change in version.changes):
        own = [change for change in listed if change.where != "id"]
        return RecipePart("other", tuple(Touched(change, ()) for change in own), aside)
    return RecipePart("differs", tuple(_attributed(listed, done, undone)), aside, why)


def _paper(change: Change) -> bool:
    """Say whether a change is about words, money, law or documents."""
    parts = change.where.split("/")
    if change.kind in _PAPER and change.where != "id":
        return True
    if parts[0] == "rule":
        return True
    if parts[0] in _OWNERS:
        fact = parts[_OWNERS[parts[0]] :]
        return bool(fact) and (fact[0] in _PAPER_FACTS or fact[-1] in _WORDS)
    return parts[-1] in _WORDS


def _counted(changes: Iterable[Change]) -> tuple[tuple[str, int], ...]:
    found: dict[str, int] = {}
    for change in changes:
        parts = change.where.split("/")
        name = change.kind if parts[0] != "ingredient" or len(parts) < 3 else parts[2]
        found[name] = found.get(name, 0) + 1
    return tuple(sorted(found.items()))


def _way(
    repo: repository.Repo | None, folder: str, old: BatchContext, new: BatchContext
) -> tuple[tuple[Version, ...], tuple[Version, ...], str]:
    """Give the versions on the way, those that only the old side has, and what is not known of them."""
    assert old.pinned is not None  # noqa: S101 - both formulas are there
    assert new.pinned is not None  # noqa: S101 - as above
    if repo is None or new.batch.recipe is None:
        return (), (), "no history to look in"
    try:
        way = between(repo, folder, new.batch.recipe, old.pinned.commit, new.pinned.commit)
    except UserError as error:
        return (), (), f"which commits did it is not known: {error}"
    why = "this clone is shallow: commits before its end are not known" if way.cut else ""
    return way.done, way.undone, why


def _attributed(changes: list[Change], done: tuple[Version, ...], undone: tuple[Version, ...]) -> Iterable[Touched]:
    facets: dict[str, set[object]] = {}
    for facet, change in touched(changes).items():
        facets.setdefault(change.id, set()).add(facet)
    forward, back = _by_facet(done), _by_facet(undone)
    for change in changes:
        own = facets.get(change.id, set())
        by = {commit.oid: commit for facet, commit in forward if facet in own}
        lost = {commit.oid: commit for facet, commit in back if facet in own}
        yield Touched(change, tuple((by or lost).values()), undone=not by and bool(lost))


def _by_facet(versions: tuple[Version, ...]) -> list[tuple[object, Commit]]:
    return [(facet, version.commit) for version in versions for facet in touched(version.changes)]
