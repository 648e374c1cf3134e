"""``git formula check --horizon 24m``: what will stop complying, when, and by which rule."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Final

from formula_vcs.commands.progress import Ticker
from formula_vcs.errors import UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.finding import Finding
from formula_vcs.model.values import dataclass
from formula_vcs.model.workspace import Record
from formula_vcs.rules.horizon import Turn, evidence_ending, horizon, later
from formula_vcs.rules.rule import RecordCase
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.workspace.snapshot import Snapshot

_SPAN: Final = late_pattern(r"(\d{1,3}) ?(m|months?|y|years?)")
MOST: Final = 240


@dataclass(frozen=True, slots=True)
class Ahead:
    """One thing that will stop complying, with its finding placed in its file."""

    day: datetime.date
    finding: Finding
    sold: datetime.date | None


def months(text: str) -> int:
    """Read how far to look ahead: "24m", "2y".

    :raises UserError: it is no such span.
    """
    match = _SPAN.fullmatch(text.strip())
    if match is None:
        raise UserError(f"'{text}' is no span of time; write 24m or 2y")
    count = int(match[1]) * (12 if match[2].startswith("y") else 1)
    if not 0 < count <= MOST:
        raise UserError(f"a horizon has 1 to {MOST} months")
    return count


def ahead(snapshot: Snapshot, day: datetime.date, count: int, only: Sequence[str] = ()) -> Iterator[Ahead]:
    """Look ahead for every recipe of a workspace, or for those whose files are named."""
    until = later(day, count)
    names = [name for name, path in snapshot.ids("recipe").items() if not only or path in only]
    with Ticker("looking ahead at") as ticking:
        for done, name in enumerate(names):
            ticking(done, len(names))
            recipe = snapshot.recipe(name)
            if recipe is not None and not recipe.is_premix:
                yield from (_placed(snapshot, turn) for turn in horizon(snapshot.formula(recipe), day, until))
    nowhere = PinnedVersions(None, "")  # when a proof ends does not hang on its version
    for name, path in snapshot.ids("evidence").items():
        record = snapshot.record("evidence", name)
        if record is None or (only and path not in only and _about(record, snapshot) not in only):
            continue
        case = RecordCase(record, snapshot, nowhere, day)
        yield from (_placed(snapshot, turn) for turn in evidence_ending(case, until))


def _about(record: Record, snapshot: Snapshot) -> str:
    """Give the file of the recipe that evidence is about, nothing where there is none."""
    recipe = record.facts.get(("recipe",))
    return snapshot.ids("recipe").get(recipe, "") if isinstance(recipe, str) else ""


def _placed(snapshot: Snapshot, turn: Turn) -> Ahead:
    return Ahead(turn.day, snapshot.place(turn.finding), turn.sold)
