"""What stands between a recipe and a batch: findings that block, and claims that nobody can judge yet."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence

from formula_vcs.commands import recipe_args
from formula_vcs.diff.finding_causes import all_findings
from formula_vcs.errors import UserError
from formula_vcs.model.finding import Finding, worst_first
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import replace
from formula_vcs.rules.judge import judge
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, refused

_OPEN_CLAIM = "claim-information"


def gate(formula: Formula, target: recipe_args.Target, day: datetime.date, without: Sequence[str]) -> list[Finding]:
    """Give what forbids a batch, the worst first, as it is shown; nothing where nothing does.

    A claim that needs facts forbids it: what is made under a claim must be known to keep it.  ``without`` names the
    claims that the batch is made without.

    :raises UserError: a claim is named that the recipe does not state.
    """
    for claim in without:
        if claim not in formula.recipe.claims:
            known = ", ".join(formula.recipe.claims) or "none"
            raise UserError(f"--without-claim: '{formula.recipe.id}' does not claim '{claim}'; it claims {known}")
    found = dict.fromkeys(_findings(formula, target, day))
    stopping = [item for item in found if item.severity == "block"]
    claims = [item for item in found if item.rule == _OPEN_CLAIM and item.severity == "warn"]
    stopping += [
        replace(item, severity="block", message=f"{item.message}. Without it: --without-claim '{item.subject}'")
        for item in claims
        if item.subject not in without
    ]
    placed = (target.snapshot.place(item) for item in stopping)
    return sorted((replace(item, shown=target.shown(item.file)) for item in placed), key=worst_first)


def _findings(formula: Formula, target: recipe_args.Target, day: datetime.date) -> Iterator[Finding]:
    """Judge the recipe, its ingredients, its premixes, and the values of the other files that it rests on."""
    yield from all_findings(formula, day)
    for ingredient in formula.ingredients.values():
        if not ingredient.readable:
            yield from target.snapshot.read(ingredient.file).findings
    for premix in formula.premixes.values():
        inner = formula.of_premix(premix)
        yield from judge(inner, day)
    for machine in formula.equipment.values():
        yield from refused(machine.facts, machine.file, None)
    yield from refused(target.snapshot.read(WORKSPACE_FILE).facts, WORKSPACE_FILE, None)
