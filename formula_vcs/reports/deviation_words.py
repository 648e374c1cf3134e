"""What a batch records as not gone as planned, in words for every report that is about it."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.batch import Batch


def deviation_lines(batch: Batch) -> Iterator[str]:
    """Say each recorded deviation in full: what about, why, and who decided."""
    for row in batch.deviations:
        why = row.why or "why is not recorded"
        yield (
            f"Deviation on record of {batch.id}, {row.about}: {why} "
            f"(decided by {row.decided_by or 'nobody that is recorded'})"
        )
