"""A change that took away what preserves blocks, though the same recipe written anew would only be warned of."""

from __future__ import annotations

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.preservatives import preserving
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import replace
from formula_vcs.rules.chemistry.preserved import AcidRange, Preserved, highest_pH


def harder(finding: Finding, past: Formula, present: Formula) -> Finding:
    """Give a new finding, as a block where the old version had what preserves: its system, or its acids' pH range.

    What the new version accepts stays the note that it is.
    """
    lost = ""
    if past.recipe.charges and finding.severity == "warn":
        if finding.rule == Preserved.id:
            lost = ", ".join(system.title for system in preserving(breakdown_of(past)))
        elif finding.rule == AcidRange.id and _held(past) and not _otherwise(present):
            lost = f"the spec's pH {past.recipe.spec['pH']}, under which they work,"
    if not lost:
        return finding
    return replace(finding, severity="block", message=f"{finding.message}; the change took {lost} away")


def _held(past: Formula) -> bool:
    """Say whether a pH range held a weak acid where it works."""
    return highest_pH(past.recipe) is not None and any(
        system.row is not None and "acid" in system.row for system in preserving(breakdown_of(past))
    )


def _otherwise(present: Formula) -> bool:
    """Say whether something else than a weak acid preserves, whatever the pH."""
    return any(
        not system.booster and (system.row is None or "acid" not in system.row)
        for system in preserving(breakdown_of(present))
    )
