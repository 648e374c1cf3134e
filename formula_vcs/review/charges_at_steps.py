"""Where in the process a changed charge is met: the steps that it came into, or went out of, between two versions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from formula_vcs.diff.change import Change
from formula_vcs.figures.process_run import Process


class ChargeAtStep(NamedTuple):
    """A charge (ingredient id) that a step of the new version adds otherwise than before.

    ``sign`` is "+" where it came in, "-" where it went out, "" where only its amount changed.  ``other_step`` is where
    it was, or is now; ``other_grade`` what it stands for; each empty where there is none.  ``words`` say a new amount.
    """

    charge: str
    sign: str
    other_step: str = ""
    other_grade: str = ""
    words: str = ""


def charges_at_steps(changes: Iterable[Change], past: Process, present: Process) -> dict[str, list[ChargeAtStep]]:
    """Give for each step id of ``present`` the charges that changed there, as ``changes`` of the recipe tell them."""
    was, now = _entries(past), _entries(present)
    steps = {row.stage.step.id for row in present.rows}
    found: dict[str, list[ChargeAtStep]] = {}
    seen = set[str]()
    for change in changes:
        for step, one, keys in _of(change, was, now):
            seen.update(keys)
            if step in steps:
                found.setdefault(step, []).append(one)
    for key, step in now.items():
        before = was.get(key, step)
        if before != step and key not in seen:
            name = _name(key)
            found.setdefault(step, []).append(ChargeAtStep(name, "+", before))
            if before in steps:
                found.setdefault(before, []).append(ChargeAtStep(name, "-", step))
    return found


def _entries(found: Process) -> dict[str, str]:
    """Give the step that brings each charge (phase/ingredient) in first."""
    first: dict[str, str] = {}
    for row in found.rows:
        for key, _ in row.added:
            first.setdefault(key, row.stage.step.id)
    return first


def _name(key: str) -> str:
    return key.split("/", 1)[1]


def _of(change: Change, was: dict[str, str], now: dict[str, str]) -> Iterator[tuple[str, ChargeAtStep, Sequence[str]]]:
    """Give the step, what is to be said there, and the charges that it is said of."""
    place = change.where.split("/")
    if len(place) < 4 or place[0] != "phase" or place[2] != "charge":
        return
    key, name = f"{place[1]}/{place[3]}", place[3]
    if change.kind == "amount":
        yield now.get(key, ""), ChargeAtStep(name, "", words=change.text), (key,)
    elif change.kind == "added":
        yield now.get(key, ""), ChargeAtStep(name, "+"), (key,)
    elif change.kind == "removed":
        yield was.get(key, ""), ChargeAtStep(name, "-"), (key,)
    elif change.kind == "grade-swap" and change.new:
        there = f"{place[1]}/{change.new}"
        other = there if there in now else next((one for one in now if _name(one) == change.new), there)
        yield now.get(other, ""), ChargeAtStep(change.new, "+", other_grade=name), (key, other)
    elif change.kind == "moved" and change.new:
        there = f"{change.new}/{name}"
        before, after = was.get(key, ""), now.get(there, "")
        yield after, ChargeAtStep(name, "+", before), (key, there)
        if before != after:
            yield before, ChargeAtStep(name, "-", after), (key, there)
