"""Laws of taking some changes alone: what the files say then is what those changes make of the old version."""

from __future__ import annotations

import random
import subprocess
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st

from formula_vcs.commands.change_args import handles, named, one_each
from formula_vcs.diff.apply import apply
from formula_vcs.diff.change import Brought, Change
from formula_vcs.diff.diff import diff
from formula_vcs.figures.figure import Terms
from formula_vcs.git.patch import FileChange, patch
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Recipe
from formula_vcs.review.compare import compare
from formula_vcs.review.subset import Pick, Subset, TakenPart, content_of, picks
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.toml.write_facts import CannotWrite, rewritten
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.laws import strategies as laws
from tests.laws.strategies import DAY, RECIPE, Book, formula

TERMS = Terms(DAY)
FILE = f"{RECIPE}.toml"
PAIRS = st.one_of(laws.edited_often(), laws.crossed(laws.books()), st.tuples(laws.books(), laws.books()))
BROKEN = st.one_of(laws.crossed(laws.broken_books()), st.tuples(laws.broken_books(), laws.broken_books()))


def can_be_said(pair: tuple[Book, Book]) -> bool:
    """Say whether a file can say every subset.

    Amounts of two modes cannot stand in one recipe, and a row that repeats another cannot stand without the other.
    """
    if any(path[-1] == "again" for book in pair for path in formula(book).recipe.facts):
        return False
    return all(pair[0][path].get("amounts") == pair[1][path].get("amounts") for path in pair[0] if path in pair[1])


class TestWritingFacts:
    """Whatever some changes make of a file's facts can be written into its text, and is read back from it."""

    @settings(max_examples=12)
    @given(PAIRS, st.integers(0, 2**32), st.booleans())
    def test_any_subset_can_be_written(self, pair: tuple[Book, Book], seed: int, plain: bool) -> None:
        assume(can_be_said(pair))
        seeds = (None, None) if plain else (seed, seed + 1)
        old, new = (formula(book, layout) for book, layout in zip(pair, seeds, strict=True))
        chance = random.Random(seed)
        chosen = [change for change in diff(old, new) if not change.derived and chance.random() < 0.6]
        there = apply(old, chosen)
        texts, donors = (laws.written(book, layout) for book, layout in zip(pair, seeds, strict=True))
        for path, kind, facts in _files(there):
            if path in texts:
                note(f"{texts[path]}\n---\n{donors.get(path)}")
                edited = rewritten(texts[path], facts, kind, donors.get(path))

                assert facts == facts_of(kind, parse(edited.encode()).data)

    @settings(max_examples=15)
    @given(BROKEN, st.integers(0, 2**32))
    def test_a_broken_file_is_written_or_refused_by_name(self, pair: tuple[Book, Book], seed: int) -> None:
        old, new = map(formula, pair)
        chance = random.Random(seed)
        there = apply(old, [change for change in diff(old, new) if not change.derived and chance.random() < 0.6])
        texts, donors = map(laws.written, pair)
        try:
            edited = rewritten(texts[FILE], there.recipe.facts, "recipe", donors[FILE])
        except CannotWrite:
            return
        assert there.recipe.facts == facts_of("recipe", parse(edited.encode()).data)

    @settings(max_examples=15)
    @given(laws.books(), st.integers(0, 2**32))
    def test_nothing_is_touched_where_nothing_changes(self, book: Book, seed: int) -> None:
        texts = laws.written(book, seed)

        assert texts[FILE] == rewritten(texts[FILE], formula(book).recipe.facts, "recipe", laws.written(book)[FILE])


def _files(there: Formula) -> list[tuple[str, str, Mapping[tuple[str, ...], object]]]:
    return [
        (FILE, "recipe", there.recipe.facts),
        ("workspace.toml", "workspace", there.workspace.facts),
        *((f"{name}.toml", "recipe", premix.facts) for name, premix in there.premixes.items()),
        *((f"ingredients/{name}.toml", "ingredients", found.facts) for name, found in there.ingredients.items()),
    ]


def _sides(pair: tuple[Book, Book], seed: int) -> tuple[Snapshot, Snapshot]:
    old, new = (Snapshot(Files(laws.written(book, seed + index))) for index, book in enumerate(pair))
    return old, new


def _all(old: Snapshot, new: Snapshot) -> tuple[list[Pick], tuple[str, ...]]:
    compared = compare(old, new, TERMS, findings=False, measure=False)
    return picks(compared, old, new), compared.touched


def _of(side: Snapshot) -> Formula:
    recipe = side.recipe(RECIPE)
    assert recipe is not None
    return side.formula(recipe)


def _with_what_is_there(change: Change, old: Snapshot) -> Change:
    """Give a change that brings materials as they stand: their own changes are taken or left by themselves."""
    brings: dict[str, Brought] = {
        name: (old.premix(brought.id) if isinstance(brought, Recipe) else old.ingredient(name)) or brought
        for name, brought in change.brings.items()
    }
    waiting = [brought for brought in brings.values() if isinstance(brought, Recipe)]
    while waiting:  # a premix that is made of other materials now comes with those that it is made of there
        for name in waiting.pop().uses:
            material = old.ingredient(name)
            if material is None or name in brings:
                continue
            brings[name] = material
            premix = None if material.recipe is None else old.premix(material.recipe)
            if premix is not None and f"recipe:{premix.id}" not in brings:
                brings[f"recipe:{premix.id}"] = premix
                waiting.append(premix)
    return replace(change, brings=brings)


