"""What was signed along the first parents of a branch, and the trust that each signature is judged by.

The order of commits is the only clock.  A signature is judged by the trust of the commit before the one that brought
it; a change of the trust counts from the commit on at which the holders of the old one have signed it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from formula_vcs.approvals.payload import MOST_PAYLOAD, signed_in
from formula_vcs.approvals.trust import NO_GATE, Gate, gate_of, usable
from formula_vcs.git import commit_log, repository, ssh_keys
from formula_vcs.git.commit_log import Commit, Touch
from formula_vcs.history.versions import whole_line
from formula_vcs.model.approval import (
    CHANGE_TRUST,
    FOLDER,
    SIGNATURE,
    TRUST,
    TRUST_FILE,
    ApprovalRow,
    Signatory,
    Signed,
    TrustFile,
)
from formula_vcs.model.values import dataclass
from formula_vcs.toml import syntax
from formula_vcs.workspace.snapshot import WORKSPACE_FILE

NEVER: Final = 1 << 60  # the position of what has not arrived yet: after everything that has
_PLAIN: Final = frozenset({"100644", "100755"})


@dataclass(frozen=True, slots=True)
class ArrivedSignature:
    """One signed payload, where it arrived, and the trust that it is judged by (None: there was none)."""

    file: str
    said: Signed | str
    payload: bytes
    signature: bytes
    position: int
    commit: str
    trust: TrustFile | None
    key: tuple[str, str]


@dataclass(frozen=True, slots=True)
class GateAt:
    """The gate in force after a commit, and the rows that the commit's own workspace.toml has."""

    position: int
    gate: Gate
    rows: tuple[ApprovalRow, ...]


