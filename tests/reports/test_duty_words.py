"""Duties in words."""

from __future__ import annotations

from formula_vcs.changes.duties import Duty
from formula_vcs.reports import duty_words


def duty(owner: str = "formulator", source: str = "", *, standing: bool = False, because: tuple[str, ...] = ()) -> Duty:
    return Duty("Repeat it", owner, because, "stability ST-1", source, standing=standing)


def test_sources_are_said_shortly_and_once() -> None:
    source = (
        "Annex I, A.2 (stability); SUPAC-SS III, level 2: to 10 % (from memory); "
        "SUPAC-SS III, level 2: total to 10 % (from memory); SUPAC-SS III, level 1: to 5 %; "
        "the line at 10 %: common practice, no source"
    )

    assert (
        "Annex I, A.2 (stability); SUPAC-SS III, level 2 (from memory); SUPAC-SS III, level 1; "
        "the line at 10 %: common practice, no source"
    ) == duty_words.sources(duty(source=source))


def test_by_owner_in_their_order() -> None:
    found = duty_words.by_owner([duty("a"), duty("b"), duty("a")])

    assert {"a": 2, "b": 1} == {owner: len(duties) for owner, duties in found.items()}


def test_what_was_due_before() -> None:
    assert "" == duty_words.standing(duty())
    assert duty_words.STANDING == duty_words.standing(duty(standing=True))
    assert duty_words.ADDED_TO == duty_words.standing(duty(standing=True, because=("x",)))
