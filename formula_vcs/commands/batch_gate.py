"""What stands between a recipe and a batch: findings that block, and claims that nobody can judge yet."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence

from formula_vcs.commands import recipe_args
from formula_vcs.diff.finding_causes import all_findings
from formula_vcs.errors import UserError
from formula_vcs.model.approval import ApprovalStanding
from formula_vcs.model.finding import Finding, worst_first
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import replace
from formula_vcs.rules.judge import judge
from formula_vcs.rules.registry import RULES
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


def approval_of(formula: Formula, target: recipe_args.Target, commit: str) -> ApprovalStanding | None:
    """Say how the version that a batch would be made from stands; None where nobody has to approve it.

    What is asked is what the base asks and what the version's own workspace.toml does.
    """
    from formula_vcs.approvals import asking

    repo = target.place.repo
    if repo is None:
        return None
    found = asking.standing_of(repo, target.place.folder, commit, formula)
    return found if found.need.roles else None


def unapproved(standing: ApprovalStanding, target: recipe_args.Target) -> list[Finding]:
    """Give a finding for each role that has not approved, and what is odd about the trust."""
    words = [f"{role.role}: {role.words}" for role in standing.lacking]
    words = [f"{words[0]} ({standing.notes[0]})", *words[1:]] if words and standing.notes else words
    rule = RULES["batch-approved"]
    return [
        Finding(rule.id, "block", f"not approved as {one}", target.file, line=1, column=1, recipe=standing.recipe,
                source=rule.source, subject=one, shown=target.shown(target.file))
        for one in words
    ]  # fmt: skip


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
    for pack in formula.packaging.values():
        yield from refused(pack.facts, pack.file, None)
    yield from refused(target.snapshot.read(WORKSPACE_FILE).facts, WORKSPACE_FILE, None)
