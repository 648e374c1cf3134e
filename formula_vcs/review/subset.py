"""Some of the changes between two snapshots, taken by themselves: the files as they would be with only those made.

The result is made of texts and read like any other snapshot, so what a review says of it is what the files say.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import Final

from formula_vcs.diff.apply import edited
from formula_vcs.diff.change import RECIPE, Change, Drop, Edit, Move, PlaceStep, Put, Whole
from formula_vcs.model.facts import Facts
from formula_vcs.model.values import dataclass, replace
from formula_vcs.review.compare import Comparison, Review
from formula_vcs.toml.write_facts import CannotWrite, rewritten
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, Overlay, Refused, Snapshot, kind_of

_SHELVES: Final = {
    "ingredient": "ingredients",
    "premix": "recipe",
    "recipe": "recipe",
    "equipment": "equipment",
    "packaging": "packaging",
}


@dataclass(frozen=True)
class Pick:
    """A change that can be taken or left, with the recipe that it stands under (empty beside the recipes).

    ``edits`` are its edits by the file that they are made in, ``files`` what comes or goes as a whole with it, and
    ``rename`` the old and the new path of a recipe that got another name.
    """

    recipe: str
    change: Change
    edits: Mapping[str, tuple[Edit, ...]]
    files: tuple[str, ...] = ()
    rename: tuple[str, str] | None = None

    @property
    def keys(self) -> frozenset[Hashable]:
        """Name what it does to the files: one change of a premix stands under every recipe that uses it."""
        edits = ((path, _key(edit)) for path, edits in self.edits.items() for edit in edits)
        return frozenset((*edits, *self.files, *([self.rename] if self.rename is not None else [])))


def _key(edit: Edit) -> tuple[str, ...]:
    if isinstance(edit, Put):
        return ("put", *edit.path)
    if isinstance(edit, Move):
        return ("move", *edit.old)
    if isinstance(edit, PlaceStep | Drop):
        return ("order", edit.step)
    return ("whole", edit.owner)


def picks(comparison: Comparison, old: Snapshot, new: Snapshot) -> list[Pick]:
    """Give the changes of a comparison that can be taken; a recipe that came or went is one."""
    found: list[Pick] = []
    for review in comparison.reviews:
        if review.status == "changed":
            found += [_pick(review, change, old, new) for change in review.changes if not change.derived]
        elif review.status != "same":
            verb = {"added": "new recipe", "removed": "recipe removed"}.get(review.status, "its file cannot be read")
            sides = (snapshot.ids("recipe").get(review.recipe) for snapshot in (old, new))
            paths = tuple(dict.fromkeys(path for path in sides if path is not None))
            change = Change("other", f"recipe/{review.recipe}", None, None, f"{review.recipe}: {verb}")
            found.append(Pick(review.recipe, change, {}, (*paths, *_brought(review.changes, old, new))))
    return found + [_beside(change, old, new) for change in comparison.beside]


def _pick(review: Review, change: Change, old: Snapshot, new: Snapshot) -> Pick:
    here = new.ids("recipe").get(review.recipe) or old.ids("recipe").get(review.recipe) or review.file
    if change.kind == "header" and change.where == "id":
        return Pick(review.recipe, change, {}, rename=(old.ids("recipe")[str(change.old)], here))
    edits, files = _edits(change, here, old, new)
    return Pick(review.recipe, change, edits, (*files, *_brought([change], old, new)))


def _edits(change: Change, recipe: str, old: Snapshot, new: Snapshot) -> tuple[dict[str, tuple[Edit, ...]], list[str]]:
    """Sort edits by file; those of house rules lose the beginning that they have among the workspace's facts."""
    edits: dict[str, tuple[Edit, ...]] = {}
    files: list[str] = []
    for edit in change.edits:
        kind, _, name = edit.owner.partition(":")
        path, made = recipe, replace(edit, owner="")
        if kind == "file":
            path = name
        elif kind == "workspace":
            path = WORKSPACE_FILE
            if isinstance(made, Put) and made.path[0] == "rules":
                path = new.ids("rules").get(made.path[1]) or old.ids("rules").get(made.path[1], "")
                made = replace(made, path=made.path[2:])
        elif edit.owner != RECIPE:
            shelf = _SHELVES[kind]
            path = new.ids(shelf).get(name) or old.ids(shelf).get(name, "")
        if isinstance(edit, Whole) or not path:
            files.append(path)
        else:
            edits[path] = (*edits.get(path, ()), made)
    return edits, [path for path in files if path]


