"""A change that took the last preservative away blocks, though the same recipe written anew would only be warned of."""

from __future__ import annotations

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.preservatives import preserving
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import replace
from formula_vcs.rules.chemistry.preserved import Preserved


def harder(finding: Finding, past: Formula) -> Finding:
    """Give a new finding, 'preserved' as a block where the old version had what preserves.

    What the new version accepts stays the note that it is.
    """
    if finding.rule != Preserved.id or finding.severity != Preserved.severity:
        return finding
    lost = preserving(breakdown_of(past)) if past.recipe.charges else ()
    if not lost:
        return finding
    words = f"{finding.message}; the change took {', '.join(system.title for system in lost)} away"
    return replace(finding, severity="block", message=words)
