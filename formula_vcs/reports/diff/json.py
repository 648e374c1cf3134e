"""A comparison as JSON: its record, from which the schema diff.json is made."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Annotated, Final, TextIO, TypeAlias

from formula_vcs.diff.change import Change
from formula_vcs.diff.effects import Effect, Share
from formula_vcs.diff.label_order import LabelMove
from formula_vcs.evidence.coverage import Coverage
from formula_vcs.evidence.duties import Duty
from formula_vcs.law.labelling import printed
from formula_vcs.model.finding import Severity
from formula_vcs.model.values import dataclass
from formula_vcs.reports import review_document, review_extras
from formula_vcs.reports.document.data import Day, Exact, Name, SchemaRule, dump
from formula_vcs.reports.findings import FindingRecord, extended, finding_record
from formula_vcs.review.compare import ChosenChanges, Comparison, Review
from formula_vcs.review.grade_swaps import Swap
from formula_vcs.review.looking_ahead import Deadline
from formula_vcs.review.substance_moves import RoleChange, SubstanceMove
from formula_vcs.words.numbers import exact_text

_KINDS: Final = (
    "amount", "added", "removed", "moved", "grade-swap", "split", "joined", "balance", "step-added", "step-removed",
    "step-moved", "step-changed", "exposure", "spec", "claim", "header", "price", "ingredient", "premix", "accept",
    "other",
)  # fmt: skip
_LISTED: Final = (
    "priced", "claimed", "limited", "specified", "asked for", "moves beyond its uncertainty", "",
)  # fmt: skip
_TOPICS: Final = (
    "handling", "composition", "made by", "allergens", "active", "spec", "origin", "source", "certificates", "hazards",
    "class", "functions", "density", "HLB", "price", "supplier", "code",
)  # fmt: skip
_MATTERS: Final = ("regulated", "preserving", "UV-filtering", "active", "chelating", "claimed")
_STATES: Final = ("covers", "decide", "repeat", "expired", "not known", "refused")
_STATUS: Final = ("changed", "added", "removed", "unread", "same")
Untried: TypeAlias = Annotated[
    bool, SchemaRule("More would have to be tried than is done for one recipe, so that no change is named")
]
Place: TypeAlias = Annotated[int | None, SchemaRule("Its place from 1; null where it was not there", least=1)]


@dataclass(frozen=True, slots=True)
class ChangeRecord:
    """One change; its id is kind and place, so it is stable."""

    id: Annotated[str, SchemaRule("Kind and place, so it is stable", pattern=f"^({'|'.join(_KINDS)}):.")]
    kind: Annotated[str, SchemaRule(one_of=_KINDS)]
    where: Name
    old: str | None
    new: str | None
    text: Name
    derived: Annotated[bool, SchemaRule("It only follows from others: shown, never applied")]


@dataclass(frozen=True, slots=True)
class ShareRecord:
    """How much of a difference one change brought."""

    change: Name
    value: Exact


@dataclass(frozen=True, slots=True)
class MissingRecord:
    """What is not known for a figure, before and after."""

    before: tuple[str, ...]
    after: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EffectRecord:
    """A figure before and after."""

    figure: Annotated[str, SchemaRule(pattern="^[a-z][a-z0-9_]*$")]
    unit: str
    before: Exact | None
    after: Exact | None
    difference: Exact | None
    shares: Annotated[
        tuple[ShareRecord, ...],
        SchemaRule(
            "They add up to the difference exactly; empty where a figure in between is not known, or where nobody "
            "would wait for them"
        ),
    ]
    grouped: Annotated[
        bool,
        SchemaRule(
            "Not the mean over all orders of all changes: some were taken as one, or there were too many to share "
            "at all"
        ),
    ]
    estimate: bool
    missing: MissingRecord
    listed: Annotated[
        str,
        SchemaRule(
            "Why people are shown it; empty where it is folded away: nobody asked for it, and it moved by less than it "
            "is sure of",
            one_of=_LISTED,
        ),
    ]


@dataclass(frozen=True, slots=True)
class LabelMoveRecord:
    """A name of the ingredient list that came, went or passed others."""

    name: str
    market: str
    before: Place
    after: Place
    part: Annotated[
        str,
        SchemaRule(
            "Where it stands now, or stood: by falling amount, below 1 % in any order, or a colorant",
            one_of=("ordered", "free", "colorant", "active"),
        ),
    ]
    only_free: Annotated[bool, SchemaRule("It only moved among those whose order is free: a printed label stays right")]
    causes: Annotated[tuple[Name, ...], SchemaRule("Ids of the smallest set of changes that does it")]
    untried: Untried
    shares: Annotated[tuple[ShareRecord, ...], SchemaRule("In places; they add up to the difference exactly")]
    grouped: bool


@dataclass(frozen=True, slots=True)
class SubstanceRecord:
    """A substance somebody cares about whose share of the product moved, in % w/w of the product."""

    inci: Name
    cas: str | None
    kinds: Annotated[tuple[Annotated[str, SchemaRule(one_of=_MATTERS)], ...], SchemaRule(at_least_items=1)]
    before: Exact
    after: Exact
    difference: Exact


@dataclass(frozen=True, slots=True)
class SwapDifferenceRecord:
    """One thing; 'not stated' where a file does not state it."""

    topic: Annotated[str, SchemaRule(one_of=_TOPICS)]
    what: str
    old: str
    new: str
    lost: Annotated[bool, SchemaRule("A demand on the process that the new file leaves open")]


@dataclass(frozen=True, slots=True)
class SwapRecord:
    """A material that took the place of another, and what their files state differently, most important first."""

    change: Name
    old: str
    new: str
    differences: tuple[SwapDifferenceRecord, ...]


@dataclass(frozen=True, slots=True)
class HolderRecord:
    """Who held a role."""

    inci: str
    ingredient: str
    pct: Exact


@dataclass(frozen=True, slots=True)
class RoleRecord:
    """A role that nobody holds now, or less than half is left of; amounts in % of the product."""

    role: str
    before: Exact
    after: Exact
    empty: bool
    holders: tuple[HolderRecord, ...]
    needs: Annotated[tuple[str, ...], SchemaRule("What it is there for")]
    severity: Severity
    says: str
    causes: tuple[str, ...]
    untried: bool


@dataclass(frozen=True, slots=True)
class NewFindingRecord(FindingRecord):
    """A finding that came."""

    causes: Annotated[tuple[Name, ...], SchemaRule("Ids of the changes that bring it together")]
    untried: Untried


@dataclass(frozen=True, slots=True)
class GoneFindingRecord(FindingRecord):
    """A finding that went."""

    cured_by: Annotated[
        tuple[Name, ...], SchemaRule("Ids of the changes that cure it together; without any one of them it is back")
    ]
    untried: Untried


@dataclass(frozen=True, slots=True)
class DeadlineRecord:
    """What the law will not allow on a day to come."""

    from_: Annotated[Day, SchemaRule("The first day on which it must not be placed on the market so")]
    sold_until: Annotated[
        str | None,
        SchemaRule("The last day on which what is on the market may be sold; null where no day is known"),
    ]
    raised: Annotated[
        str,
        SchemaRule("How much more there is of it, where it was coming before; empty where the change brings it in"),
    ]
    finding: FindingRecord
    causes: tuple[str, ...]
    untried: bool


@dataclass(frozen=True, slots=True)
class ReviewedFindings:
    """Findings of both versions, by what became of them."""

    new: tuple[NewFindingRecord, ...]
    gone: tuple[GoneFindingRecord, ...]
    still: tuple[FindingRecord, ...]
    ahead: Annotated[
        tuple[DeadlineRecord, ...],
        SchemaRule("What the change brings in or raises that the law will not allow within 24 months"),
    ]


@dataclass(frozen=True, slots=True)
class NewListRecord:
    """The ingredient list for a market that is new."""

    market: str
    printed: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DutyRecord:
    """What has to follow."""

    duty: Name
    owner: str
    because: tuple[Name, ...]
    evidence: Annotated[str, SchemaRule("The report that is outdated, with its kind")]
    source: str
    kind: Annotated[str, SchemaRule("The kind of evidence: stability, challenge-test ...")]
    must: Annotated[
        str,
        SchemaRule("Make it anew, decide whether to, or renew what has ended", one_of=("repeat", "decide", "expired")),
    ]
    size: Annotated[str, SchemaRule("What is beyond which line since the version that the evidence covers")]
    standing: Annotated[bool, SchemaRule("Due before this change already; 'because' then names what adds to it")]


@dataclass(frozen=True, slots=True)
class DriftCrossingRecord:
    """Where a recipe went beyond a line of the table of duties."""

    class_: str
    about: str
    text: str
    row: Annotated[str, SchemaRule("The row of the table of duties")]
    source: str


@dataclass(frozen=True, slots=True)
class ProofRecord:
    """What a proof is worth."""

    kind: str
    what: str
    report: str
    file: str
    number: Annotated[int, SchemaRule("Its place in the file", least=1)]
    commit: str
    hash: str
    passed: Day
    until: Annotated[str | None, SchemaRule(format="date")]
    state: Annotated[str, SchemaRule("What the proof is worth for the recipe as it is", one_of=_STATES)]
    why: str
    crossings: tuple[DriftCrossingRecord, ...]


@dataclass(frozen=True, slots=True)
class ReviewRecord:
    """One recipe between two versions."""

    recipe: str
    title: str
    status: Annotated[str, SchemaRule(one_of=_STATUS)]
    file: str
    changes: tuple[ChangeRecord, ...]
    effects: tuple[EffectRecord, ...]
    label: Annotated[tuple[LabelMoveRecord, ...], SchemaRule("For the first market of the recipe")]
    substances: tuple[SubstanceRecord, ...]
    swaps: tuple[SwapRecord, ...]
    roles: tuple[RoleRecord, ...]
    findings: ReviewedFindings
    lists: Annotated[tuple[NewListRecord, ...], SchemaRule("The ingredient lists for markets that are new")]
    duties: tuple[DutyRecord, ...]
    proofs: Annotated[
        tuple[ProofRecord, ...],
        SchemaRule("Evidence of the recipe; of several proofs of the same, the one that counts"),
    ]
    unrecorded: Annotated[
        tuple[str, ...],
        SchemaRule("Kinds of evidence that such a change would outdate, and that nobody has recorded"),
    ]
    blocked: bool


@dataclass(frozen=True, slots=True)
class LooseningRecord:
    """What makes the judgement milder or blinder."""

    kind: str
    change: Annotated[str | None, SchemaRule("The id of the change, null where it is none of a recipe")]
    recipes: tuple[str, ...]
    finding: FindingRecord
    hides: tuple[FindingRecord, ...]


@dataclass(frozen=True, slots=True)
class ChosenRecord:
    """A change that is taken or left."""

    recipe: Annotated[str, SchemaRule("Empty for a change beside the recipes")]
    change: Name


@dataclass(frozen=True, slots=True)
class PartRecord:
    """The changes that are taken, and those that are left."""

    taken: tuple[ChosenRecord, ...]
    left: tuple[ChosenRecord, ...]


@dataclass(frozen=True, slots=True)
class ComparisonRecord:
    """What differs between two versions, what it does, what it breaks, what has to follow."""

    title: str
    old: str
    new: str
    guard: Annotated[
        tuple[LooseningRecord, ...],
        SchemaRule(
            "What makes the judgement milder or blinder, with what the old version's eyes see in the rest of the change"
        ),
    ]
    accepted: Annotated[
        tuple[FindingRecord, ...],
        SchemaRule("Findings of a limit or a ban of the law that a changed recipe accepts"),
    ]
    recipes: tuple[ReviewRecord, ...]
    beside: Annotated[tuple[ChangeRecord, ...], SchemaRule("Changes of files that stand under no recipe")]
    same: Annotated[int, SchemaRule("How many recipes are unchanged", least=0)]
    blocked: bool
    part: Annotated[
        PartRecord | None,
        SchemaRule("With --only or --without: the changes that are taken, and those that are left"),
    ]
    not_judged: Annotated[
        tuple[Name, ...],
        SchemaRule("Markets and fields of law that nobody here judges, by name; they never count as passed"),
    ]


def write(comparison: Comparison, *, title: str, out: TextIO) -> None:
    """Write all of a comparison."""
    dump(record_of(comparison, title, blocked=bool(review_document.blocked_by(comparison))), out)


def record_of(comparison: Comparison, title: str, *, blocked: bool) -> ComparisonRecord:
    """A comparison as data; ``blocked`` is the verdict on all of it."""
    guard = tuple(
        LooseningRecord(
            item.kind, item.change or None, tuple(item.recipes), finding_record(finding),
            tuple(map(finding_record, item.hides)),
        )
        for finding, item in review_extras.loosened(comparison)
    )  # fmt: skip
    return ComparisonRecord(
        title, comparison.old, comparison.new, guard, tuple(map(finding_record, review_extras.accepted(comparison))),
        tuple(map(_review, comparison.reviews)), tuple(map(_change, comparison.beside)), comparison.same, blocked,
        None if comparison.part is None else _part(comparison.part), tuple(comparison.not_judged),
    )  # fmt: skip


def _part(part: ChosenChanges) -> PartRecord:
    def chosen(side: Iterable[tuple[str, str]]) -> tuple[ChosenRecord, ...]:
        return tuple(ChosenRecord(recipe, change) for recipe, change in side)

    return PartRecord(chosen(part.taken), chosen(part.left))


def _review(review: Review) -> ReviewRecord:
    findings = ReviewedFindings(
        tuple(
            extended(NewFindingRecord, item.finding, tuple(item.causes or ()), item.causes is None)
            for item in review.new
        ),
        tuple(
            extended(GoneFindingRecord, finding, tuple(cure or ()), cure is None)
            for finding, cure in review_document.cured(review)
        ),
        tuple(map(finding_record, review.still)),
        tuple(map(_deadline, review.ahead)),
    )
    lists = tuple(
        NewListRecord(market, printed(lines), tuple(line.inci for line in lines)) for market, lines in review.lists
    )
    return ReviewRecord(
        review.recipe, review.title, review.status, review.file, tuple(map(_change, review.changes)),
        tuple(_effect(effect, review.listed.get(effect.figure, "")) for effect in review.effects),
        tuple(map(_label, review.label)), tuple(map(_substance, review.substances)), tuple(map(_swap, review.swaps)),
        tuple(map(_role, review.roles)), findings, lists, tuple(map(_duty, review.duties)),
        tuple(map(proof, review.proofs)), tuple(review.unrecorded), review.blocked,
    )  # fmt: skip


def _change(change: Change) -> ChangeRecord:
    return ChangeRecord(change.id, change.kind, change.where, change.old, change.new, change.text, change.derived)


def _effect(effect: Effect, listed: str) -> EffectRecord:
    return EffectRecord(
        effect.figure, effect.after.unit, _number(effect.before.value), _number(effect.after.value),
        _number(effect.difference), _shares(effect.shares), bool(effect.evened),
        effect.before.estimate or effect.after.estimate,
        MissingRecord(tuple(effect.before.missing), tuple(effect.after.missing)), listed,
    )  # fmt: skip


def _shares(shares: Sequence[Share]) -> tuple[ShareRecord, ...]:
    return tuple(ShareRecord(share.change, exact_text(share.value)) for share in shares)


def _label(move: LabelMove) -> LabelMoveRecord:
    return LabelMoveRecord(
        move.name, move.market, move.before, move.after, move.part, move.only_free, tuple(move.causes or ()),
        move.causes is None, _shares(move.shares), bool(move.evened),
    )  # fmt: skip


def _substance(move: SubstanceMove) -> SubstanceRecord:
    return SubstanceRecord(
        move.name, move.cas or None, tuple(move.kinds), exact_text(move.before), exact_text(move.after),
        exact_text(move.difference),
    )  # fmt: skip


def _swap(swap: Swap) -> SwapRecord:
    rows = (SwapDifferenceRecord(one.topic, one.what, one.old, one.new, one.lost) for one in swap.differences)
    return SwapRecord(swap.change, swap.old, swap.new, tuple(rows))


def _role(role: RoleChange) -> RoleRecord:
    holders = tuple(HolderRecord(name, material, exact_text(pct)) for name, material, pct in role.holders)
    return RoleRecord(
        role.role, exact_text(role.before), exact_text(role.after), role.empty, holders, tuple(role.needs),
        role.severity, role.says, tuple(role.causes or ()), role.causes is None,
    )  # fmt: skip


def _number(value: Fraction | None) -> str | None:
    return None if value is None else exact_text(value)


def _deadline(item: Deadline) -> DeadlineRecord:
    return DeadlineRecord(
        item.day.isoformat(), None if item.sold is None else item.sold.isoformat(), item.raised,
        finding_record(item.finding), tuple(item.causes or ()), item.causes is None,
    )  # fmt: skip


def proof(coverage: Coverage) -> ProofRecord:
    """What a proof is worth."""
    of = coverage.proof
    crossings = tuple(
        DriftCrossingRecord(one.drift.when, one.drift.about, one.text, one.line.id, one.line.source)
        for one in coverage.crossings
    )
    return ProofRecord(
        of.kind, of.what, of.report, of.file, of.number, coverage.commit or of.commit, of.hash, of.passed.isoformat(),
        None if of.until is None else of.until.isoformat(), coverage.state,
        coverage.why or "; ".join(one.text for one in coverage.crossings), crossings,
    )  # fmt: skip


def _duty(duty: Duty) -> DutyRecord:
    return DutyRecord(
        duty.duty, duty.owner, tuple(duty.because), duty.evidence, duty.source, duty.kind, duty.must, duty.size,
        duty.standing,
    )  # fmt: skip
