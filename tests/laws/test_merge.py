"""Laws of the merge, tried on generated workspaces that two people edit at once."""

from __future__ import annotations

import copy
import random
import re
from typing import Any

from hypothesis import assume, event, given, note, settings
from hypothesis import strategies as st

from formula_vcs.diff.diff import diff
from formula_vcs.merge.merge_facts import MergedFacts, NotMergeable, merge_facts
from formula_vcs.merge.merge_file import MergedFile, merge_of, merge_texts
from formula_vcs.merge.three_way import TAKEN_OUT, ThreeWay
from formula_vcs.model.facts import Facts, Path, Unread
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import main_substance
from formula_vcs.model.recipe import Recipe
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.workspace.snapshot import Files, Snapshot, kind_of
from tests.laws import strategies as laws
from tests.laws.strategies import EDITS, RECIPE, Book, written
from tests.merge.oracle import asks

FILE = f"{RECIPE}.toml"


@st.composite
def forked(draw: laws.Draw, most: int = 4) -> tuple[Book, Book, Book]:
    """Build a workspace and two that two people made of it: ours, base, theirs."""
    base = draw(laws.books())
    return _edited(draw, base, most), base, _edited(draw, base, most)


def _edited(draw: laws.Draw, base: Book, most: int) -> Book:
    new = copy.deepcopy(base)
    for edit in draw(st.lists(st.sampled_from(EDITS), min_size=1, max_size=most)):
        if edit is laws.joined:
            continue
        trial = copy.deepcopy(new)
        try:
            edit(draw, trial)
        except (laws.NotHere, KeyError, ValueError):
            continue
        new = trial
    return new


@st.composite
def unrelated(draw: laws.Draw) -> tuple[Book, Book, Book]:
    """Build three workspaces that have pieces of each other, broken ones among them."""
    base, ours = draw(laws.crossed(st.one_of(laws.books(), laws.broken_books())))
    theirs = copy.deepcopy(base)
    chance = random.Random(draw(st.integers(0, 10_000)))
    other = draw(laws.books())
    for path in theirs:
        if path in other and chance.random() < 0.5:
            laws._cross(theirs[path], other[path], chance)
    return ours, base, theirs


ANY = st.one_of(forked(), unrelated())
SEED = st.one_of(st.none(), st.integers(0, 10_000))


def facts(book: Book, path: str, seed: int | None = None) -> Facts | None:
    parsed = parse(written(book, seed)[path].encode())
    return None if parsed.errors else facts_of(kind_of(path), parsed.data)


def grades(book: Book) -> Any:
    snapshot = Snapshot(Files(written(book)))
    return ThreeWay(*[lambda name: main_substance(snapshot.ingredient(name))] * 3)


Seeds = tuple[int | None, int | None, int | None]


def merged(books: tuple[Book, Book, Book], path: str, seeds: Seeds = (None, None, None)) -> MergedFacts | None:
    """Merge the facts of one file; None where a version cannot be read."""
    sides = [facts(book, path, seed) if path in book else None for book, seed in zip(books, seeds, strict=True)]
    if any(side is None for side in sides):
        return None
    try:
        return merge_facts(kind_of(path), ThreeWay(*(side or {} for side in sides)), grades(books[1]))
    except NotMergeable:
        return None


def _field(place: Path) -> Path:
    """Give the place of a fact, of a charge only the field: its phase and grade are merged on their own."""
    return ("phase", *place[4:]) if place[0] == "phase" and len(place) > 3 else place


def lost_names(side: Facts) -> bool:
    """Say whether a step names a charge that is not there: it may be there by chance once the other side moved one."""
    named = (item for path, value in side.items() if path[-1] in ("add", "adjust") and isinstance(value, tuple)
             for item in value)  # fmt: skip
    texts = (item if isinstance(item, str) else item.what for item in named)
    return any("/" in text and ("phase", *text.split("/", 1)) not in {(p[0], p[1], p[3]) for p in side if len(p) > 3}
               for text in texts)  # fmt: skip


def shared(books: tuple[Book, Book, Book]) -> list[str]:
    return sorted(set(books[0]) & set(books[1]) & set(books[2]))


