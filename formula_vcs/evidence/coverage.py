"""Does a proof still cover a recipe?  Measured from the version that the proof is about, not from the last commit."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from typing import Final

from formula_vcs.evidence.drift.drift import Conditions, Drift
from formula_vcs.evidence.drift.measure import measure
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.preservatives import needs_preserving
from formula_vcs.law.duty_table import DutyTable, as_shipped, table_of
from formula_vcs.model.asked_day import after
from formula_vcs.model.duty_rule import DutyRule
from formula_vcs.model.evidence import Proof, proofs
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import dataclass
from formula_vcs.rules.records.evidence import too_early
from formula_vcs.rules.rule import LOST, PinnedVersion, Pins
from formula_vcs.workspace.snapshot import Snapshot

COVERS: Final = "covers"
DECIDE: Final = "decide"
REPEAT: Final = "repeat"
EXPIRED: Final = "expired"
REFUSED: Final = "refused"
UNKNOWN: Final = "not known"
# From the best to the worst; of several proofs of the same the best counts.
STATES: Final = (COVERS, DECIDE, REPEAT, EXPIRED, UNKNOWN, REFUSED)
SOON: Final = 90  # days
CHALLENGE: Final = "challenge-test"


@dataclass(frozen=True, slots=True)
class DriftBeyond:
    """A drift beyond the line of a row."""

    drift: Drift
    line: DutyRule

    @property
    def text(self) -> str:
        """Say what moved, and beyond which line."""
        return f"{self.drift.text} (beyond {self.line.said})" if self.line.said else self.drift.text


@dataclass(frozen=True, slots=True)
class Coverage:
    """What a proof is worth for a recipe.

    ``state``: it covers; somebody has to decide; it has to be made anew; it has expired; its version is not to be had
    here (``why``); it is refused (``why``).  ``crossings`` are what it is outdated by, or what is to be decided about.
    """

    proof: Proof
    state: str
    crossings: tuple[DriftBeyond, ...] = ()
    why: str = ""
    commit: str = ""


def covered(
    proof: Proof, pinned: PinnedVersion, now: Formula, day: datetime.date, table: DutyTable | None = None
) -> Coverage:
    """Say whether a proof covers a formula on a day, by the table of its workspace where none is given."""
    old = pinned.formula
    if old is None:
        why = LOST[pinned.state]
        return Coverage(proof, UNKNOWN if pinned.state in ("no-git", "shallow") else REFUSED, why=why)
    if pinned.hash != proof.hash:
        return Coverage(proof, REFUSED, why="its content hash is not that of its version", commit=pinned.commit)
    if too_early(proof, pinned):
        why = f"its version is of {pinned.day}, after the day on which it passed"
        return Coverage(proof, REFUSED, why=why, commit=pinned.commit)
    if pinned.blocking(proof.passed):
        return Coverage(proof, REFUSED, why="its version did not pass its check", commit=pinned.commit)
    state, found = outdated(proof, measure(old, now, conditions(proof, day)), table or table_of(now.workspace))
    if proof.kind == CHALLENGE and state == REPEAT and not any(grows(formula, day) for formula in (old, now)):
        state = DECIDE  # in neither version anything grows, so nobody has to challenge it
    if proof.ended(day):
        return Coverage(proof, EXPIRED, found, f"it ended on {proof.until}", pinned.commit)
    return Coverage(proof, state, found, commit=pinned.commit)


def grows(formula: Formula, day: datetime.date) -> bool:
    """Say whether germs grow in a formula, as far as its water and its low-risk criteria tell."""
    return needs_preserving(breakdown_of(formula), day)


def conditions(proof: Proof, day: datetime.date) -> Conditions:
    """Give what a proof tested besides the recipe."""
    return Conditions(day, proof.size, proof.pack, proof.market)


def outdated(
    proof: Proof, drifts: Iterable[Drift], table: DutyTable | None = None
) -> tuple[str, tuple[DriftBeyond, ...]]:
    """Say what a table of duties makes of some drifts for a kind of evidence: the state, and what brings it."""
    found: dict[str, list[DriftBeyond]] = {REPEAT: [], DECIDE: []}
    for drift in drifts:
        verdict = crossed(drift, proof.kind, table)
        if verdict is not None:
            found[verdict[0]].append(DriftBeyond(drift, verdict[1]))
    state = next((state for state in (REPEAT, DECIDE) if found[state]), COVERS)
    return state, tuple(found.get(state, ()))


def crossed(drift: Drift, kind: str, table: DutyTable | None = None) -> tuple[str, DutyRule] | None:
    """Give the strictest row that a drift comes under for a kind of evidence, and what it asks for.

    Without a ``table`` it is the one that ships.
    """
    best: tuple[str, DutyRule] | None = None
    for line in (table or as_shipped()).lines.get(drift.when, ()):
        if drift.size <= line.above or (line.of and drift.functions.isdisjoint(line.of)):
            continue
        verdict = REPEAT if kind in line.repeat else DECIDE if kind in line.decide else ""
        if verdict and (best is None or (verdict == REPEAT, line.above) > (best[0] == REPEAT, best[1].above)):
            best = verdict, line
    return best


class Evidence:
    """The proofs of a workspace, by recipe; each file is read when first asked for any."""

    def __init__(self, snapshot: Snapshot, pins: Pins, before: Snapshot | None = None) -> None:
        """Take the workspace whose files count, and what finds pinned versions.

        ``before`` is the old side of a review: a proof that it records and that was taken out, or given another
        version or other days since, counts as it stood there, and so do the rows of the house's table of duties.  A
        change does not decide what it is judged by.
        """
        self.pins = pins
        self._snapshot = snapshot
        self._before = before
        self.table = table_of(snapshot.workspace)
        if before is not None:
            self.table = self.table.joined(table_of(before.workspace))
        self._altered: dict[Proof, str] = {}
        self._by_recipe: dict[str, list[Proof]] | None = None

    def of(self, recipe: str, was: str = "") -> list[Proof]:
        """Give the proofs of a recipe; where it is another now, ``was``, also those that did not follow it."""
        if self._by_recipe is None:
            self._by_recipe = {}
            for proof in self._counted():
                self._by_recipe.setdefault(proof.recipe, []).append(proof)
        left = self._by_recipe.get(was, []) if was != recipe and was not in self._snapshot.ids("recipe") else []
        return [*self._by_recipe.get(recipe, []), *left]

    def altered(self, proof: Proof) -> str:
        """Say what the change under review does to a proof on record, "" where it leaves it alone."""
        return self._altered.get(proof, "")

    def _counted(self) -> Iterator[Proof]:
        """Give the proofs as they stand, and as they stood before where the change under review touched them."""
        now = [proof for proof in _recorded(self._snapshot) if proof.kind in self.table.works]
        if self._before is None:
            yield from now
            return
        names = self._snapshot.ids("recipe")
        there = {(proof.recipe, proof.what, proof.report): proof for proof in now}
        for was in _recorded(self._before):
            if was.kind not in self.table.works:
                continue
            name = (was.recipe, was.what, was.report)
            kept = there.get(name)
            if kept is None and was.recipe not in names:
                continue  # the recipe is gone, or another by now
            words = "takes it out of the record" if kept is None else _altered(was, kept)
            if words:
                self._altered[was] = words
                there[name] = was
        yield from there.values()

    def covered(self, proof: Proof, now: Formula, day: datetime.date) -> Coverage:
        """Say whether a proof covers a formula on a day."""
        return covered(proof, self.pins.at(proof.commit, proof.named), now, day, self.table)


def _recorded(snapshot: Snapshot) -> Iterator[Proof]:
    for name in snapshot.ids("evidence"):
        record = snapshot.record("evidence", name)
        yield from () if record is None else proofs(record)


def _altered(was: Proof, now: Proof) -> str:
    """Say what of a proof is another now that decides what it is worth."""
    if (was.commit, was.hash, was.named) != (now.commit, now.hash, now.named):
        return "pins it to another version"
    if was.passed != now.passed:
        return f"dates it {now.passed} in place of {was.passed}"
    if was.value != now.value:
        said = ["no value" if value is None else str(value) for value in (now.value, was.value)]
        return f"lets it have found {said[0]} in place of {said[1]}"
    if was.until != now.until:
        return f"lets it end {'never' if now.until is None else f'on {now.until}'} in place of {was.until or 'never'}"
    return ""


def best(group: Iterable[Coverage]) -> Coverage:
    """Give the proof that counts of several of the same: the one that covers most, the newest of equals.

    One that has ended and one that does not cover are equals: both mean that it has to be made anew.
    """

    def rank(one: Coverage) -> int:
        return STATES.index(REPEAT if one.state == EXPIRED else one.state)

    return min(group, key=lambda one: (rank(one), -one.proof.passed.toordinal(), one.proof.report))


def ends_soon(coverage: Coverage, day: datetime.date) -> bool:
    """Say whether a proof that holds will end within 90 days."""
    until = coverage.proof.until
    return coverage.state in (COVERS, DECIDE) and until is not None and day <= until <= after(day, SOON)
