"""How a version of a recipe stands: which roles approved it, by signatures that hold, at some place in history."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from typing import Final

from formula_vcs.approvals.ledger import NEVER, ArrivedSignature, Ledger, pairs
from formula_vcs.approvals.makers import CommitMakers, made_in, makers_of
from formula_vcs.approvals.rests import content, rests_on
from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.git.ssh_keys import NoSshKeygenError
from formula_vcs.history.versions import Version, versions
from formula_vcs.model.approval import (
    APPROVE,
    APPROVED,
    PARTS,
    UNAPPROVED,
    UNKNOWN,
    WITHDRAW,
    ApprovalStanding,
    Decided,
    Needed,
    RoleStanding,
    Signatory,
    Signed,
    needed,
)
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, field
from formula_vcs.workspace.snapshot import Committed, Snapshot

UNTOLD: Final = "who made this version is not known: the history here does not hold it"
GONE: Final = "its file is not there any more"
# signatures that a branch brings: each may cost a process, and a hostile one brings thousands
_MOST_PENDING: Final = 200
_SHALLOW: Final = "this clone is shallow and its history does not tell: git fetch --unshallow"


@dataclass(frozen=True, slots=True)
class Standing:
    """One approval that holds: what arrived, who signed it."""

    arrival: ArrivedSignature
    said: Signed
    person: Signatory


@dataclass
class RoleHistory:
    """What one role decided on a recipe, in order: approvals that hold by content, withdrawals by content, and all."""

    holding: dict[str, list[Standing]] = field(default_factory=dict)
    withdrawn: dict[str, Standing] = field(default_factory=dict)
    decided: list[Decided] = field(default_factory=list)

    def ever(self) -> set[str]:
        """Name the contents that it approved and did not withdraw."""
        return {name for name, found in self.holding.items() if found}


class Approvals:
    """The approvals of a workspace, asked from a commit: what the base has, and what that commit brings besides.

    ``ledger`` is that of the base: the trust is read there, and never from the commit.
    """

    def __init__(self, ledger: Ledger, commit: str) -> None:
        """Take the base's ledger and the id of the commit that is asked from."""
        self.ledger = ledger
        self.commit = commit
        self._pending = [] if ledger.cut else list(islice(ledger.at(commit), _MOST_PENDING))
        self._histories: dict[tuple[str, int, bool], dict[str, RoleHistory]] = {}
        self._versions: dict[str, tuple[Version, ...]] = {}
        self._makers: dict[str, CommitMakers] = {}
        self._base: Snapshot | None = None
        here = {} if ledger.cut else ledger.tree_of(commit)
        self._present = ledger.present() | {key for _, key in pairs(here)}

    def need(self, recipe: Recipe, position: int = NEVER) -> Needed:
        """Give what must approve a recipe: by the gate in force at the base, and by what stands there.

        Now (where no position is given) a recipe also needs what it needs as the base has it: a branch that calls it
        another product is asked for no less.
        """
        found = needed(self.ledger.rows(position), recipe)
        before = self._at_base(recipe.id) if position == NEVER else None
        return found if before is None else found | needed(self.ledger.rows(), before)

    def _at_base(self, recipe: str) -> Recipe | None:
        ledger = self.ledger
        if self._base is None:
            source = Committed(ledger.repo, ledger.tip, ledger.folder, ledger.called, ledger.objects)
            self._base = Snapshot(source)
        return self._base.recipe(recipe)

    @property
    def pending(self) -> Sequence[ArrivedSignature]:
        """Give what was signed and has not arrived on the base yet."""
        return self._pending

    def standing(
        self, formula: Formula, need: Needed, *, position: int = NEVER, law: bool = True, then: bool = False
    ) -> ApprovalStanding:
        """Say how a version stands before a place in history (now, where none is given).

        ``law`` compares the law that it was approved under with this program's too; ``then`` looks away from keys that
        were revoked since.
        """
        wanted = content(formula)
        name = formula.recipe.id
        if self.ledger.cut:
            return self._unknown(name, wanted, need, _SHALLOW)
        rests = rests_on(formula, law=law)
        try:
            found = self._history(name, position, then=then)
            roles = {role: self._role(role, found.get(role), wanted, rests) for role in (*need.roles, *found)}
        except NoSshKeygenError as error:
            return self._unknown(name, wanted, need, str(error))
        asked = _by_several([roles[role] for role in need.roles], found, wanted, rests)
        decisions = sorted(
            (one for history in found.values() for one in history.decided), key=lambda one: (one.commit == "", one.file)
        )
        return ApprovalStanding(
            name, wanted, need, tuple(asked), tuple(roles[role] for role in found if role not in need.roles),
            tuple(decisions), tuple(self._notes()),
        )  # fmt: skip

    def approved_contents(self, recipe: str) -> Mapping[str, set[str]]:
        """Give the contents of a recipe that each role approved and did not withdraw.

        :raises NoSshKeygenError: nothing here can tell.
        """
        return {role: history.ever() for role, history in self._history(recipe, NEVER).items()}

    def contents(self, recipe: str) -> list[str]:
        """Give the contents that a recipe had up to the commit, the oldest first."""
        there = (one for one in self.versions_of(recipe) if one.formula is not None and one.there)
        return [content(one.formula) for one in there if one.formula is not None]

    def withdrawal(self, recipe: str, role: str, wanted: str) -> str:
        """Give the id of the withdrawal that stands against a content, empty where none does."""
        history = self._history(recipe, NEVER).get(role)
        found = None if history is None else history.withdrawn.get(wanted)
        return "" if found is None else found.said.id

    def versions_of(self, recipe: str) -> tuple[Version, ...]:
        """Give the versions of a recipe up to the commit, oldest first; none where the history does not tell."""
        if recipe not in self._versions:
            try:
                found = versions(self.ledger.repo, self.ledger.folder, recipe, self.commit).versions
            except UserError:
                found = ()
            self._versions[recipe] = found
        return self._versions[recipe]

    def approved_by(self, formula: Formula) -> tuple[RoleStanding, ...]:
        """Give the roles that approved a version, resting on what it rested on; whatever was asked for."""
        if self.ledger.cut:
            return ()
        rests = rests_on(formula, law=False)
        histories = self._history(formula.recipe.id, NEVER)
        good = ((role, _good(history, content(formula), rests)) for role, history in histories.items())
        return tuple(_approved(role, found[-1], self.ledger.called) for role, found in good if found)

    def last_approved(self, formula: Formula, role: str) -> str:
        """Give the commit of the newest version that a role approved, resting on what it then rested on.

        Empty where there is none, or the history does not hold it any more.
        """
        history = self._history(formula.recipe.id, NEVER).get(role, RoleHistory())
        for one in reversed(self.versions_of(formula.recipe.id)):
            if one.formula is not None and one.there:
                rests = rests_on(one.formula, law=False)
                if _good(history, content(one.formula), rests):
                    return one.commit.oid
        return ""

    def arrived(self) -> list[ArrivedSignature]:
        """Give all that was signed, on the base and beside it."""
        return [*self.ledger.arrivals, *self._pending]

    def own_commits(self, person: Signatory, formula: Formula, stops: set[str]) -> list[str] | None:
        """Name the commits by which somebody made a version out of those approved before; None where none has it."""
        return self._own(person, formula.recipe.id, content(formula), stops)

    def _own(self, person: Signatory, recipe: str, wanted: str, stops: set[str]) -> list[str] | None:
        made = made_in(self.versions_of(recipe), wanted, stops - {wanted})
        return None if made is None else [commit for commit in made if self._made_by(commit).are(person)]

    def _made_by(self, commit: str) -> CommitMakers:
        if commit not in self._makers:
            self._makers[commit] = makers_of(self.ledger.objects, commit)
        return self._makers[commit]

    # One recipe's decisions, in order

    def _history(self, recipe: str, position: int, *, then: bool = False) -> dict[str, RoleHistory]:
        asked = recipe, position, then
        if asked not in self._histories:
            self._histories[asked] = self._told(recipe, position, then=then)
        return self._histories[asked]

    def _told(self, recipe: str, position: int, *, then: bool) -> dict[str, RoleHistory]:
        arrived = [one for one in self.ledger.arrivals if one.position < position]
        if position == NEVER:
            arrived += self._pending
        found: dict[str, RoleHistory] = {}
        for one in sorted(arrived, key=_order):
            said = one.said
            if isinstance(said, str) or said.recipe != recipe or said.decision not in (APPROVE, WITHDRAW):
                continue
            history = found.setdefault(said.role, RoleHistory())
            person = self.ledger.signer(one, one.trust, then=then)
            fault = person if isinstance(person, str) else ""
            if isinstance(person, Signatory):
                fault = self._decide(history, Standing(one, said, person))
            who = person.name if isinstance(person, Signatory) else "somebody"
            history.decided.append(Decided(said, one.file, who, one.commit, fault))
        return found

    def _decide(self, history: RoleHistory, one: Standing) -> str:
        """Let a decision take effect; give why it has none."""
        said = one.said
        if said.decision == WITHDRAW:
            history.holding.pop(said.content, None)
            history.withdrawn[said.content] = one
            return ""
        if one.arrival.key not in self._present:
            return GONE
        against = history.withdrawn.get(said.content)
        if against is not None and said.after != against.said.id:
            return f"{against.person.name} withdrew it: {against.said.why}"
        own = self._own(one.person, said.recipe, said.content, history.ever())
        if own is None:
            return UNTOLD
        if own:
            short = ", ".join(map(repository.short_id, own[:3]))
            return f"{one.person.name} made the change (commit {short}): nobody approves her own"
        history.withdrawn.pop(said.content, None)
        history.holding.setdefault(said.content, []).append(one)
        return ""

    # Words

    def _role(self, role: str, history: RoleHistory | None, wanted: str, rests: Mapping[str, str]) -> RoleStanding:
        if history is None:
            return RoleStanding(role, UNAPPROVED, "nobody has approved it")
        good = _good(history, wanted, rests)
        if good:
            return _approved(role, good[-1], self.ledger.called)
        against = history.withdrawn.get(wanted)
        if against is not None:
            words = f"withdrawn by {against.person.name}: {against.said.why}"
            return RoleStanding(role, UNAPPROVED, words, against.person.name)
        for one in reversed(history.holding.get(wanted, [])):
            moved = ", ".join(PARTS[part] for part in _moved(one.said, rests))
            words = f"approved by {one.person.name}, but it rests on other things now: {moved}"
            return RoleStanding(role, UNAPPROVED, words, one.person.name)
        faults = [one for one in history.decided if one.said.content == wanted and one.fault]
        if faults:
            return RoleStanding(role, UNAPPROVED, f"signed, and it does not hold: {faults[-1].fault}")
        earlier = [one for found in history.holding.values() for one in found]
        if earlier:
            last = max(earlier, key=lambda one: one.arrival.position)
            where = f" (commit {repository.short_id(last.arrival.commit)})" if last.arrival.commit else ""
            words = f"{last.person.name} approved an earlier version{where}; it has changed since"
            return RoleStanding(role, UNAPPROVED, words, last.person.name)
        return RoleStanding(role, UNAPPROVED, "nobody has approved it")

    def _unknown(self, recipe: str, wanted: str, need: Needed, why: str) -> ApprovalStanding:
        return ApprovalStanding(
            recipe, wanted, need, tuple(RoleStanding(role, UNKNOWN, why) for role in need.roles), notes=(why,)
        )

    def _notes(self) -> Iterator[str]:
        ledger = self.ledger
        if ledger.unsigned:
            trust = ledger.trust
            count = 1 if trust is None else trust.signatures
            yield (
                f"commit {repository.short_id(ledger.unsigned)} changed who may sign, or what needs it, without the "
                f"{count} signature{'s' if count > 1 else ''} of the role 'trust': what was before it counts"
            )
        elif ledger.trust is None:
            yield f"{ledger.called} has no trust file that can be used (approvals/trust.toml): no signature counts"


