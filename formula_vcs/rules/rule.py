"""What a rule is, and what it is given to judge."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from functools import cached_property
from typing import ClassVar, Final, NamedTuple, Protocol

from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.figures.standards import ClaimOutcome
from formula_vcs.law.claims.table import judge_claims
from formula_vcs.law.compliance import Compliance, compliance_of
from formula_vcs.model.derived import Derived
from formula_vcs.model.facts import Facts, Path, Unread, unread
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, field
from formula_vcs.model.workspace import Record
from formula_vcs.rules.handling import HandlingLimit, demands
from formula_vcs.workspace.snapshot import Snapshot

COMMON_PRACTICE = "common practice, no source"
ARITHMETIC = "arithmetic"
FORMAT = "the file format (git formula help files)"


@dataclass
class Case:
    """A formula on a day, with its sums worked out when a rule asks for them.

    ``raised`` holds what the rules before have said: the rules about accepted findings need it.  ``given`` are the sums
    of the formula where somebody has them already; ``judged_as`` is its compliance as another product than it is.
    """

    formula: Formula
    day: datetime.date
    given: Breakdown | None = None
    raised: list[Finding] = field(default_factory=list)
    judged_as: Compliance | None = None

    @cached_property
    def sums(self) -> Breakdown:
        """The sums of the formula."""
        return self.given or breakdown_of(self.formula)

    @cached_property
    def compliance(self) -> Compliance:
        """The recipe before the packs in force, premixes too."""
        return self.judged_as or compliance_of(self.sums)

    @cached_property
    def claims(self) -> tuple[ClaimOutcome, ...]:
        """The recipe's claims, judged, in their order."""
        return judge_claims(self.compliance, self.day)

    @property
    def finished(self) -> Compliance | None:
        """The compliance of what limits, labels and claims are for: a finished product, not a premix.

        None also where no pack is in force, or where it is not known what the product is.
        """
        found = None if self.recipe.is_premix else self.compliance
        return found if found and found.product is not None and (found.law.packs or found.house) else None

    @cached_property
    def demands(self) -> dict[str, list[HandlingLimit]]:
        """What the charges ask of the process, by name: shear_at_most, temp_at_most, after ..."""
        return demands(self.formula)

    @property
    def recipe(self) -> Recipe:
        return self.formula.recipe

    @cached_property
    def unread(self) -> Mapping[str, list[tuple[Path, Unread]]]:
        """The values of the recipe's own file that could not be read, by rule."""
        return by_rule(self.recipe.facts)

    def place_of(self, wanted: Callable[[Ingredient], bool]) -> Path:
        """The path of the first charge that is an ingredient, or a premix that holds it at any depth."""
        seen: set[str] = set()
        for charge in self.recipe.charges:
            waiting = [charge.ingredient]
            while waiting:
                name = waiting.pop()
                found = self.formula.ingredients.get(name)
                if found is None or name in seen:
                    continue
                if wanted(found):
                    return charge.path
                seen.add(name)
                inner = self.formula.premix_of(name)
                waiting += inner.uses if inner is not None else ()
        return ()


# Why the version that a batch or a proof names cannot be read, by `PinnedVersion.state`.
LOST: Final[Mapping[str, str]] = {
    "no-git": "this workspace is in no git repository",
    "unknown": "no commit of that id is in this repository",
    "shallow": "this clone is shallow and does not reach back to it: `git fetch --unshallow` brings it",
    "no-recipe": "that commit has no recipe of this id",
    "unreadable": "the recipe's file does not parse in that commit",
}


class PinnedVersion(Protocol):
    """The version of a recipe that a batch or a proof names by commit.

    ``state`` is "found", or why it is not to be had: "no-git" (the workspace is in no repository), "unknown" (no such
    commit), "shallow" (no such commit in this shallow clone), "no-recipe" (the commit has no recipe of that id),
    "unreadable" (its file there does not parse).  ``formula`` and ``hash`` are None and empty where it is not found.
    ``day`` is that of the commit's author, None where that is not known.
    """

    @property
    def state(self) -> str: ...
    @property
    def commit(self) -> str: ...
    @property
    def formula(self) -> Formula | None: ...
    @property
    def hash(self) -> str: ...
    @property
    def snapshot(self) -> Snapshot | None: ...
    @property
    def day(self) -> datetime.date | None: ...

    def blocking(self, day: datetime.date) -> list[Finding]:
        """What blocked that version, judged as of a day."""
        ...