class Ledger:
    """The approvals of a workspace along the first parents of a commit.  Close it at the end."""

    def __init__(self, repo: repository.Repo, folder: str, tip: str, called: str = "") -> None:
        """Take the repository, the workspace's folder in it, a commit's id, and what people call that."""
        self.repo = repo
        self.tip = tip
        self.called = called or repository.short_id(tip)
        self.objects = repository.Objects(repo)
        self.root = commit_log.first_root(repo, tip)
        line, self.folders = whole_line(repo, tip, folder, first_parent=True)
        self.folder = folder
        self.arrivals: list[ArrivedSignature] = []
        self.unsigned = ""  # the commit that changed the gate without the signatures for it
        self._line = line
        self._verified: dict[tuple[str, str, str], bool] = {}
        self._tree: dict[str, str] = {}
        self._gates: list[GateAt] = [GateAt(-1, NO_GATE, ())]
        self._of_batch: dict[str, list[tuple[int, str]]] = {}
        self._seen: set[tuple[str, str]] = set()
        self._made: dict[tuple[str, str], Gate] = {}
        if self.root is not None:
            for position, commit in enumerate(line):
                self._take(position, commit)

    def close(self) -> None:
        """Let go of the objects."""
        self.objects.blobs.close()

    @property
    def cut(self) -> bool:
        """Say whether the history that would tell is not in this clone."""
        return self.root is None

    @property
    def gate(self) -> Gate:
        """Give the gate in force at the end."""
        return self._gates[-1].gate

    @property
    def trust(self) -> TrustFile | None:
        """Give who may sign now."""
        return usable(self.gate)

    def rows(self, position: int = NEVER) -> tuple[ApprovalRow, ...]:
        """Give the rows that ask for approvals before a position: those in force, and those that stand there."""
        found = next(one for one in reversed(self._gates) if one.position < position)
        return tuple(dict.fromkeys((*found.gate.rows, *found.rows)))

    def position(self, commit: str) -> int | None:
        """Give the place of a commit among those that touch the workspace; None where it is none of them."""
        return next((number for number, one in enumerate(self._line) if one.oid == commit), None)

    def batch_at(self, path: str, pin: object) -> int | None:
        """Give where a batch's file came to name the version that it names; None where it has not arrived so."""
        found = None
        for position, oid in reversed(self._of_batch.get(path, [])):
            if self._pin(oid) != pin:
                break
            found = position
        return found

    def present(self) -> frozenset[tuple[str, str]]:
        """Name the payloads and signatures that lie there at the end."""
        return frozenset(key for _, key in pairs(self._tree))

    def at(self, commit: str) -> Iterator[ArrivedSignature]:
        """Give what lies at a commit that is no part of the line, and has not arrived: judged by the trust of now."""
        for name, key in pairs(self.tree_of(commit)):
            if key not in self._seen:
                found = self._read(name, key, NEVER, "")
                if found is not None:
                    yield found

    def tree_of(self, commit: str) -> dict[str, str]:
        """Give the plain files of the gate at a commit: ``{path in the workspace: blob}``."""
        under = f"{self.folder}/" if self.folder else ""
        return {
            entry.path[len(under) :]: entry.oid
            for entry in self.objects.entries(commit, self.folder)
            if entry.mode in _PLAIN and _counts(entry.path[len(under) :])
        }

    def gate_at(self, commit: str) -> Gate:
        """Give the gate as a commit's own files have it, whoever signed that."""
        return self._gate(self.tree_of(commit))

    def signers(self, new: Gate, arrivals: Iterable[ArrivedSignature]) -> set[str]:
        """Name who, by the trust in force, has signed that another gate takes its place."""
        trust = self.trust
        if trust is None:
            return set()
        found = (self.signer(one, trust) for one in arrivals if _for_gate(one.said, self.gate.hash, new.hash))
        return {person.id for person in found if not isinstance(person, str)}

    def takes(self, new: Gate, arrivals: Iterable[ArrivedSignature]) -> bool:
        """Say whether another gate may take the place of the one in force."""
        trust = self.trust
        return usable(new) is not None and trust is not None and len(self.signers(new, arrivals)) >= trust.signatures

    def signer(self, one: ArrivedSignature, trust: TrustFile | None, *, then: bool = False) -> Signatory | str:
        """Give who made a signature, by some trust; why it does not hold where it does not.

        ``then`` judges as it was seen then: a key that was revoked since was none yet.

        :raises NoSshKeygenError: nothing here can tell.
        """
        said = one.said
        if isinstance(said, str):
            return f"the file {said}"
        found = ssh_keys.signature_in(one.signature)
        if found is None:
            return "its signature cannot be read"
        fault = self._astray(said, found, trust, then=then)
        person = None if trust is None else trust.by_key(found.key)
        if fault or person is None:
            return fault or f"its key {ssh_keys.fingerprint(found.key)} is nobody's in the trust file"
        if said.role not in person.roles:
            return f"{person.name} may not sign as {said.role}"
        if not self._verify(one, found.key):
            return f"the signature by the key of {person.name} does not fit: changed after it was signed, or forged"
        return person

    def _astray(self, said: Signed, found: ssh_keys.SignatureFound, trust: TrustFile | None, *, then: bool) -> str:
        """Say why a signature cannot count here, whoever made it; empty where it can."""
        if said.repository != self.root:
            return "it was signed for another repository"
        if said.workspace not in {folder or "." for folder in self.folders}:
            return f"it was signed for another workspace, '{said.workspace}'"
        if trust is None:
            return f"there was no trust file that can be used on {self.called} before it ({TRUST_FILE})"
        if found.namespace != ssh_keys.NAMESPACE:
            return f"its signature was made for something else ('{found.namespace}')"
        for revoked in (trust.revoked, {} if then or self.trust is None else self.trust.revoked):
            if found.key in revoked:
                return f"its key {ssh_keys.fingerprint(found.key)} is revoked: {revoked[found.key]}"
        return ""

    # The fold

    def _take(self, position: int, commit: Commit) -> None:
        touched = self._touch(position, commit.touches)
        before = self.trust
        for name, key in pairs(self._tree, sorted({path.removesuffix(SIGNATURE) for path in touched})):
            if key not in self._seen:
                found = self._read(name, key, position, commit.oid, before)
                self._seen.add(key)
                if found is not None:
                    self.arrivals.append(found)
        if touched:
            self._weigh(position, commit)

    def _touch(self, position: int, touches: Sequence[Touch]) -> set[str]:
        """Make a commit's touches of the files that count, and name them."""
        touched: set[str] = set()
        for touch in touches:
            old, new = self._inside(touch.old_path), self._inside(touch.path)
            if touch.status in "DR" and _counts(old):
                self._tree.pop(old, None)
                touched.add(old)
            if _counts(new) and touch.status != "D":
                touched.add(new)
                self._tree.pop(new, None)
                if touch.mode in _PLAIN:
                    self._tree[new] = touch.new
            if new.startswith("batches/") and touch.status != "D":
                if old != new and old in self._of_batch:
                    self._of_batch[new] = self._of_batch[old].copy()
                self._of_batch.setdefault(new, []).append((position, touch.new))
        return touched

    def _weigh(self, position: int, commit: Commit) -> None:
        """Let a gate take effect: the first one, the one in force again, or one that was signed."""
        last, now = self._gates[-1], self._gate(self._tree)
        first = usable(last.gate) is None
        fits = usable(now) is not None if first else now.hash == last.gate.hash or self.takes(now, self.arrivals)
        gate = now if fits else last.gate
        self.unsigned = "" if fits or first else self.unsigned or commit.oid
        if (gate, now.rows) != (last.gate, last.rows):
            self._gates.append(GateAt(position, gate, now.rows))

    def _gate(self, tree: dict[str, str]) -> Gate:
        oids = tree.get(TRUST_FILE, ""), tree.get(WORKSPACE_FILE, "")
        if oids not in self._made:
            self._made[oids] = gate_of(*(self._bytes(oid, syntax.LIMIT) if oid else None for oid in oids))
        return self._made[oids]

    def _read(
        self, name: str, key: tuple[str, str], position: int, commit: str, trust: TrustFile | None = None
    ) -> ArrivedSignature | None:
        payload = self._bytes(key[0], MOST_PAYLOAD)
        signature = self._bytes(key[1], ssh_keys.LARGEST)
        said = "is larger than any approval" if payload is None else signed_in(payload)
        judged_by = trust if position != NEVER else self.trust
        return ArrivedSignature(name, said, payload or b"", signature or b"", position, commit, judged_by, key)

    def _bytes(self, oid: str, limit: int) -> bytes | None:
        found = self.objects.blobs.read(oid, limit)
        return None if isinstance(found, repository.Oversized) else found

    def _verify(self, one: ArrivedSignature, key: str) -> bool:
        asked = (*one.key, key)
        if asked not in self._verified:
            self._verified[asked] = ssh_keys.verify(one.payload, one.signature, key)
        return self._verified[asked]

    def _pin(self, oid: str) -> object:
        data = self._bytes(oid, syntax.LIMIT)
        parsed = syntax.parse(data or b"")
        return None if parsed.errors else tuple(parsed.data.get(name) for name in ("recipe", "commit", "hash"))

    def _inside(self, path: str) -> str:
        around = [folder for folder in self.folders if not folder or path.startswith(f"{folder}/")]
        folder = max(around, key=len, default="")
        return path[len(folder) + 1 :] if folder else path


def _counts(path: str) -> bool:
    return path == WORKSPACE_FILE or path.startswith(FOLDER)


def _for_gate(said: Signed | str, old: str, new: str) -> bool:
    """Say whether a payload signs the way from one gate to another."""
    return (
        not isinstance(said, str)
        and said.decision == CHANGE_TRUST
        and said.role == TRUST
        and (said.was, said.content) == (old, new)
    )


def pairs(tree: dict[str, str], paths: Iterable[str] | None = None) -> list[tuple[str, tuple[str, str]]]:
    """Give the payloads (of some paths, or all) with a signature beside them: ``(path, (blob, signature's blob))``."""
    return [
        (path, (tree[path], tree[f"{path}{SIGNATURE}"]))
        for path in (sorted(tree) if paths is None else paths)
        if path.startswith(FOLDER) and path.endswith(".toml") and path in tree and f"{path}{SIGNATURE}" in tree
    ]
