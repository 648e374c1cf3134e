"""Each content is read once and parsed once, whoever asks for it."""

from __future__ import annotations

import datetime
from collections import Counter
from pathlib import Path

import pytest

from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.git import repository
from formula_vcs.toml import syntax
from formula_vcs.workspace import content_store
from formula_vcs.workspace.content_store import ContentStore
from formula_vcs.workspace.snapshot import Committed, Files, Refused, Snapshot, WorkTree
from tests.conftest import MINIMAL, GitRepo

DAY = datetime.date(2026, 11, 30)


class Counting(Files):
    """A workspace in memory that counts how often each file is read."""

    def __init__(self, files: dict[str, str]) -> None:
        super().__init__(files)
        self.reads: Counter[str] = Counter()

    def read(self, path: str) -> bytes | Refused:
        self.reads[path] += 1
        return super().read(path)


@pytest.fixture
def parsed(monkeypatch: pytest.MonkeyPatch) -> Counter[bytes]:
    """Count how often each content is parsed."""
    counted: Counter[bytes] = Counter()
    parse = syntax.parse

    def counting(data: bytes, known: syntax.Pieces | None = None) -> syntax.Parsed:
        counted[data] += 1
        return parse(data, known)

    monkeypatch.setattr(syntax, "parse", counting)
    return counted


def test_a_check_reads_each_file_once_and_parses_each_content_once(parsed: Counter[bytes]) -> None:
    files = {**MINIMAL, "twin.toml": MINIMAL["cream.toml"], "bad.toml": 'title = "B"\n[phase.A.charge]\nwater = 250\n'}
    source = Counting(files)
    with Snapshot(source) as snapshot:
        findings = [snapshot.place(finding) for finding in judge_workspace(snapshot, DAY)]

    assert any(finding.file == "bad.toml" and finding.line == 3 for finding in findings)
    assert Counter(dict.fromkeys(files, 1)) == source.reads
    assert set(parsed.values()) == {1}
    assert len({text.encode() for text in files.values()}) == len(parsed)


def test_moments_with_one_store_share_what_was_read(parsed: Counter[bytes]) -> None:
    store = ContentStore()
    old = Snapshot(Files(MINIMAL), store)
    new = Snapshot(Files({**MINIMAL, "workspace.toml": 'title = "Barn"\n'}), store)

    assert old.ingredient("water") is new.ingredient("water")
    assert old.workspace.facts != new.workspace.facts
    assert (
        Counter(
            {
                MINIMAL["ingredients/water.toml"].encode(): 1,
                MINIMAL["workspace.toml"].encode(): 1,
                b'title = "Barn"\n': 1,
            }
        )
        == parsed
    )


def test_the_same_content_at_another_path_is_another_ingredient() -> None:
    snapshot = Snapshot(Files({**MINIMAL, "ingredients/aqua.toml": MINIMAL["ingredients/water.toml"]}))

    found = [snapshot.ingredient(name) for name in ("aqua", "water")]

    assert ["aqua", "water"] == [ingredient.id for ingredient in found if ingredient is not None]


def test_recipes_stay_only_as_long_as_there_is_room(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(content_store, "_MOST_BYTES", 30)
    store = ContentStore()
    for number in range(3):
        store.read("recipe", f"name-{number}", b'title = "Cream %d"\n' % number)

    assert [False, False, True] == [store.known("recipe", f"name-{number}") is not None for number in range(3)]


def test_what_other_files_rest_on_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(content_store, "_MOST_BYTES", 0)
    store = ContentStore()
    for number in range(3):
        store.read("ingredients", f"name-{number}", b'title = "Oil %d"\n' % number)

    assert all(store.known("ingredients", f"name-{number}") is not None for number in range(3))


def test_a_value_is_made_once() -> None:
    made: list[int] = []
    store = ContentStore()

    def make() -> int:
        made.append(0)
        return len(made)

    assert [1, 1] == [store.cached("key", make) for _ in range(2)]


def test_the_index_and_a_commit_share_by_the_name_that_git_gives(tmp_path: Path, parsed: Counter[bytes]) -> None:
    repo = GitRepo(tmp_path)
    repo.commit("first", MINIMAL)
    opened = repository.open_repo(tmp_path)
    store = ContentStore()
    with (
        Snapshot(Committed(opened, None, "", "index"), store) as index,
        Snapshot(Committed(opened, repository.resolve(opened, "HEAD"), "", "HEAD"), store) as head,
    ):
        here = Snapshot(WorkTree(tmp_path), store)

        assert index.ingredient("water") is head.ingredient("water") is here.ingredient("water")

    assert Counter({MINIMAL["ingredients/water.toml"].encode(): 1}) == parsed
