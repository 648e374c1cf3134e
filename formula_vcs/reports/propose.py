"""A proposal: what moves, what that reaches, what the check says of it, and what was not asked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Final

from formula_vcs.mending.propose import Proposal, TargetConflict
from formula_vcs.mending.target import said
from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Column,
    Document,
    FindingLine,
    Heading,
    Items,
    ListEntry,
    Paragraph,
    Report,
    Row,
    TableBlock,
    Verdict,
)
from formula_vcs.reports.document.data import Exact, Name, SchemaRule
from formula_vcs.reports.review_document import counted
from formula_vcs.words.imitation import titled
from formula_vcs.words.numbers import exact_text, shown, signed

NOT_ASKED: Final = (
    "Not asked: texture, stability, preservation in use, safety. A change of amounts is another formula: make it on "
    "the bench, and let the safety assessor and local law decide."
)


def document(found: Proposal) -> Document:
    """Say what is proposed, or why nothing is."""
    recipe = found.before.recipe
    asked = "; ".join(target.words for target in found.targets) or "that nothing blocks"
    blocks: list[Block] = [
        Heading(titled(recipe.title), kind="Proposal for", name=recipe.id),
        Paragraph(f"asked: {asked}", "dim"),
        GAP,
    ]
    blocks += _proposed(found) if found.formula is not None else _nothing(found)
    return Document(f"Proposal for {titled(recipe.title)}", (*blocks, GAP, Paragraph(NOT_ASKED)))


def _proposed(found: Proposal) -> Iterator[Block]:
    if not found.moved:
        yield Verdict((Paragraph("All of that holds as the recipe is: nothing has to move."),), "good")
        return
    moving = sum(not one.rest for one in found.moved)
    how = "the smallest change" if found.by == "smallest" else "the cheapest recipe"
    yield Verdict((Paragraph(f"{how}, in whole 0.01 %: {counted(moving, 'charge')} moved"),), "good")
    rows = [
        Row(
            (
                f"{one.charge.ingredient} ({one.charge.phase})",
                f"{shown(one.before)} %",
                f"{shown(one.after)} %",
                f"{signed(one.after - one.before)}",
                "takes the rest" if one.rest else "",
            )
        )
        for one in found.moved
    ]
    columns = (
        Column("charge", most=36),
        Column("now", "point"),
        Column("proposed", "point"),
        Column("points", "point"),
        Column(),
    )
    yield TableBlock(columns, tuple(rows), "The charges that move", heads=True)
    yield GAP
    rows = [Row((one.target.words, said(one.target, one.before), said(one.target, one.after))) for one in found.reached]
    if found.cost is not None and all(one.target.name != "cost_per_kg" for one in found.reached):
        rows.append(Row(("cost per kg", *(f"{shown(cost, 4, 4)} {found.currency}/kg" for cost in found.cost))))
    if rows:
        heads = (Column("asked", most=40), Column("now"), Column("proposed"))
        yield TableBlock(heads, tuple(rows), "What that reaches", heads=True)
        yield GAP
    if found.still:
        yield Paragraph("The check blocks, as it does now:")
        yield from (FindingLine(one, indent=2) for one in found.still)
    else:
        yield Paragraph("Judged by all rules: nothing blocks.")
    if found.warned:
        yield Paragraph("New warnings:")
        yield from (FindingLine(one, indent=2) for one in found.warned)


def _nothing(found: Proposal) -> Iterator[Block]:
    if found.conflict is None:
        yield Verdict((Paragraph(f"No proposal: {found.why}."),), "warn")
        return
    yield Verdict(tuple(_conflict(found.conflict, found.why)), "bad")


def _conflict(conflict: TargetConflict, why: str) -> Iterator[Block]:
    within = f"with what may move, {counted(conflict.most, 'charge')} at most at once"
    if not conflict.targets:
        yield Paragraph(f"Nothing lets it pass {within}{why}.")
        return
    if len(conflict.targets) == 1:
        (target,) = conflict.targets
        reach = "" if conflict.reach is None else f"; as far as it goes is {said(target, conflict.reach)}"
        yield Paragraph(f"'{target.words}' cannot be reached {within}{reach}{why}.")
        return
    yield Paragraph(f"These cannot hold together {within}; without any one of them the others can{why}:")
    yield Items(tuple(ListEntry(target.words) for target in conflict.targets), mark="- ")


@dataclass(frozen=True, slots=True)
class MovedRecord:
    """A charge that moves."""

    phase: Name
    ingredient: Name
    before: Exact
    after: Exact
    rest: Annotated[bool, SchemaRule("It takes what the others leave")]


@dataclass(frozen=True, slots=True)
class ReachedRecord:
    """A target, with what its number was and is."""

    target: str
    unit: str
    before: Exact
    after: Exact


@dataclass(frozen=True, slots=True)
class ProposalRecord:
    """The smallest or the cheapest change that reaches what is asked, or why there is none."""

    recipe: str
    by: Annotated[str, SchemaRule(one_of=("smallest", "cheapest"))]
    targets: tuple[str, ...]
    found: bool
    moved: tuple[MovedRecord, ...]
    reached: tuple[ReachedRecord, ...]
    warned: Annotated[tuple[str, ...], SchemaRule("New warnings, each as [rule] words")]
    conflict: Annotated[tuple[str, ...], SchemaRule("Targets that cannot hold together, none of which is too many")]
    why: str


def record(found: Proposal) -> ProposalRecord:
    """Give the proposal as data."""
    moved = tuple(
        MovedRecord(one.charge.phase, one.charge.ingredient, exact_text(one.before), exact_text(one.after), one.rest)
        for one in found.moved
    )
    reached = tuple(
        ReachedRecord(one.target.words, one.target.unit, exact_text(one.before), exact_text(one.after))
        for one in found.reached
    )
    return ProposalRecord(
        found.before.recipe.id, found.by, tuple(one.words for one in found.targets), found.formula is not None, moved,
        reached, tuple(f"[{one.rule}] {one.message}" for one in found.warned),
        () if found.conflict is None else tuple(one.words for one in found.conflict.targets), found.why,
    )  # fmt: skip


REPORT: Final = Report("propose", "propose", document, record)
