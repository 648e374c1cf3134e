"""Make an approval: what is to be signed, whether the signer may, and the two files that come of it."""

from __future__ import annotations

import datetime
from typing import Any, Final

from formula_vcs.approvals.judging import Approvals
from formula_vcs.approvals.ledger import NEVER, ArrivedSignature
from formula_vcs.approvals.payload import payload, signed_in
from formula_vcs.approvals.rests import content, rests_on
from formula_vcs.approvals.trust import Gate, usable
from formula_vcs.errors import UserError
from formula_vcs.git import repository, ssh_keys
from formula_vcs.model.approval import (
    APPROVE,
    CHANGE_TRUST,
    SIGNATURE,
    TRUST,
    TRUST_FILE,
    WITHDRAW,
    Signatory,
    TrustFile,
    identity,
)
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass
from formula_vcs.words.quoting import slug

_SHORT: Final = 12
HELP: Final = "'git formula help approvals' shows how to begin"


@dataclass(frozen=True)
class SigningKey:
    """The key to sign with, as git names it, its public half where that can be seen, and the program that signs."""

    name: str
    public: str | None
    program: str


@dataclass(frozen=True)
class SignedFiles:
    """What was signed: the payload's path in the workspace, its bytes, and the signature's."""

    path: str
    payload: bytes
    signature: bytes

    @property
    def signature_path(self) -> str:
        """Give the path of the signature."""
        return f"{self.path}{SIGNATURE}"


def own_key(repo: repository.Repo) -> SigningKey:
    """Find the key of who stands here.

    :raises UserError: there is none.
    """
    name = ssh_keys.signing_key(repo)
    return SigningKey(name, ssh_keys.public_key(name), ssh_keys.signing_program(repo))


def trust_here(approvals: Approvals) -> TrustFile:
    """Give the trust that a signature would be judged by.

    :raises UserError: there is none, or the clone is too shallow to know it.
    """
    ledger = approvals.ledger
    if ledger.cut:
        raise UserError(f"who may approve is told by the whole history; {repository.SHALLOW}")
    if ledger.trust is None:
        raise UserError(f"{ledger.called} has no {TRUST_FILE} that can be used, so nobody may approve; {HELP}")
    return ledger.trust


def may_sign(trust: TrustFile, key: SigningKey, role: str) -> Signatory | None:
    """Give who the key is of; None where that is only seen when it has signed.

    :raises UserError: nobody's key, a revoked one, or one that may not sign as that.
    """
    known = sorted({name for person in trust.people for name in person.roles})
    if role not in known:
        from formula_vcs.toml.takers import nearest

        raise UserError(f"nobody may sign as '{role}' here{nearest(role, known) or '; roles: ' + ', '.join(known)}")
    if key.public is None:
        return None
    if key.public in trust.revoked:
        raise UserError(f"your key is revoked: {trust.revoked[key.public]}")
    person = trust.by_key(key.public)
    if person is None:
        raise UserError(f"your key {ssh_keys.fingerprint(key.public)} is nobody's in {TRUST_FILE} of the base")
    if role not in person.roles:
        raise UserError(f"{person.name} may not sign as {role}; only as {', '.join(sorted(person.roles)) or 'nothing'}")
    return person


def approval(approvals: Approvals, formula: Formula, role: str, condition: str) -> dict[str, Any]:
    """Give what an approval of a version says."""
    wanted = content(formula)
    return _about(approvals) | {
        "recipe": formula.recipe.id,
        "content": wanted,
        "role": role,
        "decision": APPROVE,
        "condition": condition,
        "after": approvals.withdrawal(formula.recipe.id, role, wanted),
        "rests_on": dict(rests_on(formula)),
    }


def withdrawal(approvals: Approvals, formula: Formula, role: str, why: str) -> dict[str, Any]:
    """Give what takes an approval back: that of the version here, else of the last one that the role approved.

    :raises UserError: the role has approved nothing that stands.
    """
    recipe, wanted = formula.recipe.id, content(formula)
    approved = approvals.approved_contents(recipe).get(role, set())
    if wanted not in approved:
        found = [one for one in approvals.contents(recipe) if one in approved]
        if not found:
            raise UserError(f"{role} has approved no version of '{recipe}' that is not withdrawn")
        wanted = found[-1]
    said = {"recipe": recipe, "content": wanted, "role": role, "decision": WITHDRAW, "why": why}
    return _about(approvals) | said


def trust_change(approvals: Approvals, new: Gate) -> dict[str, Any]:
    """Give what signs that another gate takes the place of the one in force.

    :raises UserError: it is the one in force, or none that could be.
    """
    if new.hash == approvals.ledger.gate.hash:
        raise UserError(f"{TRUST_FILE} and the [[approval]] rows are those in force: there is nothing to sign")
    if usable(new) is None:
        problem = new.trust.problems[0] if new.trust is not None and new.trust.problems else "it is not there"
        raise UserError(f"{TRUST_FILE} cannot be used: {problem}")
    said = {"content": new.hash, "was": approvals.ledger.gate.hash, "role": TRUST, "decision": CHANGE_TRUST}
    return _about(approvals) | said


def _about(approvals: Approvals) -> dict[str, Any]:
    now = datetime.datetime.now(tz=datetime.UTC).replace(microsecond=0)
    return {"repository": approvals.ledger.root, "workspace": approvals.ledger.folder or ".", "signed": now}


def signed(approvals: Approvals, said: dict[str, Any], key: SigningKey) -> SignedFiles:
    """Sign, and check what was signed as anybody will check it later.

    :raises UserError: it was not signed, or would not count.
    """
    order = ("repository", "workspace", "recipe", "content", "was", "role", "decision", "condition", "why", "after")
    table = {name: said.get(name, "") for name in (*order, "signed", "rests_on")}
    data = payload(table)
    signature = ssh_keys.sign(data, key.name, key.program)
    folder = slug(said["recipe"]) if said.get("recipe") else "trust"
    path = (
        f"approvals/{folder}/{said['content'][:_SHORT]}-{slug(said['role'])}-{identity(data + signature)[:_SHORT]}.toml"
    )
    one = ArrivedSignature(
        path, signed_in(data), data, signature, NEVER, "", approvals.ledger.trust, (identity(data), "new")
    )
    found = approvals.ledger.signer(one, approvals.ledger.trust)
    if isinstance(found, str):
        raise UserError(f"nothing is written, as the signature would not count: {found}")
    return SignedFiles(path, data, signature)
