"""A recipe with all that it rests on, worked out once however many commits hold it unchanged."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from functools import cached_property

from formula_vcs.diff.counterfactuals import all_findings
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.rules.horizon import turning_days
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, Snapshot


class JudgedVersion:
    """A formula, its content hash, and what blocks it on which day."""

    def __init__(self, formula: Formula, snapshot: Snapshot | None = None) -> None:
        """Take the formula, and where it was read; without that it is never found again in another commit."""
        self.formula = formula
        self._files: list[tuple[str, str, str]] = []
        self._contents: dict[str, str] = {}
        self._judged: dict[datetime.date, list[Finding]] = {}
        if snapshot is not None and not any(_missing(formula)):
            self._files = list(_files(formula))
            self._contents = _contents(snapshot, [path for _, _, path in self._files])

    def fits(self, snapshot: Snapshot) -> bool:
        """Say whether a commit holds the same formula: every file that it rests on has the same content there."""
        if not self._files:
            return False
        if any(snapshot.ids(kind).get(name) != path for kind, name, path in self._files):
            return False
        return self._contents == _contents(snapshot, [path for _, _, path in self._files])

    @cached_property
    def hash(self) -> str:
        """Give the content hash."""
        return content_hash(self.formula.recipe, self.formula.premixes)

    def blocking(self, day: datetime.date) -> list[Finding]:
        """Give what blocks it, judged once between two days on which something turns."""
        since = max((turn for turn in self._turns if turn <= day), default=datetime.date.min)
        if since not in self._judged:
            self._judged[since] = [item for item in all_findings(self.formula, day) if item.severity == "block"]
        return self._judged[since]

    @cached_property
    def _turns(self) -> list[datetime.date]:
        return turning_days(self.formula)


def _files(formula: Formula) -> Iterator[tuple[str, str, str]]:
    """Give kind, id and path of what a formula is made of, besides the workspace's own files."""
    for recipe in (formula.recipe, *formula.premixes.values()):
        yield "recipe", recipe.id, recipe.file
    for ingredient in formula.ingredients.values():
        yield "ingredients", ingredient.id, ingredient.file
    for machine in formula.equipment.values():
        yield "equipment", machine.id, machine.file
    for pack in formula.packaging.values():
        yield "packaging", pack.id, pack.file


def _missing(formula: Formula) -> Iterator[str]:
    """Give names that lead nowhere: what is said of them hangs on the other files of the workspace."""
    for recipe in (formula.recipe, *formula.premixes.values()):
        yield from (name for name in recipe.uses if name not in formula.ingredients)
        yield from (name for name in recipe.mixers if name not in formula.equipment)
        yield from (name for name in [recipe.packaging] if name is not None and name not in formula.packaging)
    inner = (found.recipe for found in formula.ingredients.values())
    yield from (name for name in inner if name is not None and name not in formula.premixes)


def _contents(snapshot: Snapshot, paths: list[str]) -> dict[str, str]:
    """Name the contents of some files, of workspace.toml and of all rules of the house."""
    every = (*paths, WORKSPACE_FILE, *snapshot.ids("rules").values())
    return {path: snapshot.content_name(path) for path in every}
