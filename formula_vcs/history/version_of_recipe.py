"""A version of a recipe, and how the versions of a history are told apart, commit by commit."""

from __future__ import annotations

from typing import Final

from formula_vcs.diff.change import Change
from formula_vcs.diff.diff import diff
from formula_vcs.diff.material_changes import touching
from formula_vcs.git.commit_log import Commit
from formula_vcs.history.blame_parts import touched
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, replace
from formula_vcs.workspace.past import PastFiles, Tree, about, inside, place_of
from formula_vcs.workspace.snapshot import id_of

# where changes below a recipe are
UNDER: Final = ("ingredient/", "premix/", "equipment/", "packaging/", "rule/", "workspace/")
_ALWAYS: Final = frozenset({"workspace", "rules"})


@dataclass(frozen=True, eq=False)
class Version:
    """A recipe as a commit left it.

    ``status``: "added" (the recipe begins here), "changed", "merged" (a merge combines its sides, nothing of its own),
    "removed", "unread" (the file does not parse; ``formula`` is then the last that did), "cut" (a shallow clone ends
    here: the recipe was there before, how is not known), "same" (nothing that counts; never listed).

    ``changes`` are the commit's own, the derived ones last; of a merge what it has from no side.  ``formula`` is the
    recipe after it, ``before`` the one before (on the first side of a merge).  ``path`` is the file then, from the top
    of the repository.  ``parents`` are the versions that it was made from, ``against`` the changes from each of them.
    """

    commit: Commit
    status: str
    changes: tuple[Change, ...]
    formula: Formula | None
    path: str
    parents: tuple[Version, ...] = ()
    against: tuple[tuple[Change, ...], ...] = ()

    @property
    def recipe(self) -> str:
        """Give the id of the recipe then."""
        return id_of(self.path)

    @property
    def before(self) -> Formula | None:
        """Give the formula before."""
        return self.parents[0].formula if self.parents else None

    @property
    def under(self) -> bool:
        """Say whether only something that the recipe rests on moved, and not the recipe."""
        real = [change for change in self.changes if not change.derived]
        return bool(real) and all(change.where.startswith(UNDER) for change in real)

    @property
    def there(self) -> bool:
        """Say whether the recipe is there and readable."""
        return self.formula is not None and self.status not in ("removed", "unread")


class Builder:
    """Works out the versions, commit by commit, from the oldest on; ``at`` has the one that holds at each."""

    def __init__(self, past: PastFiles, folders: tuple[str, ...]) -> None:
        self._past = past
        self._folders = folders
        self._rests: dict[int, frozenset[tuple[str, str]]] = {}
        self.at: dict[str, Version | None] = {}

    def add(self, commit: Commit, tree: Tree, path: str, parents: tuple[str, ...]) -> None:
        known = [self.at.get(parent) for parent in parents]
        first = known[0] if known else None
        folder = place_of(path, self._folders, tree)
        if first is not None and not self._moved(commit, tree, folder, path, first):
            self.at[commit.oid] = first
            return
        sides = list({id(side): side for side in known if side is not None and side.formula is not None}.values())
        if path not in tree.entries:
            self.at[commit.oid] = self._gone(commit, path, known)
            return
        formula = self._past.snapshot(tree, folder).formula_at(inside(path, folder))
        if formula is None:
            self.at[commit.oid] = self._unread(commit, path, first, sides)
            return
        self.at[commit.oid] = self._version(commit, path, formula, sides, known)

    def _moved(self, commit: Commit, tree: Tree, folder: str, path: str, first: Version) -> bool:
        """Say whether a commit touched anything that the version of its first parent rests on."""
        if path != first.path or tree.links:
            return True
        if first.formula is None or first.status == "unread":  # what it rests on counts once it can be read again
            return any(path in (touch.path, touch.old_path) for touch in commit.touches)
        rests = self._rests.get(id(first.formula))
        if rests is None:
            rests = self._rests[id(first.formula)] = _rests(first.formula)
        return any(
            path in (touch.path, touch.old_path)
            or any(key in rests or key[0] in _ALWAYS for key in about(touch, folder))
            for touch in commit.touches
        )

    def _gone(self, commit: Commit, path: str, known: list[Version | None]) -> Version | None:
        there = [side for side in known if side is not None and side.status != "removed"]
        gone = next((side for side in known if side is not None and side.status == "removed"), None)
        if not there or gone is not None:
            return gone  # it was not here, or a side had removed it already
        return Version(commit, "removed", (), None, path, tuple(there))

    def _unread(self, commit: Commit, path: str, first: Version | None, sides: list[Version]) -> Version:
        parents = tuple(sides) or ((first,) if first is not None else ())
        last = sides[0].formula if sides else None
        return Version(commit, "unread", (), last, path, parents, tuple(() for _ in parents))

    def _version(
        self, commit: Commit, path: str, formula: Formula, sides: list[Version], known: list[Version | None]
    ) -> Version:
        if not sides:
            earlier = tuple(side for side in known if side is not None)  # an earlier life, or what never parsed
            return Version(commit, "cut" if commit.cut else "added", (), formula, path, earlier)
        same = next((side for side in sides if side.formula == formula and side.status != "unread"), None)
        if same is not None:
            return same if same.path == path else Version(commit, "same", (), formula, path, (same,), ((),))
        against = tuple(changes_from(side.formula, formula) for side in sides if side.formula is not None)
        own = _own(against)
        if any(against) and not own and len(sides) > 1:
            status = "merged" if all(against) else "same"
        else:
            status = "changed" if own else "same"
        return Version(commit, status, own, formula, path, tuple(sides), against)


def changes_from(old: Formula, new: Formula) -> tuple[Change, ...]:
    """Give the changes between two versions of a recipe, its new name first where it got one."""
    name = new.recipe.id
    was = old if old.recipe.id == name else replace(old, recipe=replace(old.recipe, id=name))
    changes = touching(was, new, diff(was, new))
    if was is old:
        return changes
    return (Change("header", "id", old.recipe.id, name, f"renamed, was '{old.recipe.id}'"), *changes)


def _own(against: tuple[tuple[Change, ...], ...]) -> tuple[Change, ...]:
    """Give what a commit has from none of its parents."""
    if len(against) == 1:
        return against[0]
    sides = [touched(changes) for changes in against]
    common = set(sides[0]).intersection(*sides[1:])
    own = {sides[0][facet].id for facet in common}
    return tuple(change for change in against[0] if change.id in own or (own and change.derived))


def _rests(formula: Formula) -> frozenset[tuple[str, str]]:
    """Name the files that a formula rests on, and those that it names and that are missing."""
    recipes = [formula.recipe, *formula.premixes.values()]
    used = {key for recipe in recipes for key in rests_of(recipe)}
    made = {("recipe", made.recipe) for made in formula.ingredients.values() if made.recipe is not None}
    return frozenset(used | made | {("recipe", name) for name in formula.premixes})


def rests_of(recipe: Recipe) -> set[tuple[str, str]]:
    """Name the files that a recipe names itself, as ``{(kind, id)}``."""
    packs = {("packaging", recipe.packaging)} if recipe.packaging is not None else set()
    return {("ingredients", name) for name in recipe.uses} | {("equipment", name) for name in recipe.mixers} | packs
