"""How a version stands, in words, once for every format and for whoever prints a document about it."""

from __future__ import annotations

from typing import Final

from formula_vcs.model.approval import APPROVED, UNKNOWN, ApprovalStanding, Decided, RoleStanding

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