def _order(one: ArrivedSignature) -> tuple[int, int, str]:
    said = one.said
    if isinstance(said, str):
        return one.position, 0, one.file
    rank = 1 if said.decision == WITHDRAW else 2 if said.after else 0
    return one.position, rank, one.file


def _moved(said: Signed, rests: Mapping[str, str]) -> list[str]:
    return [part for part in PARTS if part in rests and said.rests_on.get(part) != rests[part]]


def _good(history: RoleHistory, wanted: str, rests: Mapping[str, str]) -> list[Standing]:
    return [one for one in history.holding.get(wanted, []) if not _moved(one.said, rests)]


def _approved(role: str, one: Standing, called: str) -> RoleStanding:
    said = one.said
    where = f"commit {repository.short_id(one.arrival.commit)}" if one.arrival.commit else f"not on {called} yet"
    condition = f", on condition: {said.condition}" if said.condition else ""
    words = f"approved by {one.person.name} ({where}){condition}"
    return RoleStanding(role, APPROVED, words, one.person.name, said.condition, one.arrival.file, one.arrival.commit)


def _by_several(
    roles: Sequence[RoleStanding], found: Mapping[str, RoleHistory], wanted: str, rests: Mapping[str, str]
) -> Iterator[RoleStanding]:
    """Let one person count for one role only: two roles are two pairs of eyes."""
    who = {
        role.role: [one.person.id for one in _good(found[role.role], wanted, rests)]
        for role in roles
        if role.state == APPROVED
    }
    taken: dict[str, str] = {}
    for name in who:
        _match(name, who, taken, set())
    for role in roles:
        if role.state != APPROVED or role.role in taken.values():
            yield role
            continue
        words = f"{role.who} approved it, and counts for another role already: two roles are two people"
        yield RoleStanding(role.role, UNAPPROVED, words, role.who)


def _match(role: str, who: Mapping[str, Sequence[str]], taken: dict[str, str], tried: set[str]) -> bool:
    """Find a person for a role, moving others to another role where that makes room."""
    for person in who[role]:
        if person not in tried:
            tried.add(person)
            if person not in taken or _match(taken[person], who, taken, tried):
                taken[person] = role
                return True
    return False