class TestTheMergeOfFacts:
    """What a merge means."""

    @settings(max_examples=25)
    @given(ANY)
    def test_one_side_alone_is_the_merge(self, books: tuple[Book, Book, Book]) -> None:
        ours, base, _ = books
        for path in sorted(set(ours) & set(base)):
            one = facts(ours, path)
            if merged((ours, base, base), path) is None:
                continue
            for three in ((ours, base, base), (base, base, ours), (ours, base, ours)):
                found = merged(three, path)

                assert found is not None
                assert found.clashes == ()
                assert one == found.facts.ours

    @settings(max_examples=50)
    @given(ANY)
    def test_it_does_not_matter_whose_is_whose(self, books: tuple[Book, Book, Book]) -> None:
        ours, base, theirs = books
        for path in shared(books):
            one, other = merged((ours, base, theirs), path), merged((theirs, base, ours), path)
            assert (one is None) == (other is None)
            if one is None or other is None:
                continue
            note("\n".join(str(clash) for clash in one.clashes))
            event(f"{'clash' if one.clashes else 'clean'} {path == FILE}")

            assert {clash.where for clash in one.clashes} == {clash.where for clash in other.clashes}
            assert one.facts.theirs == other.facts.ours
            assert one.facts.ours == other.facts.theirs

    @settings(max_examples=50)
    @given(ANY)
    def test_merging_again_changes_nothing(self, books: tuple[Book, Book, Book]) -> None:
        for path in shared(books):
            found = merged(books, path)
            if found is None or found.clashes or any(lost_names(facts(book, path) or {}) for book in books):
                continue
            sides = ThreeWay(*(facts(book, path) or {} for book in books))
            done = found.facts.ours
            for again in (ThreeWay(done, sides.base, sides.theirs), ThreeWay(sides.ours, sides.base, done)):
                twice = merge_facts(kind_of(path), again, grades(books[1]))

                assert twice.clashes == ()
                assert found.facts.ours == twice.facts.ours

    @settings(max_examples=50)
    @given(ANY)
    def test_nothing_is_in_it_that_neither_side_wrote(self, books: tuple[Book, Book, Book]) -> None:
        for path in shared(books):
            found = merged(books, path)
            if found is None:
                continue
            sides = [facts(books[0], path) or {}, facts(books[2], path) or {}]
            known = [{(_field(place), repr(value)) for place, value in side.items()} for side in sides]
            for place, value in found.facts.ours.items():
                # orders, lists and prices are put together; a phase can be left empty
                if place[0] in ("step", "price") or (value is True and place[0] == "phase"):
                    continue

                assert any((_field(place), repr(value)) in side for side in known), (place, value)

    @settings(max_examples=50)
    @given(forked())
    def test_a_clean_merge_has_the_changes_of_both_and_no_others(self, books: tuple[Book, Book, Book]) -> None:
        found = merged(books, FILE)
        if found is None or found.clashes:
            return
        base = {**books[1]}
        ours, theirs = ({change.id for change in diff(*_formulas(base, side)) if not change.derived} for side in
                        (facts(books[0], FILE), facts(books[2], FILE)))  # fmt: skip
        changes = [change for change in diff(*_formulas(base, found.facts.ours)) if not change.derived]
        every = (*ours, *theirs, *(change.id for change in changes))
        assume(not any(item.split(":")[0] in ("split", "joined") for item in every))
        note(f"ours {sorted(ours)}\ntheirs {sorted(theirs)}\nmerged {[change.id for change in changes]}")

        # which step of two is called the moved one is a matter of counting
        moved = {item for item in every if item.startswith("step-moved")}
        assert {change.id for change in changes} - moved == (ours | theirs) - moved


def _formulas(base: Book, after: Facts | None) -> tuple[Formula, Formula]:
    snapshot = Snapshot(Files(written(base)))
    return (
        snapshot.formula(Recipe(RECIPE, facts(base, FILE) or {}, FILE)),
        snapshot.formula(Recipe(RECIPE, after or {}, FILE)),
    )


