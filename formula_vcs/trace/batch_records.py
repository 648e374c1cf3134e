"""The batches and lots of a workspace, read once each, and who among them went into whom."""

from __future__ import annotations

import datetime
from functools import cached_property
from typing import Final

from formula_vcs.model.batch import Batch
from formula_vcs.model.lot import Lot
from formula_vcs.workspace.snapshot import Snapshot

_NEVER: Final = datetime.date.min


class Records:
    """What is recorded in a workspace.  Whole shelves are read only when a question needs them."""

    def __init__(self, snapshot: Snapshot) -> None:
        """Take the workspace."""
        self.snapshot = snapshot
        self._batches: dict[str, Batch | None] = {}
        self._lots: dict[str, Lot | None] = {}

    def batch(self, name: str) -> Batch | None:
        """Read a batch; None where there is none of that id, or its file does not parse."""
        if name not in self._batches:
            self._batches[name] = self._read_batch(name)
        return self._batches[name]

    def _read_batch(self, name: str) -> Batch | None:
        path = self.snapshot.ids("batches").get(name)
        if path is None:
            return None
        read = self.snapshot.read(path)
        return Batch(name, read.facts, path) if read.whole else None

    def lot(self, name: str) -> Lot | None:
        """Read a lot; None where there is none of that id, or its file does not parse."""
        if name not in self._lots:
            path = self.snapshot.ids("lots").get(name)
            read = None if path is None else self.snapshot.read(path)
            whole = read is not None and read.whole
            self._lots[name] = Lot(name, read.facts, path or "") if read is not None and whole else None
        return self._lots[name]

    @cached_property
    def batches(self) -> tuple[Batch, ...]:
        """Give every batch that can be read, by date, then id; those without a date first."""
        found = [batch for name in self.snapshot.ids("batches") if (batch := self.batch(name)) is not None]
        return tuple(sorted(found, key=made_when))

    @cached_property
    def lots(self) -> tuple[Lot, ...]:
        """Give every lot that can be read, in the order of their files."""
        return tuple(lot for name in self.snapshot.ids("lots") if (lot := self.lot(name)) is not None)

    @cached_property
    def unread(self) -> tuple[str, ...]:
        """Name the files of batches that do not parse: what is in them is not known."""
        shelf = self.snapshot.ids("batches")
        return tuple(path for name, path in shelf.items() if self.batch(name) is None)

    def of_recipe(self, *names: str) -> tuple[Batch, ...]:
        """Give the batches of a recipe, by date, then id; with the names that it had before, those made as these."""
        return tuple(batch for batch in self.batches if batch.recipe in names)

    @cached_property
    def gone(self) -> frozenset[str]:
        """Name the recipes that batches name and that the workspace has no longer: one may have another name now."""
        return frozenset(batch.recipe for batch in self.batches if batch.recipe) - set(self.snapshot.ids("recipe"))

    @cached_property
    def takers(self) -> dict[str, tuple[Batch, ...]]:
        """Give the batches that each lot went into, by the name that they call it."""
        found: dict[str, list[Batch]] = {}
        for batch in self.batches:
            for lot in batch.lots:
                found.setdefault(lot, []).append(batch)
        return {lot: tuple(batches) for lot, batches in found.items()}


def made_when(batch: Batch) -> tuple[datetime.date, str]:
    """Give what batches are put in order by."""
    return (batch.date or _NEVER, batch.id)
