"""How a version stands, in words, once for every format and for whoever prints a document about it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from formula_vcs.model.approval import APPROVED, UNKNOWN, ApprovalStanding, Decided, RoleStanding
from formula_vcs.reports.document.blocks import GAP, Block, Heading, Items, ListEntry, Look, Paragraph

_DIGITS: Final = 12
NOTHING_ASKED: Final = "no role has to approve it ([[approval]] in workspace.toml)"


def verdict(standing: ApprovalStanding) -> str:
    """Say in one line how a version stands."""
    if not standing.need.roles:
        return f"version {standing.content[:_DIGITS]}: {NOTHING_ASKED}"
    lacking = ", ".join(role.role for role in standing.lacking)
    if standing.approved:
        conditions = " on conditions" if any(role.condition for role in standing.roles) else ""
        return f"version {standing.content[:_DIGITS]}: approved{conditions}"
    state = UNKNOWN if standing.state == UNKNOWN else "not approved"
    return f"version {standing.content[:_DIGITS]}: {state} ({lacking})"


def role_line(role: RoleStanding) -> str:
    """Say how one role stands."""
    return f"{role.role}: {role.words}"


def approval_lines(standing: ApprovalStanding) -> tuple[str, ...]:
    """Say how a version stands, for a document: the verdict, a line a role, and what is odd; plain text, unescaped."""
    others = (f"{role_line(role)} (not asked for)" for role in standing.others if role.state == APPROVED)
    return (verdict(standing), *map(role_line, standing.roles), *others, *standing.notes)


def decision(one: Decided) -> str:
    """Say one decision, and why it does not count where it does not."""
    said = one.said
    more = f", on condition: {said.condition}" if said.condition else f": {said.why}" if said.why else ""
    verb = {"approve": "approves", "withdraw": "withdraws"}.get(said.decision, said.decision)
    fault = f"; does not count: {one.fault}" if one.fault else ""
    where = f"commit {one.commit[:10]}" if one.commit else "not on the base yet"
    return f"{said.role}, {one.who} {verb} {said.content[:_DIGITS]} ({where}){more}{fault}"


_LOOKS: Final[Mapping[str, Look]] = {APPROVED: "strong", UNKNOWN: "warn"}


def standing_blocks(standing: ApprovalStanding, level: int = 0, *, decisions: bool = False) -> Iterator[Block]:
    """Give how a version stands, a line a role; with ``decisions`` all that was ever signed about the recipe.

    It has a heading where a ``level`` is given.
    """
    title = f"Approvals of {standing.recipe}, {verdict(standing)}"
    yield Heading((title,), level) if level else Paragraph(title)
    marks = {APPROVED: "+ ", UNKNOWN: "? "}
    asked = [
        ListEntry(role_line(role), (), _LOOKS.get(role.state, "block"), marks.get(role.state, "- "))
        for role in standing.roles
    ]
    others = [ListEntry(f"{role_line(role)} (not asked for)", mark="  ") for role in standing.others]
    notes = [ListEntry(note, (), "warn", "! ") for note in standing.notes]
    yield Items((*asked, *others, *notes), hang=4)
    if decisions and standing.decisions:
        yield GAP
        yield Paragraph("All that was signed about it, the oldest first:")
        yield Items(tuple(ListEntry(decision(one)) for one in standing.decisions), hang=4)
