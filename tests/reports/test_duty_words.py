"""Duties in words."""

from __future__ import annotations

from dataclasses import replace

from formula_vcs.evidence.duties import Duty
from formula_vcs.reports import duty_words
from tests.helpers_page import MORE_PRESERVATIVE, SWAP, review


def duty(owner: str = "formulator", source: str = "", *, standing: bool = False, because: tuple[str, ...] = ()) -> Duty:
    return Duty("Repeat it", owner, because, "stability ST-1", source, standing=standing)


def test_sources_are_said_shortly_and_once() -> None:
    source = (
        "Annex I, A.2 (stability); SUPAC-SS III, level 2: to 10 % (from memory); "
        "SUPAC-SS III, level 2: total to 10 % (from memory); SUPAC-SS III, level 1: to 5 %; "
        "the line at 10 %: common practice, no source"
    )

    assert [
        "Annex I, A.2 (stability)", "SUPAC-SS III, level 2 (from memory)", "SUPAC-SS III, level 1",
        "the line at 10 %: common practice, no source",
    ] == duty_words.sources(duty(source=source))  # fmt: skip


def test_a_colon_inside_brackets_does_not_cut_a_source() -> None:
    whole = "Regulation (EC) No 1223/2009, Article 13 (update where information changes: from memory)"

    assert [whole] == duty_words.sources(duty(source=whole))


def test_sources_are_listed_once_and_numbered() -> None:
    law = "Regulation (EC) No 1223/2009"
    first = duty(source=f"{law}, Annex I, A.2 (stability); ISO 11930")
    second = duty(source=f"SUPAC-SS III, level 2: to 10 % (from memory); {law}, Article 13 (update: from memory); x")

    sources = duty_words.Sources([first, second])

    assert (
        f"Sources: {law}: [1] Annex I, A.2, [2] Article 13 (from memory); [3] ISO 11930; [4] x; "
        "SUPAC-SS: [5] III, level 2 (from memory)."
    ) == sources.listed()
    assert "[1, 3]" == sources.mark(first)
    assert "[2, 4-5]" == sources.mark(second)
    assert ("", "") == (duty_words.Sources([]).listed(), sources.mark(duty()))


def test_two_lines_tell_what_outdates_evidence() -> None:
    lines = tuple(f"material-{number} +{number} % of its amount (beyond 5 %)" for number in range(10, 20))

    assert f"{lines[0]}; {lines[1]}; {lines[2]}; and 7 more" == duty_words.told(replace(duty(), lines=lines))
    assert "x" * 500 == duty_words.told(replace(duty(), lines=("x" * 500,)))
    assert "x" * 149 + "; and 1 more" == duty_words.told(replace(duty(), lines=("x" * 149, "yy")))
    assert "" == duty_words.told(duty())


def test_changes_of_one_place_stand_together_and_all_of_them_are_no_list() -> None:
    slower = ("face-polish.toml", 'speed = "3200 rpm"\ntime  = "12 min"', 'speed = "2000 rpm"\ntime = "19 min"')
    found = review("face-polish", MORE_PRESERVATIVE, SWAP, slower)
    real = tuple(change.id for change in found.changes if not change.derived)
    some = tuple(one for one in real if "→" not in one and "silica-" not in one)

    assert [
        "benzyl-alcohol-dha (D)", "step 'open-silica' (speed, time)",
    ] == duty_words.causes(duty(because=some), found)  # fmt: skip
    assert "because benzyl-alcohol-dha (D); step 'open-silica' (speed, time)" == duty_words.why(
        duty(because=some), found
    )
    assert f"because of all {len(real)} changes; {duty_words.ADDED_TO}" == duty_words.why(
        duty(because=real, standing=True), found
    )
    assert "" == duty_words.why(duty(), found)


def test_one_change_alone_is_named() -> None:
    found = review("face-polish", MORE_PRESERVATIVE)

    assert "because benzyl-alcohol-dha (D)" == duty_words.why(duty(because=(found.changes[0].id,)), found)


def test_by_owner_in_their_order() -> None:
    found = duty_words.by_owner([duty("a"), duty("b"), duty("a")])

    assert {"a": 2, "b": 1} == {owner: len(duties) for owner, duties in found.items()}


def test_what_was_due_before() -> None:
    assert "" == duty_words.standing(duty())
    assert duty_words.STANDING == duty_words.standing(duty(standing=True))
    assert duty_words.ADDED_TO == duty_words.standing(duty(standing=True, because=("x",)))
