"""What has to follow: the work that a change obliges somebody to redo, because evidence no longer covers the recipe."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Final

from formula_vcs.diff.change import Change
from formula_vcs.diff.counterfactuals import Counterfactuals, smallest
from formula_vcs.evidence.coverage import (
    CHALLENGE,
    DECIDE,
    EXPIRED,
    REFUSED,
    REPEAT,
    STATES,
    UNKNOWN,
    Coverage,
    DriftBeyond,
    Evidence,
    best,
    conditions,
    crossed,
    grows,
    outdated,
)
from formula_vcs.evidence.drift.drift import Conditions, Drift
from formula_vcs.evidence.drift.measure import measure
from formula_vcs.law.compliance import markets
from formula_vcs.model.evidence import Proof, title
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass

MOST_TRIED: Final = 40
MOST_SAID: Final = 6
SUM: Final = "sum"
# Evidence that every product has; a certificate, a validated process and a tested pack are for those who want them.
_OF_MARKETS: Final = ("artwork", "notification")
_EXPECTED: Final = ("stability", "challenge-test", "safety-assessment", "artwork", "notification")


@dataclass(frozen=True, slots=True)
class Duty:
    """Work that somebody has to redo, or has to decide about.

    ``because`` are ids of changes of the review that add to it.  ``evidence`` is the report that it outdates, ``kind``
    its kind; ``lines`` say one by one what is beyond which line since the version that the evidence covers, those
    first that say most.  ``standing``: it was due before this change already.  ``must``: "repeat", "decide" (somebody
    has to say whether), "expired" (it has ended).
    """

    duty: str
    owner: str
    because: tuple[str, ...]
    evidence: str
    source: str
    standing: bool = False
    kind: str = ""
    lines: tuple[str, ...] = ()
    must: str = REPEAT

    @property
    def touches(self) -> str:
        """Say what it does to which report: ``outdates stability ST-2026-014``."""
        return f"{'puts in question' if self.must == DECIDE else 'outdates'} {self.evidence}"

    @property
    def size(self) -> str:
        """Say in one sentence what is beyond which line, no more than the first of it."""
        more = len(self.lines) - MOST_SAID
        return "; ".join([*self.lines[:MOST_SAID], *([f"and {more} more"] if more > 0 else [])])


@dataclass(frozen=True, slots=True)
class Following:
    """What follows for one recipe: duties, what each proof is worth now, and kinds that nobody recorded."""

    duties: tuple[Duty, ...] = ()
    proofs: tuple[Coverage, ...] = ()
    unrecorded: tuple[str, ...] = ()


class Reviewed:
    """A recipe under review: both sides, and the changes from one to the other; one that is new has no old side."""

    def __init__(
        self, old: Formula | None, new: Formula, changes: Sequence[Change], day: datetime.date, was_called: str = ""
    ) -> None:
        """Take both sides, the changes, the day on which evidence is asked for, and another id of the old side."""
        self.was_called = was_called
        self.old = old
        self.new = new
        self.day = day
        self.trials = Counterfactuals(old or new, [change for change in changes if change.edits] if old else [], new)


def follow(evidence: Evidence, reviewed: Reviewed) -> Following:
    """Say what follows from the changes of a recipe; the evidence of the new side is what counts."""
    recorded = evidence.of(reviewed.new.recipe.id, reviewed.was_called)
    groups: dict[str, list[Coverage]] = {}
    for proof in recorded:
        groups.setdefault(proof.what, []).append(evidence.covered(proof, reviewed.new, reviewed.day))
    duties: list[Duty] = []
    counted: list[Coverage] = []
    for group in groups.values():
        counts = best(group)
        counted.append(counts)
        if counts.state in (REPEAT, DECIDE, EXPIRED):
            duties.append(_duty(evidence, counts, group, reviewed))
        elif evidence.altered(counts.proof):
            duties.append(_on_record(evidence, counts.proof))
    duties.sort(key=lambda duty: (duty.owner, evidence.table.rank(duty.kind), duty.evidence))
    return Following(tuple(duties), tuple(counted), _unrecorded(evidence, reviewed, recorded))


def without(evidence: Evidence, recipe: str, *, removed: bool) -> Following:
    """Say what the proofs of a recipe are worth that is gone, or that cannot be read."""
    state, why = (REFUSED, "its recipe is gone") if removed else (UNKNOWN, "its recipe cannot be read")
    return Following(proofs=tuple(Coverage(proof, state, why=why) for proof in evidence.of(recipe)))


def _duty(evidence: Evidence, counts: Coverage, group: Sequence[Coverage], reviewed: Reviewed) -> Duty:
    proof = counts.proof
    who = evidence.table.work(proof.kind, proof.scheme)
    words = who.decide if counts.state == DECIDE else who.repeat
    said = [crossing.text for crossing in _telling(counts.crossings)]
    if counts.state == EXPIRED:
        words = f"{who.repeat}: it has ended"
        said = [counts.why, *said]
    if evidence.altered(proof):
        said = [f"this change {evidence.altered(proof)}", *said]
    standing = False
    if reviewed.old is not None:
        before = best(evidence.covered(one.proof, reviewed.old, reviewed.day) for one in group)
        standing = STATES.index(before.state) >= STATES.index(counts.state)
    sources = dict.fromkeys([who.source, *(crossing.line.source for crossing in counts.crossings)])
    return Duty(
        words, who.owner, _because(evidence, counts, reviewed, standing=standing), f"{proof.what} {proof.report}",
        "; ".join(sources), standing, proof.kind, tuple(said), counts.state,
    )  # fmt: skip


def _on_record(evidence: Evidence, proof: Proof) -> Duty:
    """Ask for a decision where a change touches the record of a proof that still holds."""
    words = "say why its record is changed: what passed stays on record, and what is new is a proof of its own"
    who = evidence.table.work(proof.kind, proof.scheme)
    said = (f"this change {evidence.altered(proof)}",)
    return Duty(
        words, who.owner, (), f"{proof.what} {proof.report}", who.source, kind=proof.kind, lines=said, must=DECIDE
    )


def _telling(crossings: Sequence[DriftBeyond]) -> list[DriftBeyond]:
    """Put first what says most: the farthest of a class, one of each material and step, no sum beside its parts."""
    classes = list(dict.fromkeys(crossing.drift.when for crossing in crossings))
    far = sorted(crossings, key=lambda one: (classes.index(one.drift.when), -one.drift.size))
    places: dict[str, DriftBeyond] = {}
    for crossing in far:
        if crossing.drift.when != SUM or "amount" not in classes:
            places.setdefault(crossing.drift.about.split("/")[0], crossing)
    first = {id(crossing) for crossing in places.values()}
    return [*places.values(), *(crossing for crossing in far if id(crossing) not in first)]


def _because(evidence: Evidence, counts: Coverage, reviewed: Reviewed, *, standing: bool) -> tuple[str, ...]:
    """Name the changes that add to what outdates a proof, found by leaving each out and measuring again.

    Where leaving out any one changes nothing, as several do the same, or where there are too many to try each, a
    smallest set is named that alone outdates the proof as much.
    """
    proof, trials = counts.proof, reviewed.trials
    past = evidence.pins.at(proof.commit, proof.named).formula
    if past is None or not counts.crossings or reviewed.old is None:
        return ()
    terms, classes = conditions(proof, reviewed.day), {crossing.drift.when for crossing in counts.crossings}
    found: frozenset[int] = frozenset()
    if len(trials.changes) <= MOST_TRIED:
        found = frozenset(
            number
            for number in trials.everything
            if _lessens(counts, measure(past, trials.formula(trials.everything - {number}), terms, classes))
        )
    if not found and not standing:
        # only what outdates it counts, and is measured
        worst = STATES.index(outdated(proof, measure(past, reviewed.new, terms, classes), evidence.table)[0])

        def as_bad(chosen: frozenset[int]) -> bool:
            return (
                STATES.index(outdated(proof, measure(past, trials.formula(chosen), terms, classes), evidence.table)[0])
                >= worst
            )

        found = smallest(len(trials.changes), as_bad)
    return tuple(trials.changes[number].id for number in sorted(found))


def _lessens(counts: Coverage, drifts: Sequence[Drift]) -> bool:
    """Say whether anything that outdates a proof is less, or another, among some drifts."""
    left = {_key(drift): drift for drift in drifts}
    return any(_adds(crossing, left) for crossing in counts.crossings)


def _key(drift: Drift) -> tuple[str, str]:
    return drift.when, drift.about


def _adds(crossing: DriftBeyond, left: dict[tuple[str, str], Drift]) -> bool:
    """Say whether a drift is less, or another, where a change is left out."""
    other = left.get(_key(crossing.drift))
    if other is None or other.size < crossing.drift.size:
        return True
    return other.size == crossing.drift.size and other.detail != crossing.drift.detail


def _unrecorded(evidence: Evidence, reviewed: Reviewed, recorded: Sequence[Proof]) -> tuple[str, ...]:
    """Name the kinds of evidence that such a change would outdate, and that nobody has recorded."""
    if reviewed.old is None or reviewed.new.recipe.is_premix:
        return ()
    there = {proof.kind for proof in recorded}
    sides = reviewed.old, reviewed.new
    dry = not any(grows(formula, reviewed.day) for formula in sides)
    wanted = [kind for kind in _EXPECTED if kind not in there and not (dry and kind == CHALLENGE)]
    drifts = measure(*sides, Conditions(reviewed.day)) if wanted else ()
    lacking = [title(kind) for kind in wanted if any(crossed(drift, kind, evidence.table) for drift in drifts)]
    return (*lacking, *_unrecorded_markets(reviewed.old, reviewed.new, recorded))


def _unrecorded_markets(old: Formula, new: Formula, recorded: Sequence[Proof]) -> Iterator[str]:
    """Name what a market that came needs of its own, where all that is recorded of a kind is of other markets."""
    came = sorted(set(markets(new)) - set(markets(old)))
    for kind in _OF_MARKETS if came else ():
        of_kind = [proof for proof in recorded if proof.kind == kind]
        if of_kind and all(proof.market for proof in of_kind):
            covered = {proof.market for proof in of_kind}
            yield from (f"{title(kind)} ({market})" for market in came if market not in covered)
