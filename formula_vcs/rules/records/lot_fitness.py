"""Whether a lot may go into a charge: one answer for who makes a batch, records it, checks it or traces it."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import NamedTuple

from formula_vcs.model.batch import Batch
from formula_vcs.model.lot import Lot
from formula_vcs.model.values import dataclass
from formula_vcs.workspace.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class Taker:
    """Who takes a lot: a charge's ingredient, the recipe that makes it where it is a premix, and the batch.

    ``premix`` is None for a material that is bought, "" for a premix whose recipe is not known.
    """

    ingredient: str
    premix: str | None
    batch: str
    day: datetime.date | None
    closed: bool = False


class Unfit(NamedTuple):
    """Why a lot may not be taken.

    ``kind`` is "itself" (the batch is its own lot: nobody can decide that), "open" (the premix is still being made) or
    "deviation" (it was taken all the same where a [[deviation]] says who decided).
    """

    words: str
    kind: str = "deviation"


def unfit(name: str, taker: Taker, here: Snapshot) -> Iterator[Unfit]:
    """Say why a lot, as its file is now, may not go into a charge; nothing where it may."""
    from formula_vcs.toml.takers import nearest

    if taker.premix is None:
        record = here.record("lots", name)
        if record is None:
            yield Unfit(f"there is no file of lot '{name}' (lots/){nearest(name, here.ids('lots'))}")
        else:
            yield from unfit_lot(Lot(name, record.facts, record.file), taker)
        return
    record = here.record("batches", name)
    if record is None:
        near = nearest(name, here.ids("batches"))
        words = f"'{taker.ingredient}' is a premix, its lot is the batch that made it, and there is no batch '{name}'"
        yield Unfit(f"{words}{near}")
    else:
        yield from unfit_batch(Batch(name, record.facts, record.file), taker)


def unfit_lot(lot: Lot, taker: Taker) -> Iterator[Unfit]:
    """Say why a delivery may not go into a charge: of something else, not released, or not there on the day."""
    if lot.ingredient is None:
        yield Unfit(f"lot '{lot.id}' does not say of which ingredient it is")
    elif lot.ingredient != taker.ingredient:
        yield Unfit(f"lot '{lot.id}' is '{lot.ingredient}', another ingredient than '{taker.ingredient}'")
        return
    if lot.status in ("quarantine", "rejected"):
        yield Unfit(f"lot '{lot.id}' is {'in quarantine' if lot.status == 'quarantine' else 'rejected'}")
    day = taker.day
    if day is not None and lot.expires is not None and lot.expires < day:
        yield Unfit(f"lot '{lot.id}' expired on {lot.expires}, before the batch was made on {day}")
    if day is not None and lot.received is not None and lot.received > day:
        yield Unfit(f"lot '{lot.id}' came on {lot.received}, after the batch was made on {day}")


def unfit_batch(made: Batch, taker: Taker) -> Iterator[Unfit]:
    """Say why a batch of a premix may not go into a charge: of another recipe, itself, made later, or not finished."""
    if made.recipe is None:
        yield Unfit(f"batch '{made.id}' does not say of which recipe it is")
    elif taker.premix and made.recipe != taker.premix:
        yield Unfit(f"batch '{made.id}' is of '{made.recipe}', and '{taker.premix}' is wanted")
    elif made.id == taker.batch:
        yield Unfit("the batch is its own lot", "itself")
    elif made.date is not None and taker.day is not None and made.date > taker.day:
        yield Unfit(f"batch '{made.id}' was made on {made.date}, after this one ({taker.day})")
    elif made.closed is None and taker.closed:
        yield Unfit(f"batch '{made.id}', which made it, is not closed yet", "open")
