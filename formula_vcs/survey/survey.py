"""Look at every recipe: its status, cost, claims, nearest limit, evidence and next deadline; as it is, and what if."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.diff.diff import diff
from formula_vcs.evidence.coverage import Coverage, Evidence, best
from formula_vcs.evidence.duties import Duty, Reviewed, follow
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.cost import costing
from formula_vcs.figures.figure import Terms
from formula_vcs.law.compliance import in_force, markets
from formula_vcs.law.labelling import ingredient_list, printed
from formula_vcs.law.limit_use import uses
from formula_vcs.model.finding import SEVERITIES, Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.law_row import MARKETS
from formula_vcs.model.values import dataclass, replace
from formula_vcs.rules.horizon import Turn, horizon, later
from formula_vcs.rules.judge import judge
from formula_vcs.rules.rule import Case, Pins
from formula_vcs.survey.what_if import CannotReplaceError, ChangedShelf, WhatIf
from formula_vcs.workspace.many import FEW, answers
from formula_vcs.workspace.snapshot import Snapshot, id_of, kind_of

LABEL: Final = "label"
DEADLINE: Final = "deadline"
MONTHS: Final = 24  # within which a deadline is looked for
UNREAD: Final = "unread"
_RANK: Final = ("block", UNREAD, "warn", "pass")


class ClaimMargin(NamedTuple):
    """A claim: its verdict, and how far its nearest mark is away in points (below 0: missed), None without a number."""

    claim: str
    verdict: str
    margin: Fraction | None


class NearestLimit(NamedTuple):
    """The limit of which most is used: what of, which part of it (1: all of it), its citation."""

    what: str
    used: Fraction
    citation: str


@dataclass(frozen=True, slots=True)
class RecipeState:
    """A recipe on a day.  ``status`` is block, warn, pass, or unread where its file does not parse.

    ``cost`` is per kg, None where ``lacking`` says what is missing for it.  ``findings`` are those that block or warn.
    ``deadline`` is the first thing that the law will not allow within 24 months, looked for only where it is asked.
    """

    status: str
    findings: tuple[Finding, ...] = ()
    cost: Fraction | None = None
    currency: str = ""
    lacking: tuple[str, ...] = ()
    claims: tuple[ClaimMargin, ...] = ()
    limit: NearestLimit | None = None
    label: str = ""
    deadline: Turn | None = None

    @property
    def blocks(self) -> int:
        """Count what blocks."""
        return sum(one.severity == "block" for one in self.findings)

    @property
    def warns(self) -> int:
        """Count what warns."""
        return sum(one.severity == "warn" for one in self.findings)


@dataclass(frozen=True, slots=True)
class SurveyedRecipe:
    """One recipe as it is (``now``), and as it would be (``then``, None where nothing else is asked or nothing moves).

    ``broken`` are findings that it would have and does not have, or has less bad; ``mended`` those that would go.
    ``refused`` says why it cannot be changed as asked.  ``evidence`` is what its proofs are worth, ``duties`` what
    would have to follow.
    """

    id: str
    title: str
    product: str
    file: str
    markets: tuple[str, ...]
    premix: bool
    now: RecipeState
    then: RecipeState | None = None
    broken: tuple[Finding, ...] = ()
    mended: tuple[Finding, ...] = ()
    refused: str = ""
    evidence: tuple[tuple[str, str], ...] = ()
    duties: tuple[Duty, ...] = ()

    @property
    def state(self) -> RecipeState:
        """Give how it would be, else how it is."""
        return self.then or self.now

    @property
    def dearer(self) -> Fraction | None:
        """Give by how much the cost per kg would rise, None where that is not known."""
        if self.then is None:
            return Fraction(0)
        return None if self.then.cost is None or self.now.cost is None else self.then.cost - self.now.cost

    @property
    def breaks(self) -> bool:
        """Say whether it would be blocked by what does not block it now."""
        return any(one.severity == "block" for one in self.broken) or bool(self.refused)


def worst_first(one: SurveyedRecipe) -> tuple[object, ...]:
    """Order recipes: what would break first, then by status, what rises most in cost, what is nearest to a limit."""
    worsened = min((SEVERITIES.index(finding.severity) for finding in one.broken), default=len(SEVERITIES))
    limit = one.state.limit
    return (
        -1 if one.refused else worsened,
        _RANK.index(one.state.status),
        -one.state.blocks,
        -(one.dearer or Fraction(0)),
        -(limit.used if limit is not None else Fraction(0)),
        one.id,
    )


class SurveyJob(NamedTuple):
    """What every process needs to look at recipes: the moment, the day, what is asked, and what is worked out."""

    snapshot: Snapshot
    day: datetime.date
    what_if: WhatIf
    more: frozenset[str]

    @contextmanager
    def opened(self) -> Iterator[Callable[[str], SurveyedRecipe]]:
        """Give what looks at one recipe, by the path of its file."""
        shelf = ChangedShelf(self.snapshot, self.what_if)
        yield lambda path: self._of(path, shelf)

    def _of(self, path: str, shelf: ChangedShelf) -> SurveyedRecipe:
        name = id_of(path)
        read = self.snapshot.read(path)
        if not read.whole:
            findings = tuple(self.snapshot.place(replace(one, recipe=name)) for one in read.findings)
            return SurveyedRecipe(name, name, "", path, (), premix=False, now=RecipeState(UNREAD, findings))
        formula = self.snapshot.formula_of(name, path, read)
        now = self._state(formula, self.day)
        recipe = formula.recipe
        found = SurveyedRecipe(
            name, recipe.title, recipe.product or "", path, markets(formula), premix=recipe.is_premix, now=now
        )
        return self._asked(found, formula, shelf) if self.what_if else found

    def _asked(self, found: SurveyedRecipe, formula: Formula, shelf: ChangedShelf) -> SurveyedRecipe:
        try:
            changed = shelf.formula(formula.recipe)
        except CannotReplaceError as error:
            return replace(found, refused=str(error))
        same = changed == formula
        day = self.what_if.day or self.day
        if same and day == self.day:
            return found
        # other prices alone: what is said of it stays, but for what it costs
        judged = same or self.what_if.judges
        then = self._state(changed, day) if judged else _costed(found.now, changed, day)
        was, now = _worst(found.now.findings), _worst(then.findings)
        never = len(SEVERITIES)
        broken = [one for one in then.findings if SEVERITIES.index(one.severity) < was.get(one.fingerprint, never)]
        mended = [one for one in found.now.findings if SEVERITIES.index(one.severity) < now.get(one.fingerprint, never)]
        return replace(found, then=then, broken=tuple(broken), mended=tuple(mended), markets=markets(changed))

    def _state(self, formula: Formula, day: datetime.date) -> RecipeState:
        case = Case(formula, day, breakdown_of(formula))
        raised = judge(formula, day, case=case)
        findings = tuple(self.snapshot.place(one) for one in raised if one.severity != "note")
        worst = min((SEVERITIES.index(one.severity) for one in findings), default=2)
        label = ""
        if LABEL in self.more and not formula.recipe.is_premix:
            market = next((one for one in markets(formula) if one in MARKETS), MARKETS[0])
            label = printed(ingredient_list(case.sums, day, market))
        deadline = None
        if DEADLINE in self.more and not formula.recipe.is_premix:
            deadline = next(iter(horizon(formula, day, later(day, MONTHS))), None)
        state = RecipeState(
            ("block", "warn", "pass")[worst], findings,
            claims=() if formula.recipe.is_premix else tuple(_margins(case)),
            limit=_nearest_limit(case), label=label, deadline=deadline,
        )  # fmt: skip
        return _costed(state, formula, day)


def _costed(state: RecipeState, formula: Formula, day: datetime.date) -> RecipeState:
    found = costing(breakdown_of(formula), Terms(day))
    return replace(
        state, cost=None if found.missing else found.per_kg, currency=found.currency, lacking=tuple(found.missing)
    )


def _worst(findings: Sequence[Finding]) -> dict[str, int]:
    found: dict[str, int] = {}
    for one in findings:
        rank = SEVERITIES.index(one.severity)
        found[one.fingerprint] = min(rank, found.get(one.fingerprint, rank))
    return found


def _margins(case: Case) -> Iterator[ClaimMargin]:
    for claim in case.claims:
        lefts = [mark.value.low - mark.limit if mark.least else mark.limit - mark.value.high for mark in claim.marks]
        known = claim.verdict != "needs information"
        yield ClaimMargin(claim.claim, claim.verdict, min(lefts, default=None) if known else None)


def _nearest_limit(case: Case) -> NearestLimit | None:
    found = case.finished
    if found is None:
        return None
    nearest: NearestLimit | None = None
    for use in uses(found, in_force(found, case.day)):
        if use.allowed and not use.amount.unknown:
            used = max(use.amount.used, use.amount.adjusted) / use.allowed
            if nearest is None or used > nearest.used:
                names = " + ".join(found.spelled(key) for key in use.keys)
                nearest = NearestLimit(names, used, use.row.citation)
    return nearest


def surveyed(
    snapshot: Snapshot,
    day: datetime.date,
    what_if: WhatIf,
    *,
    more: Collection[str] = (),
    progress: Callable[[int, int], None] = lambda _done, _of: None,
    few: int = FEW,
    processes: int | None = None,
) -> Iterator[SurveyedRecipe]:
    """Look at every recipe of a workspace, on all cores where there are many; in the order of their files."""
    paths = [path for path in snapshot.listing if kind_of(path) == "recipe"]
    job = SurveyJob(snapshot, day, what_if, frozenset(more))
    for done, found in enumerate(answers(job, paths, few=few, processes=processes)):
        progress(done, len(paths))
        yield found


def with_evidence(
    found: Sequence[SurveyedRecipe], snapshot: Snapshot, pins: Pins, day: datetime.date, what_if: WhatIf
) -> list[SurveyedRecipe]:
    """Say of each recipe what its proofs are worth, and what would have to follow; most have none, so that is quick."""
    evidence = Evidence(snapshot, pins)
    shelf = ChangedShelf(snapshot, what_if)
    return [_proved(one, snapshot, evidence, day, shelf) if evidence.of(one.id) else one for one in found]


def _proved(
    one: SurveyedRecipe, snapshot: Snapshot, evidence: Evidence, day: datetime.date, shelf: ChangedShelf
) -> SurveyedRecipe:
    recipe = snapshot.recipe(one.id)
    if recipe is None:
        return one
    formula = snapshot.formula(recipe)
    groups: dict[str, list[Coverage]] = {}
    for proof in evidence.of(one.id):
        groups.setdefault(proof.what, []).append(evidence.covered(proof, formula, day))
    proofs = {what: best(group).state for what, group in groups.items()}
    duties: tuple[Duty, ...] = ()
    if one.then is not None:
        changed = shelf.formula(recipe)
        asked = shelf.what_if.day or day
        following = follow(evidence, Reviewed(formula, changed, diff(formula, changed), asked))
        duties = tuple(duty for duty in following.duties if not duty.standing)
    return replace(one, evidence=tuple(proofs.items()), duties=duties)


@dataclass(frozen=True, slots=True)
class SurveyCause:
    """One cause, and the recipes that it would break: the finding of the first, and the ids of all."""

    finding: Finding
    recipes: tuple[str, ...]


def causes(found: Sequence[SurveyedRecipe]) -> list[SurveyCause]:
    """Group what would break, or what is wrong where nothing is asked, by its rule and subject; the worst first."""
    groups: dict[tuple[str, str, str], list[tuple[Finding, str]]] = {}
    asked = any(one.then is not None or one.refused for one in found)
    for one in found:
        for finding in one.broken if asked else one.now.findings:
            key = (finding.rule, finding.severity, finding.subject)
            groups.setdefault(key, []).append((finding, one.id))
    listed = [SurveyCause(same[0][0], tuple(dict.fromkeys(recipe for _, recipe in same))) for same in groups.values()]
    return sorted(listed, key=lambda one: (SEVERITIES.index(one.finding.severity), -len(one.recipes), one.finding.rule))
