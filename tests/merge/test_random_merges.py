"""Random pairs of edits against the oracle, and the oracle against merges that are wrong."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from formula_vcs.merge import merge_file
from formula_vcs.merge.comments import Comments
from tests.git.helpers_merge import CREAM
from tests.merge import oracle
from tests.merge.test_merge_file import before, changed, clean, merge, words

SEED = 2026


def _failures(numbers: range, seed: int = SEED) -> Iterator[str]:
    return (f"pair {number}: {said}" for number, said, _ in oracle.failures(seed, numbers))


def _wrong(numbers: range) -> list[str]:
    return [*_failures(numbers)]


def test_some_random_merges() -> None:
    assert not _wrong(range(60))


@pytest.mark.slow
@pytest.mark.parametrize("first", range(60, 700, 160))
def test_more_random_merges(first: int) -> None:
    """Ten thousand are tried by ``python -m tests.merge.oracle --seed N --pairs 10000``."""
    assert not _wrong(range(first, first + 160))


def test_the_oracle_sees_a_lost_comment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Comments, "put_into", lambda _self, text, _way="ours": text)

    assert any("comments" in said or "lost" in said for said in _failures(range(120)))


def test_the_oracle_sees_a_lost_edit(monkeypatch: pytest.MonkeyPatch) -> None:
    """A merge that gives ours back loses what theirs did."""
    monkeypatch.setattr(oracle, "merge_texts", lambda _kind, sides: merge_file.MergedFile(sides.ours.decode(), ()))

    assert any("meaning" in said or "lost an edit" in said for said in _failures(range(20)))


def test_many_of_the_pairs_are_independent_and_both_do_something() -> None:
    pairs = [oracle.pair(SEED, number) for number in range(200)]

    assert sum(one.both is not None for one in pairs) > 80
    assert sum(one.both is None and one.ours.edits != () for one in pairs) > 10


# --- comments


TWICE = changed(("wax = 2.00\n", "water = 5.00\nwax = 2.00\n"))


@pytest.mark.parametrize("both_ways", [False, True])
def test_what_is_said_of_an_ingredient_in_two_phases(*, both_ways: bool) -> None:
    """Water in two phases: a comment stays with the line of its phase, whoever else edits what."""
    said = TWICE.replace("water = 5.00", "# aloe juice: NEVER above 40 degC\nwater = 5.00").replace(
        "wax = 2.00", "wax = 2.10"
    )
    other = TWICE.replace("glycerin = 4.00", "glycerin = 4.50").replace(
        'water    = "to 100"', 'water    = "to 100"  # soft'
    )
    ours, theirs = (other, said) if both_ways else (said, other)
    text = clean(ours, theirs, TWICE)

    assert "# aloe juice: NEVER above 40 degC\nwater = 5.00\nwax = 2.10\n" in text
    assert 'water    = "to 100"  # soft\n' in text


def test_a_comment_that_stands_apart_stays_apart() -> None:
    said = changed(("[phase.C.charge]", "# below 40 degC from here on\n\n[phase.C.charge]"))
    edited = changed(("oil = 6.00", "oil = 7.00"))
    for ours, theirs in ((said, edited), (edited, said)):
        assert "\n\n# below 40 degC from here on\n\n[phase.C.charge]\n" in clean(ours, theirs)


def test_a_comment_that_stood_apart_and_was_taken_out_is_gone() -> None:
    base = changed(("[phase.C.charge]", "# old\n\n[phase.C.charge]"))
    edited = base.replace("oil = 6.00", "oil = 7.00")
    for ours, theirs in ((CREAM, edited), (edited, CREAM)):
        assert clean(ours, theirs, base) == changed(("oil = 6.00", "oil = 7.00"))


@pytest.mark.parametrize(
    "said", [("# pressed", "# NEVER above 40 degC\n# pressed"), ("oil = 6.00", "oil = 6.00  # new")]
)
def test_what_is_written_about_a_line_that_the_other_side_took_out_is_a_conflict(said: tuple[str, str]) -> None:
    gone, wrote = changed(("# pressed cold\noil = 6.00\n", "")), changed(said)
    for ours, theirs in ((gone, wrote), (wrote, gone)):
        assert words(ours, theirs) == ["'oil': taken out on one side, while the other wrote something about it"]
        assert said[1].split("#")[1].split("\n")[0] in merge(ours, theirs).text


def test_what_is_written_about_a_step_that_the_other_side_took_out_is_a_conflict() -> None:
    start, end = CREAM.index('[[step]]\nid    = "finish"'), CREAM.index('[[step]]\nid      = "set-pH"')
    gone, wrote = CREAM[:start] + CREAM[end:], changed(('id    = "finish"', 'id    = "finish"  # gently'))
    for ours, theirs in ((gone, wrote), (wrote, gone)):
        assert words(ours, theirs) == ["'step finish': taken out on one side, while the other wrote something about it"]


def test_a_comment_that_went_with_its_line_was_said_by_nobody_since() -> None:
    gone = changed(("# pressed cold\noil = 6.00\n", ""))

    assert "pressed" not in clean(gone, changed(("glycerin = 4.00", "glycerin = 4.50")))


def test_what_is_written_at_the_head_of_a_file_that_the_other_side_emptied() -> None:
    base = '# in the anchor vessel\ntitle = "Plant"\nkind = "rotor-stator"\n'
    said = base.replace("anchor", "side")
    for ours, theirs in (("", said), (said, "")):
        found = merge(ours, theirs, base, "equipment")

        assert found.clashes
        assert "# in the side vessel" in found.text


# --- charges and steps


@pytest.mark.parametrize("bound", ["at_least = 5.00", "at_most = 8.00", 'tolerance = "1 %"'])
def test_a_bound_goes_with_another_grade(bound: str) -> None:
    swapped = changed(("oil = 6.00", "oil-organic = 6.00"))
    bounded = changed(("oil = 6.00", f"oil = {{ pct = 6.00, {bound} }}"))
    for ours, theirs in ((swapped, bounded), (bounded, swapped)):
        assert f"oil-organic = {{ pct = 6.00, {bound} }}" in clean(ours, theirs)


def test_a_step_that_takes_a_charge_by_name_which_the_other_side_took_elsewhere() -> None:
    """Ours gives the oil a step of its own out of phase B, theirs lets it go in with phase C: a person decides."""
    last = '[[step]]\nid    = "oil-last"\ninto  = "main"\nadd   = ["B/oil"]\nshear = "low"\n\n'
    named = before("finish", last)
    moved = changed(("# pressed cold\noil = 6.00\n", ""), ("scent = 0.10\n", "scent = 0.10\noil = 6.00\n"))
    for ours, theirs in ((named, moved), (moved, named)):
        assert words(ours, theirs) == [
            "step 'oil-last' takes 'B/oil' by name on one side; the other took it from phase B to C"
        ]


# --- batches


BATCH = 'recipe = "cream"\ncommit = "1111111"\nsize = "10 kg"\ndate = 2026-11-30\nmade_by = "MAKER"\n'


def test_two_clones_that_make_a_batch_of_one_id_are_told() -> None:
    """However alike the records are: two batches are two, and a person gives one of them another id."""
    found = merge(BATCH.replace("MAKER", "Ina"), BATCH.replace("MAKER", "Jon"), "", "batches")

    assert ["a batch of this id was made on both sides"] == [clash.words[:41] for clash in found.clashes]
    assert found.text.startswith("<<<<<<< ours\n" + BATCH.replace("MAKER", "Ina"))
    assert found.text.endswith("=======\n" + BATCH.replace("MAKER", "Jon") + ">>>>>>> theirs\n")


def test_one_batch_that_both_recorded_in_is_merged() -> None:
    ours, theirs = (BATCH.replace("MAKER", "Ina") + more for more in ('made = "9.8 kg"\n', "packs = 90\n"))

    assert 'made = "9.8 kg"' in clean(ours, theirs, BATCH.replace("MAKER", "Ina"), "batches")


# --- arrays over several lines


LONG = changed(
    ('claims  = ["natural-origin at least 20 %"]', 'claims  = [\n  "natural-origin at least 20 %",\n  "natural",\n]'),
    ('add   = ["B"]', 'add   = [\n  "B/oil",  # first\n  "B/wax",\n]'),
)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('20 %",\n', '20 %",  # see report 4\n'),
        ('  "natural",\n', '  # the old seal\n  "natural",\n'),
        ('  "natural",\n', '  "natural",\n  # more to come\n'),
        ('  "natural",\n', '  "natural",\n  "cosmos-natural-4",  # new\n'),
        ('  "B/wax",\n', '  "B/wax",  # slowly\n'),
        ("  # first", "  # first of all"),
        ("claims  = [\n", "claims  = [  # in this order\n"),
    ],
)
def test_a_comment_inside_an_array(old: str, new: str) -> None:
    said, edited = changed((old, new), text=LONG), changed(("glycerin = 4.00", "glycerin = 4.50"), text=LONG)
    for ours, theirs in ((said, edited), (edited, said)):
        assert clean(ours, theirs, LONG) == changed(("glycerin = 4.00", "glycerin = 4.50"), text=said)


def test_a_comment_whose_line_is_nowhere_in_the_merge_stands_apart() -> None:
    """What was written about an element of an array that the other side wrote anew is not lost, and beside no line."""
    said = changed(('  "natural",\n', '  "natural",  # the old seal\n'), text=LONG)
    long = '[\n  "natural-origin at least 20 %",\n  "natural",\n]'
    anew = changed((long, '["natural-origin at least 20 %"]'), text=LONG)
    for ours, theirs in ((said, anew), (anew, said)):
        assert "\n# the old seal\n\n" in clean(ours, theirs, LONG)