def text_merge(books: tuple[Book, Book, Book], path: str, seeds: Seeds) -> MergedFile | None:
    texts = (written(book, seed)[path].encode() for book, seed in zip(books, seeds, strict=True))
    return merge_texts(kind_of(path), ThreeWay(*texts), grades(books[1]))


class TestTheText:
    """What is written."""

    @settings(max_examples=50)
    @given(ANY, SEED, SEED, SEED)
    def test_it_reads_as_the_merge_or_carries_markers(
        self, books: tuple[Book, Book, Book], one: int | None, two: int | None, three: int | None
    ) -> None:
        for path in shared(books):
            meant = merged(books, path, (one, two, three))
            found = text_merge(books, path, (one, two, three))
            if meant is None:
                assert found is None
                continue
            unread = any(isinstance(v, Unread) for v in meant.facts.ours.values())
            if found is None:
                event("not written")
                # a comment had no place, so lines are merged: that has to ask, or nobody would see that it is gone
                texts = [
                    written(book, seed)[path].encode() for book, seed in zip(books, (one, two, three), strict=True)
                ]
                assert unread or asks(*texts), f"{path} was not written"
                continue
            note(found.text)
            if found.clashes and not meant.clashes:  # only what was written about a line that the other took out
                assert all(clash.words.endswith(TAKEN_OUT) for clash in found.clashes)
            if found.clashes:
                assert "<<<<<<< ours" in found.text
                assert ">>>>>>> theirs" in found.text
            else:
                parsed = parse(found.text.encode())

                assert not parsed.errors
                assert meant.facts.ours == facts_of(kind_of(path), parsed.data)

    @settings(max_examples=50)
    @given(forked(8), SEED, SEED)
    def test_choosing_one_side_everywhere_gives_its_way(
        self, books: tuple[Book, Book, Book], one: int | None, two: int | None
    ) -> None:
        seeds = one, one, two
        found = text_merge(books, FILE, seeds)
        if found is None or not found.clashes:
            return
        texts = ThreeWay(*(written(book, seed)[FILE] for book, seed in zip(books, seeds, strict=True)))
        sides = ThreeWay(*(facts(book, FILE, seed) or {} for book, seed in zip(books, seeds, strict=True)))
        meant = merge_of("recipe", texts, sides, grades(books[1]))
        note(found.text)
        for way in ("ours", "theirs"):
            parsed = parse(chosen(found.text, way).encode())

            assert not parsed.errors
            assert meant.facts.way(way) == facts_of("recipe", parsed.data)

    @settings(max_examples=60)
    @given(forked())
    def test_comments_of_untouched_lines_survive(self, books: tuple[Book, Book, Book]) -> None:
        sides = [_commented(written(book)[FILE]) for book in books]
        texts = [side.encode() for side in sides]
        found = merge_texts("recipe", ThreeWay(*texts), grades(books[1]))
        if found is None:  # what was written of a charge has no place where the other side took all phases away
            assert asks(*texts)
            return
        lines = found.text.split("\n")
        untouched = set(sides[0].split("\n")) & set(sides[1].split("\n")) & set(sides[2].split("\n"))

        for line in untouched:
            assert "#" not in line or line in lines


def _commented(text: str) -> str:
    """Give every pair a comment that says which it is: of which table, and of which step or row."""
    lines: list[str] = []
    for block in re.split(r"(?m)^(?=\[)", text):
        names = re.findall(r"(?m)^(?:\[.*|(?:id|rule) = .*)", block)
        lines += [f"{line}  # {' '.join(names)}" if " = " in line else line for line in block.split("\n")]
    return "\n".join(lines)


def chosen(text: str, way: str) -> str:
    """Settle every conflict of a text in one way."""
    kept, part = [], ""
    for line in text.split("\n"):
        mark = line[:8].strip()
        if mark in ("<<<<<<<", "|||||||", "=======", ">>>>>>>"):
            part = {"<<<<<<<": "ours", "|||||||": "base", "=======": "theirs", ">>>>>>>": ""}[mark]
        elif part in ("", way):
            kept.append(line)
    return "\n".join(kept)
