"""Whether a change that loosens may pass, because the version that comes of it is approved as the base asks.

Nothing of the change is believed: who may sign, and what needs it, are the base's.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from formula_vcs.approvals.judging import Approvals
from formula_vcs.git.ssh_keys import NoSshKeygenError
from formula_vcs.model.approval import ApprovalStanding
from formula_vcs.workspace.snapshot import Snapshot

# What a signature on a version covers: its content, and what it rests on (`approvals.rests`).
COVERED: Final = frozenset(
    {"product", "market", "claim", "spec", "tolerance", "accept", "handling", "material", "rule", "approval"}
)
OF_GATE: Final = "approval"


class ApprovedLoosenings:
    """What may pass of a change from one snapshot of a workspace to another."""

    def __init__(self, approvals: Approvals, old: Snapshot, new: Snapshot) -> None:
        """Take the approvals as seen from the new side, by the trust of the base; and both sides."""
        self._approvals = approvals
        self._old = old
        self._new = new
        self._standings: dict[str, ApprovalStanding | None] = {}

    def words(self, kind: str, recipes: Sequence[str], was: dict[str, str], *, gate: bool) -> str:
        """Say by whom what loosens is approved; empty where it is not.

        ``recipes`` are those that it is under: every one of them must be approved.  ``gate`` says that it is the gate
        itself which changes (who may sign, what needs it): the old trust must then have signed the new one.  ``was``
        are other ids that recipes had.
        """
        try:
            if gate:
                return self._gate()
            if kind not in COVERED or not recipes:
                return ""
            found = [self._standing(name, was.get(name, name)) for name in recipes]
        except NoSshKeygenError:
            return ""
        if any(one is None or not one.need.roles or not one.approved for one in found):
            return ""
        people = dict.fromkeys(f"{role.who} ({role.role})" for one in found if one is not None for role in one.roles)
        return f"approved by {', '.join(people)}"

    def _gate(self) -> str:
        ledger = self._approvals.ledger
        if ledger.cut:
            return ""
        new = ledger.gate_at(self._approvals.commit)
        arrived = self._approvals.arrived()
        names = {} if ledger.trust is None else {person.id: person.name for person in ledger.trust.people}
        if not ledger.takes(new, arrived):
            return ""
        return f"signed by {', '.join(names[name] for name in sorted(ledger.signers(new, arrived)))} (trust)"

    def _standing(self, name: str, was: str) -> ApprovalStanding | None:
        if name not in self._standings:
            self._standings[name] = self._judged(name, was)
        return self._standings[name]

    def _judged(self, name: str, was: str) -> ApprovalStanding | None:
        before, after = self._old.recipe(was), self._new.recipe(name)
        if after is None:
            return None
        need = self._approvals.need(after)
        if before is not None:
            need |= self._approvals.need(before)
        return self._approvals.standing(self._new.formula(after), need)