class TestSubsets:
    """A subset of the changes as files is the subset of the changes as values."""

    @settings(max_examples=20)
    @given(PAIRS, st.integers(0, 2**32))
    def test_the_files_say_what_the_changes_make(self, pair: tuple[Book, Book], seed: int) -> None:
        assume(can_be_said(pair))
        old, new = _sides(pair, seed)
        found, touched = _all(old, new)
        chance = random.Random(seed)
        taken = tuple(pick for pick in found if pick.recipe == RECIPE and chance.random() < 0.5)
        left = tuple(pick for pick in found if pick not in taken)
        note(str([pick.change.text for pick in taken]))
        subset = Subset(old, new, TakenPart(taken, left), rest=False, touched=touched)

        assert apply(_of(old), [_with_what_is_there(pick.change, old) for pick in taken]) == _of(subset.snapshot())

    @settings(max_examples=15)
    @given(PAIRS, st.integers(0, 2**32))
    def test_leaving_what_is_not_taken_says_the_same(self, pair: tuple[Book, Book], seed: int) -> None:
        """Taking from the old side and undoing in the new one are two ways to one meaning."""
        assume(can_be_said(pair))
        old, new = _sides(pair, seed)
        found, touched = _all(old, new)
        chance = random.Random(seed)
        chosen = {pick.keys for pick in found if chance.random() < 0.5}
        taken = tuple(pick for pick in found if pick.keys in chosen)
        left = tuple(pick for pick in found if pick.keys not in chosen)
        note(str([pick.change.text for pick in taken]))
        there, back = (
            Subset(old, new, TakenPart(taken, left), rest=rest, touched=touched).snapshot() for rest in (False, True)
        )

        assert _of(there) == _of(back)

    @settings(max_examples=12)
    @given(PAIRS, st.integers(0, 2**32))
    def test_all_of_them_are_the_new_files_byte_by_byte(self, pair: tuple[Book, Book], seed: int) -> None:
        old, new = _sides(pair, seed)
        found, touched = _all(old, new)
        only, without = (
            Subset(old, new, TakenPart(tuple(found), ()), rest=rest, touched=touched) for rest in (False, True)
        )
        for subset in (only, without):
            for path, content in subset.files.items():
                assert content_of(new, path) == content
        assert set(without.files) == set(touched)

    @settings(max_examples=12)
    @given(PAIRS, st.integers(0, 2**32))
    def test_none_of_them_are_the_old_files(self, pair: tuple[Book, Book], seed: int) -> None:
        old, new = _sides(pair, seed)
        found, touched = _all(old, new)

        assert {} == Subset(old, new, TakenPart((), tuple(found)), rest=False, touched=touched).files

    @settings(max_examples=12)
    @given(PAIRS, st.integers(0, 2**32))
    def test_each_change_can_be_called_by_its_handle_and_by_its_id(self, pair: tuple[Book, Book], seed: int) -> None:
        found, _ = _all(*_sides(pair, seed))
        for pick in one_each(found):
            assert {pick.keys} == {other.keys for other in named(found, handles([pick], found)[0])}
            if pick.recipe:
                assert {pick.keys} == {other.keys for other in named(found, f"{pick.recipe}:{pick.change.id}")}


@settings(max_examples=5, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(PAIRS, st.integers(0, 2**32))
def test_git_applies_the_patch(tmp_path_factory: object, pair: tuple[Book, Book], seed: int) -> None:
    assume(can_be_said(pair))
    old, new = _sides(pair, seed)
    found, touched = _all(old, new)
    chance = random.Random(seed)
    chosen = {pick.keys for pick in found if chance.random() < 0.6}
    part = TakenPart(
        tuple(pick for pick in found if pick.keys in chosen), tuple(pick for pick in found if pick.keys not in chosen)
    )
    subset = Subset(old, new, part, rest=bool(seed % 2), touched=touched)
    assume(subset.files)
    folder: Path = tmp_path_factory.mktemp("patch")  # type: ignore[attr-defined]
    subprocess.run(["git", "init", "-q"], cwd=folder, check=True)
    for path in old.listing:
        (folder / path).parent.mkdir(exist_ok=True)
        (folder / path).write_bytes(content_of(old, path) or b"")
    subprocess.run(["git", "-c", "core.autocrlf=false", "add", "."], cwd=folder, check=True)
    changes = [FileChange(path, content_of(old, path), content) for path, content in subset.files.items()]
    made = patch(changes)
    note(made.decode(errors="replace"))
    subprocess.run(["git", "apply", "--index", "--whitespace=nowarn", "-"], cwd=folder, input=made, check=True)

    for path in {*old.listing, *subset.files}:
        content = content_of(subset.snapshot(), path)
        there = folder / path
        assert content == (there.read_bytes() if there.exists() else None)
