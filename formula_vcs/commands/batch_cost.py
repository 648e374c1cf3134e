"""``git formula batch cost BATCH``: what it cost at its lots and masses, against standard, split into effects."""

from __future__ import annotations

import argparse
import sys

from formula_vcs.batches.batch_cost import batch_cost
from formula_vcs.commands.batch_sheet import find, pinned_formula, place_of
from formula_vcs.errors import OK, UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch
from formula_vcs.model.lot import Lot
from formula_vcs.reports import formats
from formula_vcs.reports.batch_cost import REPORT, CostShown


def run(args: argparse.Namespace, word: str) -> int:
    """Cost a batch."""
    if args.format not in formats.EVERY or args.output:
        raise UserError(f"'batch cost' prints {', '.join(formats.EVERY)}, to the terminal")
    place = place_of(args, word)
    with place.work_tree() as here, PinnedVersions(place.repo, place.folder, store=place.store) as pins:
        batch = find(here, place, word)
        formula = pinned_formula(pins, batch)

        def lot(name: str) -> Lot | None:
            record = here.record("lots", name)
            return None if record is None else Lot(name, record.facts, record.file)

        def made(name: str) -> Batch | None:
            record = here.record("batches", name)
            return None if record is None else Batch(name, record.facts, record.file)

        found = batch_cost(batch, formula, lot, made)
        formats.write(REPORT, CostShown(batch, found), args.format, sys.stdout)
    sys.stdout.flush()
    return OK
