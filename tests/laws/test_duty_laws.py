"""Laws of evidence: only the version that was tested and the version asked about count, not the way between them."""

from __future__ import annotations

import copy
import datetime
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from formula_vcs.diff.diff import diff
from formula_vcs.evidence.coverage import COVERS, DECIDE, REPEAT, STATES, Evidence, outdated
from formula_vcs.evidence.drift.drift import Conditions, Drift
from formula_vcs.evidence.drift.measure import measure
from formula_vcs.evidence.duties import Following, Reviewed, follow
from formula_vcs.evidence.pinned_versions import Pinned
from formula_vcs.model.evidence import KINDS, Proof
from formula_vcs.model.facts import Facts
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.rules.rule import Edit
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.laws import strategies as laws
from tests.laws.strategies import DAY, RECIPE, Book, formula

COMMIT = "c" * 40
ANY_PAIR = st.one_of(laws.edited_often(), laws.crossed(laws.books()), laws.crossed(laws.broken_books()))


class Passed(Pinned):
    """A version of which nobody asks whether it passed: most that are generated do not."""

    def blocking(self, day: datetime.date) -> list[Finding]:
        """Say that it did."""
        del day
        return []


class OneVersion:
    """The pinned version of these laws: one formula, whatever commit is asked for; it passes its check."""

    def __init__(self, of: Formula) -> None:
        """Take the version."""
        self._found = Passed("found", COMMIT, of)

    @property
    def hash(self) -> str:
        """Give its content hash."""
        return self._found.hash

    def at(self, commit: str, recipe: str) -> Pinned:
        """Give the version."""
        del commit, recipe
        return self._found

    def on_default_branch(self, commit: str) -> bool | None:
        """Not be asked."""
        raise AssertionError(commit)

    def edits(self, file: str, facts: Facts) -> Iterator[Edit]:
        """Not be asked: this is about batches."""
        raise AssertionError(file, facts)


def followed(pin: Formula, old: Formula, new: Formula) -> Following:
    """Review a change where every kind of evidence is recorded for one version."""
    pins = OneVersion(pin)
    rows = [
        f'[[proof]]\nkind = "{kind}"\nscheme = "x"\ncommit = "{COMMIT}"\nhash = "{pins.hash}"\nreport = "R-{kind}"\n'
        f"passed = {DAY}\n"
        for kind in KINDS
    ]
    files = Files({"evidence/all.toml": f'recipe = "{RECIPE}"\n' + "".join(rows)})
    with Snapshot(files) as snapshot:
        return follow(Evidence(snapshot, pins), Reviewed(old, new, diff(old, new), DAY))


def worth(found: Following) -> list[tuple[str, str, tuple[str, ...]]]:
    """Give what each proof is worth and why."""
    return [(one.proof.report, one.state, tuple(crossing.text for crossing in one.crossings)) for one in found.proofs]


@settings(max_examples=100)
@given(ANY_PAIR)
def test_nothing_moves_without_a_change_and_anything_can_be_measured(pair: tuple[Book, Book]) -> None:
    old, new = map(formula, pair)

    assert () == measure(old, formula(pair[0], 7), Conditions(DAY))
    for drift in measure(old, new, Conditions(DAY)):
        assert drift.size > 0
        assert drift.text


@settings(max_examples=40)
@given(laws.edited_often(3), st.data())
def test_small_changes_come_to_the_same_as_one_large_change(pair: tuple[Book, Book], data: st.DataObject) -> None:
    """Whatever stands between, and whichever of the changes the review is about."""
    pin, end = map(formula, pair)
    between = formula(data.draw(st.one_of(st.just(pair[0]), st.just(pair[1]), laws.books())))

    by_steps, at_once = followed(pin, between, end), followed(pin, pin, end)

    assert worth(at_once) == worth(by_steps)
    assert [(duty.evidence, duty.size, duty.must) for duty in at_once.duties] == [
        (duty.evidence, duty.size, duty.must) for duty in by_steps.duties
    ]


@settings(max_examples=40)
@given(laws.edited_often(3))
def test_taken_back_there_is_no_duty(pair: tuple[Book, Book]) -> None:
    pin, away = map(formula, pair)

    found = followed(pin, away, formula(copy.deepcopy(pair[0]), 3))

    assert () == found.duties
    assert {COVERS} == {one.state for one in found.proofs}


@settings(max_examples=40)
@given(laws.edited_often(4))
def test_a_duty_names_what_brings_it(pair: tuple[Book, Book]) -> None:
    """A new duty has a change to blame, a standing one that nothing adds to has none, and only real ones are named."""
    pin, new = map(formula, pair)
    real = {change.id for change in diff(pin, new) if not change.derived}

    for duty in followed(pin, pin, new).duties:
        assert not duty.standing
        assert duty.because
        assert real >= set(duty.because)
    for duty in followed(pin, new, new).duties:
        assert duty.standing
        assert () == duty.because


def _moved(book: Book, cents: int) -> Formula | None:
    """Give the book's cream with its first fixed amount so many hundredths larger."""
    book = copy.deepcopy(book)
    for phase in book[f"{RECIPE}.toml"].get("phase", {}).values():
        for name, value in phase.get("charge", {}).items():
            if isinstance(value, Decimal):
                phase["charge"][name] = value + Decimal(cents).scaleb(-2)
                return formula(book)
    return None


@settings(max_examples=60)
@given(laws.books(), st.lists(st.integers(1, 400), min_size=2, max_size=5, unique=True))
def test_farther_away_is_never_better(book: Book, steps: list[int]) -> None:
    pin = formula(book)
    states: list[int] = []
    sizes: list[Fraction] = []
    for cents in sorted(steps):
        new = _moved(book, cents)
        assume(new is not None and "percent" == new.recipe.amounts)
        assert new is not None
        drifts = [drift for drift in measure(pin, new, Conditions(DAY), {"amount"}) if drift.when in ("amount", "sum")]
        states.append(STATES.index(outdated(_proof("stability"), drifts)[0]))
        sizes.append(max((drift.size for drift in drifts), default=Fraction(0)))

    assert sorted(states) == states
    assert sorted(sizes) == sizes


def _proof(kind: str) -> Proof:
    return Proof("", 1, RECIPE, kind, COMMIT, "", "R", DAY)


@given(st.lists(st.fractions(0, 1), min_size=1, max_size=6))
def test_the_worst_drift_decides(sizes: list[Fraction]) -> None:
    """SUPAC-SS: to 5 % level 1, to 10 % level 2 (from memory), beyond it level 3."""
    drifts = [Drift("amount", f"m{n}", "moved", size) for n, size in enumerate(sizes)]

    state, crossings = outdated(_proof("stability"), drifts)

    worst = max(sizes)
    assert state == (REPEAT if worst > Fraction("0.1") else DECIDE if worst > Fraction("0.05") else COVERS)
    lines = {COVERS: Fraction(2), DECIDE: Fraction("0.05"), REPEAT: Fraction("0.1")}
    assert len(crossings) == sum(size > lines[state] for size in sizes)
