"""The cost of a batch as JSON, by the schema batch-cost.json."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.batches.batch_cost import BatchCost
from formula_vcs.model.batch import Batch
from formula_vcs.reports.check.json import dump
from formula_vcs.words.numbers import exact_text


def write(batch: Batch, found: BatchCost, *, out: TextIO) -> None:
    """Write the cost, exact: money for 1 kg that came out, and for the batch."""
    known = not found.missing
    dump(
        {
            "batch": batch.id,
            "recipe": batch.recipe,
            "currency": found.currency,
            "expected_kg": exact_text(found.expected),
            "made_kg": exact_text(found.made) if known else None,
            "standard_per_kg": exact_text(found.standard) if known else None,
            "actual_per_kg": exact_text(found.actual) if known else None,
            "difference_per_kg": exact_text(found.difference) if known else None,
            "effects_per_kg": {name: exact_text(value) for name, value in found.effects.items()},
            "standard": exact_text(found.standard * found.made) if known else None,
            "actual": exact_text(found.actual * found.made) if known else None,
            "difference": exact_text(found.difference * found.made) if known else None,
            "effects": {name: exact_text(value * found.made) for name, value in found.effects.items()},
            "packs": batch.packs,
            "charges": [
                {
                    "charge": one.key,
                    "target_kg": exact_text(one.target),
                    "weighed_kg": exact_text(one.weighed),
                    "standard_price": exact_text(one.standard),
                    "actual_price": exact_text(one.actual),
                    "price_of": one.basis,
                    "quantity": exact_text(one.quantity * found.made),
                    "price": exact_text(one.price * found.made),
                }
                for one in found.charges
            ],
            "missing": list(found.missing),
            "remarks": list(found.remarks),
        },
        out,
    )
