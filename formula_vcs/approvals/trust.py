"""Who may sign as what, and what needs it: the gate of a workspace, as one commit has it."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from formula_vcs.git.ssh_keys import key_of
from formula_vcs.model.approval import TRUST, ApprovalRow, Signatory, TrustFile, approval_rows
from formula_vcs.model.facts import Facts, readable, unread
from formula_vcs.model.values import dataclass
from formula_vcs.toml import syntax
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.record_files import read_approvals
from formula_vcs.words.checksums import sha256

_MOST_PEOPLE: Final = 1000
_SHOWN: Final = 40


def trust_of(facts: Facts) -> TrustFile:
    """Give the trust that a file states; with ``problems`` it is none that anybody is judged by."""
    problems = [value.message for _, value in unread(facts)]
    changes = facts.get(("changes",))
    count = int(changes) if isinstance(changes, Decimal) else 0
    return TrustFile(tuple(_people(facts)), _revoked(facts), count, (*problems, *contradictions(facts)))


def contradictions(facts: Facts) -> list[str]:
    """Say why a trust file is none, besides the values in it that cannot be read."""
    people = _people(facts)
    problems: dict[str, None] = {}
    if len(people) > _MOST_PEOPLE:
        problems[f"{len(people)} people; a trust file has at most {_MOST_PEOPLE}"] = None
    owners: dict[str, str] = {}
    for person in people:
        if not person.emails:
            problems[f"'{person.id}' has no address: her own changes could not be told from those of others"] = None
        for what in (*person.keys, *person.emails):
            first = owners.setdefault(what, person.id)
            if first != person.id:
                kind = "key" if " " in what else "address"
                problems[f"'{first}' and '{person.id}' have one {kind}: a {kind} is one person's"] = None
    if not any(TRUST in person.roles for person in people):
        problems[f"nobody has the role '{TRUST}': nobody could change this file"] = None
    lines = [path[-1] for path, value in facts.items() if len(path) == 4 and path[2] == "keys" and value is True]
    lines += [line for line, _ in _revoked_lines(facts)]
    bad = (line for line in lines if key_of(line) is None)
    problems |= {f"'{line[:_SHOWN]}...' is no public key of a kind that is known here": None for line in bad}
    return list(problems)


def _people(facts: Facts) -> list[Signatory]:
    names = dict.fromkeys(path[1] for path in facts if path[0] == "person" and len(path) > 1)
    return [_person(facts, name) for name in names]


def _members(facts: Facts, *prefix: str) -> list[str]:
    found = ((path[:-1], path[-1], value) for path, value in facts.items())
    return [name for above, name, value in found if above == prefix and value is True]


def _person(facts: Facts, name: str) -> Signatory:
    keys = [key for line in _members(facts, "person", name, "keys") if (key := key_of(line)) is not None]
    return Signatory(
        name,
        readable(facts.get(("person", name, "name")), str) or name,
        frozenset(_members(facts, "person", name, "roles")),
        frozenset(email.casefold() for email in _members(facts, "person", name, "emails")),
        tuple(dict.fromkeys(keys)),
    )


def _revoked_lines(facts: Facts) -> list[tuple[str, str]]:
    numbers = dict.fromkeys(path[1] for path in facts if path[0] == "revoked" and len(path) == 3)
    rows = (tuple(readable(facts.get(("revoked", number, name)), str) for name in ("key", "why")) for number in numbers)
    return [(key, why or "") for key, why in rows if key is not None]


def _revoked(facts: Facts) -> dict[str, str]:
    return {key: why for line, why in _revoked_lines(facts) if (key := key_of(line)) is not None}


@dataclass(frozen=True)
class Gate:
    """Who may sign (None where there is no trust file that can be used), and what a workspace wants approved.

    ``hash`` names both: a change of either is a change of the gate.
    """

    trust: TrustFile | None
    rows: tuple[ApprovalRow, ...]
    hash: str


NO_GATE: Final = Gate(None, (), "")


def gate_of(trust: bytes | None, workspace: bytes | None) -> Gate:
    """Give the gate that two files make: approvals/trust.toml and workspace.toml, None where one is not there."""
    parsed = syntax.parse(trust or b"")
    facts = None if trust is None or parsed.errors else read_approvals(parsed.data)
    found = None if facts is None else trust_of(facts)
    parsed = syntax.parse(workspace or b"")
    rows = () if parsed.errors else approval_rows(facts_of("workspace", parsed.data))
    return Gate(found, rows, gate_hash(trust, rows))


def gate_hash(trust: bytes | None, rows: tuple[ApprovalRow, ...]) -> str:
    """Name a gate: the trust file's bytes, whatever ends its lines, and the rows that ask for approvals."""
    spelled = "".join(
        f"{sorted(row.roles)} {sorted(row.products)} {sorted(row.recipes)} {row.unapproved}\n"
        for row in sorted(rows, key=repr)
    )
    text = (trust or b"").replace(b"\r\n", b"\n")
    return sha256(b"%d\n%s\n%s" % (len(text), text, spelled.encode("utf-8", "surrogateescape"))).hexdigest()


def usable(gate: Gate) -> TrustFile | None:
    """Give the trust of a gate where somebody can be judged by it."""
    return None if gate.trust is None or gate.trust.problems else gate.trust


def trust_changes(old: TrustFile, new: TrustFile) -> list[str]:
    """Say what differs between two trust files, a line a thing."""
    before, after = ({person.id: person for person in side.people} for side in (old, new))
    lines = [f"- {name}: may sign nothing any more" for name in before if name not in after]
    for name, person in after.items():
        was = before.get(name)
        roles = ", ".join(sorted(person.roles)) or "nothing"
        if was is None:
            lines.append(f"+ {name} ({person.name}): {roles}; {len(person.keys)} key(s)")
        elif was != person:
            told = (
                [f"roles {', '.join(sorted(was.roles)) or 'none'} \u2192 {roles}"] if was.roles != person.roles else []
            )
            told += ["other keys"] if was.keys != person.keys else []
            told += ["other addresses"] if was.emails != person.emails else []
            told += [f"name {was.name} \u2192 {person.name}"] if was.name != person.name else []
            lines.append(f"~ {name}: {'; '.join(told)}")
    lines += [f"a key is revoked: {why}" for key, why in new.revoked.items() if key not in old.revoked]
    lines += [f"a key is revoked no more: {why}" for key, why in old.revoked.items() if key not in new.revoked]
    if old.signatures != new.signatures:
        lines.append(f"signatures for a change: {old.signatures} \u2192 {new.signatures}")
    return lines or ["nobody's part changes"]
