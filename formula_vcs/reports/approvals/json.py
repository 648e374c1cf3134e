"""Who approved what, as data."""

from __future__ import annotations

from typing import Any

from formula_vcs.model.approval import ApprovalStanding, Decided, RoleStanding


def approvals(standing: ApprovalStanding) -> dict[str, Any]:
    """Give how a version stands, role by role, and all that was signed about the recipe."""
    return {
        "version": standing.content,
        "state": standing.state or None,
        "refused_without": standing.need.refuse,
        "roles": [_role(role) for role in standing.roles],
        "others": [_role(role) for role in standing.others],
        "decisions": [_decided(one) for one in standing.decisions],
        "notes": list(standing.notes),
    }


def _role(role: RoleStanding) -> dict[str, Any]:
    return {
        "role": role.role,
        "state": role.state,
        "by": role.who or None,
        "condition": role.condition or None,
        "file": role.file or None,
        "commit": role.commit or None,
        "words": role.words,
    }


def _decided(one: Decided) -> dict[str, Any]:
    said = one.said
    return {
        "role": said.role,
        "decision": said.decision,
        "by": one.who,
        "version": said.content,
        "condition": said.condition or None,
        "why": said.why or None,
        "file": one.file,
        "commit": one.commit or None,
        "counts": one.holds,
        "fault": one.fault or None,
    }