class Edit(NamedTuple):
    """An edit of a record after it was closed: the commit (empty: not committed yet), that day, and what to say."""

    commit: str
    closed: datetime.date
    what: str


class Pins(Protocol):
    """Finds pinned versions, each commit read once."""

    def at(self, commit: str, recipe: str) -> PinnedVersion:
        """The version of a recipe at a commit id, in full or short."""
        ...

    def on_default_branch(self, commit: str) -> bool | None:
        """Say whether the default branch holds a commit; None where that cannot be known here."""
        ...

    def edits(self, file: str, facts: Facts) -> Iterator[Edit]:
        """The edits of a batch's file after it was closed."""
        ...


@dataclass
class RecordCase:
    """A batch, a lot or an evidence file on a day, among the other files of its workspace."""

    record: Record
    snapshot: Snapshot
    pins: Pins
    day: datetime.date
    derived: Derived = field(default_factory=Derived, init=False, compare=False, repr=False)


def by_rule(facts: Mapping[Path, object]) -> Mapping[str, list[tuple[Path, Unread]]]:
    """Sort the refused values of a file by the rule that refuses them."""
    found: dict[str, list[tuple[Path, Unread]]] = defaultdict(list)
    for path, value in unread(facts):
        found[value.rule].append((path, value))
    return found


class Rule:
    """One rule.  Its docstring is the page that ``check --explain`` prints.

    ``judges`` says what it looks at: a recipe with all it rests on, one ingredient, a record ("batches", "lots",
    "evidence"), or the files as such.
    ``acceptable`` says whether a recipe may accept a finding of it with ``[[accept]]``, ``legal`` whether that is one
    of a limit or a ban of the law: it is then accepted one by one, and said first in a review.
    """

    id: ClassVar[str]
    severity: ClassVar[Severity] = "block"
    source: ClassVar[str] = ARITHMETIC
    judges: ClassVar[str] = "recipe"
    acceptable: ClassVar[bool] = False
    legal: ClassVar[bool] = False

    def check(self, case: Case) -> Iterator[Finding]:
        """Judge a recipe."""
        del case
        return iter(())

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Judge an ingredient."""
        del ingredient
        return iter(())

    def say(
        self,
        case: Case,
        message: str,
        at: Path,
        *,
        subject: str | None = None,
        severity: Severity | None = None,
        on_value: bool = False,
    ) -> Finding:
        """Word a finding about the recipe of a case."""
        return Finding(
            self.id,
            severity or self.severity,
            message,
            case.recipe.file,
            at=at,
            recipe=case.recipe.id,
            source=self.source,
            subject="/".join(at) if subject is None else subject,
            on_value=on_value,
        )

    def say_of(
        self,
        ingredient: Ingredient,
        message: str,
        at: Path,
        *,
        severity: Severity | None = None,
        on_value: bool = False,
    ) -> Finding:
        """Word a finding about an ingredient."""
        return Finding(
            self.id,
            severity or self.severity,
            message,
            ingredient.file,
            at=at,
            source=self.source,
            subject="/".join(at),
            on_value=on_value,
        )


class RecordRule(Rule):
    """A rule about a file of one folder: ``judges`` is the folder's name."""

    def check_record(self, case: RecordCase) -> Iterator[Finding]:
        """Judge a record."""
        raise NotImplementedError

    def say_about(
        self,
        case: RecordCase,
        message: str,
        at: Path,
        *,
        subject: str | None = None,
        severity: Severity | None = None,
        on_value: bool = False,
    ) -> Finding:
        """Word a finding about a record."""
        recipe = case.record.facts.get(("recipe",))
        return Finding(
            self.id,
            severity or self.severity,
            message,
            case.record.file,
            at=at,
            recipe=recipe if isinstance(recipe, str) else None,
            source=self.source,
            subject="/".join(at) if subject is None else subject,
            on_value=on_value,
        )


class ReadingRule(Rule):
    """A rule about values that could not be read: the reader has the words already."""

    source = FORMAT
    on_value: ClassVar[bool] = False

    def check(self, case: Case) -> Iterator[Finding]:
        """Say what the reader refused in the recipe's file."""
        for path, value in case.unread.get(self.id, ()):
            yield self.say(case, value.message, path, on_value=self.on_value)

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Say what the reader refused in the ingredient's file."""
        for path, value in unread(ingredient.facts):
            if value.rule == self.id:
                yield self.say_of(ingredient, value.message, path, on_value=self.on_value)


class FileRule(Rule):
    """A rule about a file as a whole: the snapshot has the words, the page is here."""

    judges = "file"
    source = FORMAT
