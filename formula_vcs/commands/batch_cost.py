"""``git formula batch cost BATCH``: what it cost at its lots and masses, against standard, split into effects."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module

from formula_vcs.batches.batch_cost import batch_cost
from formula_vcs.commands.batch_sheet import find, pinned_formula, place_of
from formula_vcs.errors import OK, UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch
from formula_vcs.model.lot import Lot


def run(args: argparse.Namespace, word: str) -> int:
    """Cost a batch."""
    if args.format not in ("text", "json") or args.output:
        raise UserError("'batch cost' prints text and json, to the terminal")
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
        import_module(f"formula_vcs.reports.batch_cost.{args.format}").write(batch, found, out=sys.stdout)
    sys.stdout.flush()
    return OK