def _brought(changes: Sequence[Change], old: Snapshot, new: Snapshot) -> Iterator[str]:
    """Give the files that changes bring along.

    One that is there on the old side stays as it is: its own changes are picks of their own, and may touch others.
    """
    for name in dict.fromkeys(name for change in changes for name in change.brings):
        kind, _, inner = name.rpartition(":")
        path = new.ids(_SHELVES[kind or "ingredient"]).get(inner)
        if path is not None and path not in old.listing:
            yield path


def _beside(change: Change, old: Snapshot, new: Snapshot) -> Pick:
    kind, _, rest = change.where.partition("/")
    edits, files = _edits(change, "", old, new)
    if not edits and not files:
        shelf = {"ingredient": "ingredients", "lot": "lots", "batche": "batches", "rule": "rules"}.get(kind, kind)
        name = rest.split("/")[0]
        files = [path for side in (old, new) for path in [side.ids(shelf).get(name)] if path]
        files = files or ([WORKSPACE_FILE] if kind == "workspace" else [])
    return Pick("", change, edits, tuple(dict.fromkeys(files)))


@dataclass(frozen=True)
class TakenPart:
    """What is taken, and what is left."""

    taken: tuple[Pick, ...]
    left: tuple[Pick, ...]


class Subset:
    """The old side with some changes taken; ``rest`` says whether what is no change in meaning is taken too.

    ``files`` are the files of the workspace that differ from the old side then: their bytes, or None where they are
    gone.  Raises `CannotWrite` where no text says what is taken without saying more.
    """

    def __init__(self, old: Snapshot, new: Snapshot, part: TakenPart, *, rest: bool, touched: Sequence[str]) -> None:
        """Take both sides, and the files that differ between them."""
        self._old = old
        self._new = new
        self._rest = rest
        both = (*part.taken, *part.left)
        self._known = {path for pick in both for path in (*pick.edits, *pick.files)}
        self._renames = {pick.rename[1]: pick.rename[0] for pick in both if pick.rename is not None}
        self._whole: set[str] = set()
        self._edits: dict[str, dict[Hashable, Edit]] = {}
        named: set[str] = set()
        for pick in part.taken:
            self._whole |= set(pick.files)
            named |= {pick.rename[1]} if pick.rename is not None else set()
            for path, edits in pick.edits.items():
                self._edits.setdefault(path, {}).update({_key(edit): edit for edit in edits})
        self.files: dict[str, bytes | None] = {}
        for path in touched:
            if path not in self._renames.values():
                self._place(path, renamed=path in named)

    def snapshot(self) -> Snapshot:
        """Read the old side with the changes taken."""
        source = Overlay(self._old.source, self.files)
        source.label = f"{self._new.label}, in part"
        return Snapshot(source, self._new.store)

    def _place(self, path: str, *, renamed: bool) -> None:
        """Put the content of a file where it belongs: at its old name, unless the new one is taken."""
        was = self._renames.get(path, path)
        content = self._content(path, was)
        if path != was and renamed:
            self.files[was] = None
        else:
            path = was
        if content != content_of(self._old, path):
            self.files[path] = content

    def _content(self, path: str, was: str) -> bytes | None:
        """Give the content of a file: the new side's own bytes where all of it is taken, the old side's where none."""
        old, new = content_of(self._old, was), content_of(self._new, path)
        if path in self._whole or (self._rest and path not in self._known):
            return new
        before = self._old.read(was).facts if old is not None else {}
        after = self._new.read(path).facts if new is not None else {}
        target = edited(before, list(self._edits.get(path, {}).values()))
        if target == after and (new is not None or not target):  # of a file without facts nothing is left
            return new if self._rest or target != before else old
        return old if target == before else self._written(path, target, old, new)

    def _written(self, path: str, target: Facts, old: bytes | None, new: bytes | None) -> bytes:
        texts = [content.decode("utf-8") for content in (old, new) if content is not None]
        first, second = (texts[-1], texts[0]) if self._rest else (texts[0], texts[-1])
        try:
            return rewritten(first, target, kind_of(path), second).encode("utf-8")
        except CannotWrite as error:
            raise CannotWrite(f"{path}: {error}") from error


def content_of(side: Snapshot, path: str) -> bytes | None:
    """Give the bytes of a file; None where it is not there or cannot be read."""
    if path not in side.listing:
        return None
    content = side.source.read(path)
    return None if isinstance(content, Refused) else content
