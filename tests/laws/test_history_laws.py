"""Laws of blame and history, on generated histories of real git.

Each blamed value is the value at the tip and another one (or none) at the parent; layout never changes a blame; and
the versions' changes, made one after the other, give the tip.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from formula_vcs.diff.apply import apply
from formula_vcs.git import repository
from formula_vcs.history.blame import blame, worded
from formula_vcs.history.blame_parts import VALUE, Facet
from formula_vcs.history.versions import History, versions
from formula_vcs.model.facts import Facts
from formula_vcs.model.recipe import STEP_ORDER
from formula_vcs.setup.history_writer import Person, StoryCommit, create
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.history.helpers_history import SHED

_WHO = Person("Una", "una@example.org")
_BEGIN = datetime(2026, 1, 1, tzinfo=UTC)
_NAMES = ("glycerin", "oil", "oil-organic", "spare")


class Sketch:
    """A recipe that edits are made to; written in one of many layouts that mean the same."""

    def __init__(self) -> None:
        self.charges: dict[str, tuple[str, int]] = {"glycerin": ("A", 500), "oil": ("B", 600)}
        self.steps = ["mix", "cool"]
        self.times = {"mix": 5, "cool": 10}
        self.high = 60

    def copy(self) -> Sketch:
        """Give one of its own to another branch."""
        other = Sketch()
        other.charges, other.steps = dict(self.charges), list(self.steps)
        other.times, other.high = dict(self.times), self.high
        return other

    def edit(self, kind: int, pick: int) -> None:
        """Change something, or nothing."""
        name = sorted(self.charges)[pick % len(self.charges)]
        phase, amount = self.charges[name]
        if kind == 0:
            self.charges[name] = phase, amount + 1 + pick
        elif kind == 1:
            self.charges[name] = "ABC"[pick % 3], amount
        elif kind == 2:
            free = [other for other in _NAMES if other not in self.charges]
            if free:
                self.charges[free[pick % len(free)]] = "ABC"[pick % 3], 100 + pick
        elif kind == 3 and len(self.charges) > 1:
            del self.charges[name]
        elif kind == 4:
            self.steps.reverse()
        elif kind == 5:
            self.times[self.steps[pick % 2]] += 1 + pick
        elif kind == 6:
            self.high += 1
        elif kind == 7 and "oil" in self.charges and "oil-organic" not in self.charges:
            self.charges["oil-organic"] = self.charges.pop("oil")

    def text(self, layout: int) -> str:
        """Write it: the layout chooses order, blanks, comments and digits."""
        chance = random.Random(layout)
        gap = " " * chance.randint(1, 5)
        parts = [f'title{gap}={gap}"Cream"\n']
        for phase in sorted({phase for phase, _ in self.charges.values()} | {"A"}):
            rows = [
                f"{gap}{name} = {_digits(amount, chance)}" for name, (p, amount) in self.charges.items() if p == phase
            ]
            rows += ['water = "to 100"'] if phase == "A" else []
            chance.shuffle(rows)
            parts.append(f"[phase.{phase}.charge]\n" + "".join(f"{row}  # {chance.randint(0, 9)}\n" for row in rows))
        for name in self.steps:
            keys = [f'id = "{name}"', 'into = "main"', "shear = 'low'", f'time = "{self.times[name]} min"']
            chance.shuffle(keys)
            parts.append("[[step]]\n" + "".join(f"{gap}{key}\n" for key in keys))
        return "\n".join(parts) + f'[spec]\npH = "4 to {self.high / 10}"\n'


def _digits(hundredths: int, chance: random.Random) -> str:
    text = f"{hundredths // 100}.{hundredths % 100:02d}"
    return text.rstrip("0") if chance.random() < 0.5 and not text.endswith(".00") else text


# per commit: what kind of edit, which thing, which layout, and whether it branches off, or merges the other branch
Plan = list[tuple[int, int, int, bool]]
PLANS: st.SearchStrategy[Plan] = st.lists(
    st.tuples(st.integers(0, 8), st.integers(0, 5), st.integers(0, 10**6), st.booleans()), min_size=2, max_size=9
)


@contextmanager
def written(plan: Plan, *, layouts: bool = True) -> Iterator[History]:
    """Write a history on two branches that merge where the plan says so; a merge takes the charges of both."""
    sides: list[Any] = [Sketch(), None]
    tips: list[int | None] = [0, None]
    commits = [_commit(0, sides[0].text(0), ())]
    for number, (kind, pick, layout, other) in enumerate(plan, 1):
        if other and sides[1] is None:
            sides[1], tips[1] = sides[0].copy(), tips[0]
        side = int(other)
        sides[side].edit(kind, pick)
        parents: tuple[int, ...] = (tips[side] or 0,)
        if not other and sides[1] is not None:
            sides[0].charges.update(sides[1].charges)
            parents = (tips[0] or 0, tips[1] or 0)
            sides[1], tips[1] = None, None
        commits.append(_commit(number, sides[side].text(layout if layouts else 0), parents, f"side{side}"))
        tips[side] = number
    if sides[1] is not None:
        commits.append(_commit(len(commits), sides[0].text(1), (tips[0] or 0, tips[1] or 0)))
    else:
        commits.append(_commit(len(commits), sides[0].text(1), (tips[0] or 0,)))
    with tempfile.TemporaryDirectory() as place:
        create(Path(place), commits, branch="main")
        yield versions(repository.open_repo(Path(place), inherit=False), "", "cream")


def _commit(number: int, text: str, parents: tuple[int, ...], branch: str = "main") -> StoryCommit:
    files = {name: content.encode() for name, content in SHED.items()} | {"cream.toml": text.encode()}
    return StoryCommit(branch, _WHO, _BEGIN + timedelta(days=number), f"Commit {number}\n", files, parents)


@settings(max_examples=60)
@given(PLANS)
def test_a_blamed_value_is_the_tips_and_not_its_parents(plan: Plan) -> None:
    with written(plan) as history:
        assert history.tip is not None
        assert history.tip.formula is not None
        facts = history.tip.formula.recipe.facts
        found = blame(history.tip)
        assert {facet.path for facet in found if facet.what == VALUE} == facts.keys() - {STEP_ORDER}
        for facet, blamed in found.items():
            if facet.what == VALUE:
                assert worded(facts[facet.path]) == blamed.new
            assert blamed.new is not None
            assert blamed.old != blamed.new


# kinds of edits after which a thing still has the name that it had
_IN_PLACE = st.sampled_from([0, 2, 5, 6, 8])


@settings(max_examples=60)
@given(st.lists(st.tuples(_IN_PLACE, st.integers(0, 5), st.integers(0, 10**6)), min_size=1, max_size=8))
def test_blame_agrees_with_reading_every_commit(edits: list[tuple[int, int, int]]) -> None:
    """On one line of commits, where nothing is renamed, the commit is the last before which the value was another."""
    with written([(kind, pick, layout, False) for kind, pick, layout in edits]) as history:
        assert history.tip is not None
        sketch = Sketch()
        states = [_facts(sketch.text(0))]
        for kind, pick, layout in edits:
            sketch.edit(kind, pick)
            states.append(_facts(sketch.text(layout)))
        for facet, blamed in blame(history.tip).items():
            if facet.what == VALUE:
                number = len(states) - 1
                while number and states[number - 1].get(facet.path) == states[-1][facet.path]:
                    number -= 1
                assert f"Commit {number}" == blamed.version.commit.subject


def _facts(text: str) -> Facts:
    recipe = Snapshot(Files({**SHED, "cream.toml": text})).recipe("cream")
    assert recipe is not None
    return recipe.facts


@settings(max_examples=40)
@given(PLANS)
def test_layout_never_changes_a_blame(plan: Plan) -> None:
    """The same edits in one layout throughout and in another one at every commit owe the same to the same commits."""
    with written(plan) as wild, written(plan, layouts=False) as calm:
        assert _by_number(wild) == _by_number(calm)


def _by_number(history: History) -> dict[Facet, tuple[str, str | None]]:
    assert history.tip is not None
    return {facet: (blamed.version.commit.subject, blamed.old) for facet, blamed in blame(history.tip).items()}


@settings(max_examples=40)
@given(PLANS)
def test_the_changes_of_each_version_lead_from_its_parents_to_it(plan: Plan) -> None:
    with written(plan) as history:
        assert history.tip is not None
        for version in history.versions:
            for parent, changes in zip(version.parents, version.against, strict=False):
                if parent.formula is not None and version.formula is not None:
                    assert version.formula == apply(parent.formula, changes)
