"""Does what proves a claim still cover the recipe as it stands?  The record alone cannot say; the drift since can."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from functools import partial
from typing import Final

from formula_vcs.evidence.coverage import DECIDE, REPEAT, Coverage, Evidence, best
from formula_vcs.evidence.verdicts import PinsHere, Verdicts
from formula_vcs.law.claims.proved import needed, of_claim
from formula_vcs.model.evidence import title
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.formula import Formula
from formula_vcs.rules.registry import RULES
from formula_vcs.rules.rule import Pins
from formula_vcs.workspace.snapshot import Snapshot

_RULE: Final = "claim-proof"
_MOST_SAID: Final = 2
# How a proof fails to cover: the severity, and the words between the report and what moved.
_SAYS: Final[dict[str, tuple[Severity, str]]] = {
    REPEAT: ("warn", "no longer covers this version"),
    DECIDE: ("note", "may no longer cover this version, somebody has to decide"),
}


def judge_claim_proofs(snapshot: Snapshot, known: Verdicts, pins: PinsHere) -> Iterator[Finding]:
    """Judge the recipes of a workspace that claim what a test has to prove."""
    for name, path in snapshot.ids("recipe").items():
        if known.settled("claim-proof", path) or known.never_asked("claim-proof", path):
            continue
        recipe = snapshot.recipe(name)
        if recipe is not None and any(needed(claim, recipe.own_claims.get(claim, "")) for claim in recipe.claims):
            yield from known.judged("claim-proof", path, partial(_of_recipe, name), pins)


def _of_recipe(name: str, snapshot: Snapshot, day: datetime.date, pins: Pins | None) -> Iterable[Finding]:
    recipe = snapshot.recipe(name)
    if recipe is None or recipe.is_premix or pins is None:
        return
    formula = snapshot.formula(recipe)
    evidence = Evidence(snapshot, pins)
    for claim in recipe.claims:
        own = recipe.own_claims.get(claim, "")
        kind = needed(claim, own)
        counts = _counting(evidence, formula, claim, kind, day) if kind else None
        if counts is not None and counts.state in _SAYS:
            severity, what = _SAYS[counts.state]
            moved = "; ".join(one.text for one in counts.crossings[:_MOST_SAID])
            more = len(counts.crossings) - _MOST_SAID
            words = f"claim '{claim}': {title(kind)} {counts.proof.report} {what}: {moved}"
            yield Finding(
                _RULE, severity, f"{words}; and {more} more" if more > 0 else words, recipe.file,
                at=("claim" if own else "claims", claim), recipe=name, source=RULES[_RULE].source, subject=claim,
            )  # fmt: skip


def _counting(evidence: Evidence, formula: Formula, claim: str, kind: str, day: datetime.date) -> Coverage | None:
    """Give the proof of a claim that covers most, None where there is none."""
    proofs = [proof for proof in evidence.of(formula.recipe.id) if proof.kind == kind and of_claim(proof, claim)]
    return best(evidence.covered(proof, formula, day) for proof in proofs) if proofs else None
