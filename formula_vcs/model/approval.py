"""Approvals: who must approve what, what somebody signed, and how a version of a recipe stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from formula_vcs.model.facts import Facts
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, field
from formula_vcs.words.checksums import sha256

FORMAT: Final = 1
APPROVE: Final = "approve"
WITHDRAW: Final = "withdraw"
FOLDER: Final = "approvals/"
TRUST_FILE: Final = "approvals/trust.toml"
SIGNATURE: Final = ".sig"
CHANGE_TRUST: Final = "change trust"
DECISIONS: Final = (APPROVE, WITHDRAW, CHANGE_TRUST)
REFUSE, MARK = "refuse", "mark"
TRUST: Final = "trust"
"""The role whose holders sign a change of who may sign."""
PARTS: Final[Mapping[str, str]] = {
    "materials": "materials and premixes",
    "equipment": "equipment",
    "packaging": "packaging",
    "house": "rules and defaults of the house",
    "law": "law in force",
    "accepted": "accepted findings",
}
"""What a version rests on, each part with a hash of its own, so that it can be said which one moved."""


@dataclass(frozen=True, slots=True)
class ApprovalRow:
    """One ``[[approval]]`` of workspace.toml: roles, and the products or recipes that need them (all where none)."""

    roles: tuple[str, ...]
    products: frozenset[str] = frozenset()
    recipes: frozenset[str] = frozenset()
    unapproved: str = REFUSE

    def __str__(self) -> str:
        """Write what it asks for."""
        which = ", ".join(sorted((*self.products, *self.recipes))) or "every finished product"
        return f"{which}: {', '.join(self.roles) or 'no role'}{' (only marked)' if self.unapproved == MARK else ''}"

    def about(self, recipe: Recipe) -> bool:
        """Say whether a recipe needs it; a premix only where it is named."""
        if self.products or self.recipes:
            return recipe.id in self.recipes or (recipe.product or "").casefold() in self.products
        return not recipe.is_premix


@dataclass(frozen=True, slots=True)
class Needed:
    """The roles that must approve a recipe, in their order, and whether a batch without them is refused."""

    roles: tuple[str, ...] = ()
    refuse: bool = False

    def __or__(self, other: Needed) -> Needed:
        """Ask for what either asks."""
        return Needed(tuple(dict.fromkeys((*self.roles, *other.roles))), self.refuse or other.refuse)


def approval_rows(facts: Facts) -> tuple[ApprovalRow, ...]:
    """The rows of a workspace.toml; one that cannot be read asks for what can be read of it."""
    rows: dict[str, dict[str, list[str]]] = {}
    marks: dict[str, str] = {}
    for path, value in facts.items():
        if path[0] != "approval" or len(path) < 3:
            continue
        row = rows.setdefault(path[1], {})
        if len(path) == 4 and value is True:
            row.setdefault(path[2], []).append(path[3])
        elif path[2] == "unapproved" and isinstance(value, str):
            marks[path[1]] = value
    return tuple(
        ApprovalRow(
            tuple(row.get("roles", ())),
            frozenset(name.casefold() for name in row.get("product", ())),
            frozenset(row.get("recipe", ())),
            marks.get(number, REFUSE),
        )
        for number, row in rows.items()
    )


def needed(rows: Iterable[ApprovalRow], recipe: Recipe) -> Needed:
    """What some rows ask of a recipe."""
    asked = [row for row in rows if row.about(recipe) and row.roles]
    roles = dict.fromkeys(role for row in asked for role in row.roles)
    return Needed(tuple(roles), any(row.unapproved != MARK for row in asked))


@dataclass(frozen=True, slots=True)
class Signed:
    """What a payload says; ``id`` is the SHA-256 of its bytes.

    ``rests_on`` are the hashes of `PARTS`.  ``after`` is the id of the withdrawal that an approval answers.  Of a
    change of trust ``content`` is the hash of the new gate (who may sign, and what needs it), ``was`` that of the old.
    """

    id: str
    repository: str
    workspace: str
    recipe: str
    role: str
    decision: str
    content: str
    rests_on: Mapping[str, str] = field(default_factory=dict)
    condition: str = ""
    why: str = ""
    after: str = ""
    was: str = ""
    signed: str = ""


def identity(payload: bytes) -> str:
    """Name a payload by its bytes."""
    return sha256(payload).hexdigest()


@dataclass(frozen=True, slots=True)
class Signatory:
    """Somebody who may sign: an id, a name, roles, addresses, and public keys (without their comments)."""

    id: str
    name: str
    roles: frozenset[str]
    emails: frozenset[str]
    keys: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TrustFile:
    """Who may sign as what.  ``revoked`` keys made nothing that counts, ever; ``problems`` say why it is no trust."""

    people: tuple[Signatory, ...] = ()
    revoked: Mapping[str, str] = field(default_factory=dict)
    changes: int = 0
    problems: tuple[str, ...] = ()

    def by_key(self, key: str) -> Signatory | None:
        """Whose key it is."""
        return next((person for person in self.people if key in person.keys), None)

    def by_email(self, email: str) -> Signatory | None:
        """Whose address it is."""
        return next((person for person in self.people if email.casefold() in person.emails), None)

    @property
    def signatures(self) -> int:
        """How many holders of the role "trust" sign a change: as many as stated, else two where there are two."""
        holders = sum(TRUST in person.roles for person in self.people)
        return self.changes or min(2, holders) or 1


@dataclass(frozen=True, slots=True)
class Decided:
    """One decision on a recipe as it is judged: who, and why it does not hold where it does not.

    ``commit`` is the commit along the first parents that brought it, empty where none has yet.
    """

    said: Signed
    file: str
    who: str
    commit: str
    fault: str = ""

    @property
    def holds(self) -> bool:
        """Say whether it counts."""
        return not self.fault


APPROVED, UNAPPROVED, UNKNOWN = "approved", "not approved", "not known"


@dataclass(frozen=True, slots=True)
class RoleStanding:
    """How one role stands to a version: approved, not approved, or not known; ``words`` say more, and by whom."""

    role: str
    state: str
    words: str
    who: str = ""
    condition: str = ""
    file: str = ""
    commit: str = ""


@dataclass(frozen=True, slots=True)
class ApprovalStanding:
    """How a version of a recipe stands: what is needed, what each role said, and all decisions on the recipe.

    ``others`` are roles that signed it and are not asked for.  ``notes`` say what is odd about the trust.
    """

    recipe: str
    content: str
    need: Needed
    roles: tuple[RoleStanding, ...]
    others: tuple[RoleStanding, ...] = ()
    decisions: tuple[Decided, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def approved(self) -> bool:
        """Say whether every role that is asked for approved; also where none is asked for."""
        return all(role.state == APPROVED for role in self.roles)

    @property
    def state(self) -> str:
        """Give it in one word: approved, not approved, not known; empty where nothing is asked for."""
        if not self.need.roles:
            return ""
        states = [role.state for role in self.roles]
        return next((state for state in (UNAPPROVED, UNKNOWN) if state in states), APPROVED)

    @property
    def lacking(self) -> Sequence[RoleStanding]:
        """The roles that did not approve, or of which it is not known."""
        return [role for role in self.roles if role.state != APPROVED]
