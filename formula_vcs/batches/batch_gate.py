"""What stands between a recipe and a batch: findings, claims nobody can judge, approvals, unfit lots, no commit."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Any

from formula_vcs.diff.counterfactuals import all_findings
from formula_vcs.errors import UserError
from formula_vcs.evidence.pinned_versions import Pinned
from formula_vcs.git import repository
from formula_vcs.model.approval import ApprovalStanding
from formula_vcs.model.finding import Finding, worst_first
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import replace
from formula_vcs.rules.judge import judge
from formula_vcs.rules.records.lots import Taker, unfit
from formula_vcs.rules.registry import RULES
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, Snapshot, refused

_OPEN_CLAIM = "claim-information"


def gate(formula: Formula, snapshot: Snapshot, day: datetime.date, without: Sequence[str]) -> list[Finding]:
    """What forbids a batch, the worst first; nothing where nothing does.

    A claim that needs facts forbids it: what is made under a claim must be known to keep it.  ``without`` names the
    claims that the batch is made without.

    :raises UserError: a claim is named that the recipe does not state.
    """
    for claim in without:
        if claim not in formula.recipe.claims:
            known = ", ".join(formula.recipe.claims) or "none"
            raise UserError(f"--without-claim: '{formula.recipe.id}' does not claim '{claim}'; it claims {known}")
    findings = dict.fromkeys(_findings(formula, snapshot, day))
    stopping = [item for item in findings if item.severity == "block"]
    claims = [item for item in findings if item.rule == _OPEN_CLAIM and item.severity == "warn"]
    stopping += [
        replace(item, severity="block", message=f"{item.message}. Without it: --without-claim '{item.subject}'")
        for item in claims
        if item.subject not in without
    ]
    return sorted((snapshot.place(item) for item in stopping), key=worst_first)


def approval_of(formula: Formula, repo: repository.Repo, folder: str, commit: str) -> ApprovalStanding | None:
    """Say how the version that a batch would be made from stands; None where nobody has to approve it.

    What is asked is what the base asks and what the version's own workspace.toml does.
    """
    from formula_vcs.approvals import asking

    standing = asking.standing_of(repo, folder, commit, formula)
    return standing if standing.need.roles else None


def unapproved(standing: ApprovalStanding, file: str) -> list[Finding]:
    """A finding, in the recipe's file, for each role that has not approved, and what is odd about the trust."""
    words = [f"{role.role}: {role.words}" for role in standing.lacking]
    words = [f"{words[0]} ({standing.notes[0]})", *words[1:]] if words and standing.notes else words
    rule = RULES["batch-approved"]
    return [
        Finding(rule.id, "block", f"not approved as {one}", file, line=1, column=1, recipe=standing.recipe,
                source=rule.source, subject=one)
        for one in words
    ]  # fmt: skip


def lot_trouble(ingredient: str, lot: str, formula: Formula, here: Snapshot, day: datetime.date) -> str:
    """Say why a lot may not go into a charge on a day, empty where it may."""
    premix = formula.premix_of(ingredient)
    taker = Taker(ingredient, None if premix is None else premix.id, "", day)
    return "; ".join(why.words for why in unfit(lot, taker, here))


def committed(formula: Formula, pinned: Pinned, commit: str) -> None:
    """Let a formula pass that is as it was committed.

    :raises UserError: the recipe, or something that it rests on, is not committed as it lies here.
    """
    short = repository.short_id(commit)
    name = formula.recipe.id
    if pinned.formula is None:
        raise UserError(f"'{name}' is not in commit {short}: commit it, then make the batch")
    changed = [] if pinned.formula is formula else list(_changed(formula, pinned.formula))
    if changed:
        files = ", ".join(changed[:5]) + (f" and {len(changed) - 5} more" if len(changed) > 5 else "")
        raise UserError(
            f"'{name}' as it lies here is not committed: {files} differ from commit {short}. "
            "A batch names the version that it is made from: commit first, or make it with --rev HEAD"
        )


def _changed(here: Formula, there: Formula) -> Iterator[str]:
    if here.recipe != there.recipe:
        yield here.recipe.file
    kinds: Sequence[tuple[Any, Any]] = (
        (here.ingredients, there.ingredients), (here.premixes, there.premixes), (here.equipment, there.equipment),
        (here.packaging, there.packaging),
    )  # fmt: skip
    for mine, theirs in kinds:
        yield from (one.file for name, one in mine.items() if theirs.get(name) != one)
    if here.workspace.facts != there.workspace.facts:
        yield "workspace.toml or rules/"


def _findings(formula: Formula, snapshot: Snapshot, day: datetime.date) -> Iterator[Finding]:
    """Judge the recipe, its ingredients, its premixes, and the values of the other files that it rests on."""
    yield from all_findings(formula, day)
    for ingredient in formula.ingredients.values():
        if not ingredient.readable:
            yield from snapshot.read(ingredient.file).findings
    for premix in formula.premixes.values():
        inner = formula.of_premix(premix)
        yield from judge(inner, day)
    for machine in formula.equipment.values():
        yield from refused(machine.facts, machine.file, None)
    for pack in formula.packaging.values():
        yield from refused(pack.facts, pack.file, None)
    yield from refused(snapshot.read(WORKSPACE_FILE).facts, WORKSPACE_FILE, None)
