"""Ids and files of new batches: an id that is free, and files that are never written over."""

from __future__ import annotations

import datetime
import os
from collections.abc import Sequence
from typing import Final

from formula_vcs.commands import workspace_args
from formula_vcs.errors import UserError
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass
from formula_vcs.toml.atomic import alone, write_new
from formula_vcs.toml.takers import ID, NAME_LIMIT
from formula_vcs.workspace.snapshot import Snapshot

_MOST: Final = 1000


@dataclass(frozen=True)
class Made:
    """A batch ready to be written: its id, its path in the workspace, the text, and what its sheet needs besides."""

    id: str
    path: str
    text: str
    formula: Formula


class IdTaken(UserError):
    """The id of a new batch, free when it was chosen, is somebody else's by now; nothing was written."""


def free_id(
    asked: str | None, recipe: str, day: datetime.date, place: workspace_args.WorkspaceRef, here: Snapshot
) -> str:
    """Give the id that was asked for, or the recipe, the day and the first free number.

    :raises UserError: the id is no id, or is taken.
    """
    taken = here.ids("batches")
    if asked is not None:
        if not ID.fullmatch(asked) or len(asked) > NAME_LIMIT:
            raise UserError(f"--id: '{asked}' is no id; lower case letters, digits and hyphens make one")
        if asked in taken or _exists(place, asked):
            raise UserError(f"--id: a batch '{asked}' is there already; a batch is never written over")
        return asked
    stem = f"{recipe}-{day:%Y%m%d}"
    names = (f"{stem}-{number}" for number in range(1, _MOST))
    found = next((name for name in names if name not in taken and not _exists(place, name)), None)
    if found is None:
        raise UserError(f"{_MOST - 1} batches of '{recipe}' are made on {day} already; name this one with --id")
    return found


def _exists(place: workspace_args.WorkspaceRef, name: str) -> bool:
    return os.path.lexists(place.root / "batches" / f"{name}.toml")


def write_all(place: workspace_args.WorkspaceRef, made: Sequence[Made]) -> None:
    """Write new files: each is there whole or not at all, and one that is there already is left alone.

    Premixes are written before what takes them, so that no batch names one that is not there.

    :raises IdTaken: a file is there.
    :raises UserError: the folder cannot be written.
    """
    folder = place.root / "batches"
    if folder.is_symlink():
        raise UserError("'batches' is a link; links to folders are not followed")
    try:
        folder.mkdir(exist_ok=True)
        with alone(folder):
            # all are looked for before one is written: a premix alone would be a batch that nobody made
            for one in made:
                if os.path.lexists(place.root / one.path):
                    raise IdTaken(f"'{one.path}' is there already; a batch is never written over")
            for one in reversed(made):
                write_new(place.root / one.path, one.text.encode("utf-8"))
    except FileExistsError:
        raise IdTaken("the batch came to be while this one was written; it was left alone") from None
    except OSError as error:
        raise UserError(f"'batches' cannot be written: {error.strerror}") from None
