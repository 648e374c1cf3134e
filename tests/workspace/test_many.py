"""Work on many things: the same answers in the same order, whatever happens to the processes."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path
from typing import NamedTuple

import pytest

from formula_vcs.errors import UserError
from formula_vcs.git.repository import open_repo
from formula_vcs.workspace.many import answers
from formula_vcs.workspace.snapshot import Committed, Files, Overlay, Snapshot, WorkTree


class Work(NamedTuple):
    """Squares numbers, each in a process that may die or fail over one of them."""

    folder: Path
    dies_on: tuple[int, ...] = ()
    dies_once: tuple[int, ...] = ()
    fails_on: tuple[int, ...] = ()

    def opened(self) -> AbstractContextManager[Callable[[int], tuple[int, int]]]:
        return nullcontext(self.square)

    def square(self, number: int) -> tuple[int, int]:
        if number in self.fails_on:
            raise UserError(f"{number} has no square")
        mark = self.folder / str(number)
        if number in self.dies_on or (number in self.dies_once and not mark.exists()):
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return number, number * number


SQUARES = [(number, number * number) for number in range(500)]


def squared(work: Work, processes: int | None = 3) -> list[tuple[int, int]]:
    return list(answers(work, range(500), few=10, processes=processes))


@pytest.mark.parametrize("processes", [1, 2, 5, None])
def test_order(tmp_path: Path, processes: int | None) -> None:
    assert SQUARES == squared(Work(tmp_path), processes)


def test_none_and_few(tmp_path: Path) -> None:
    assert [] == list(answers(Work(tmp_path), []))
    assert SQUARES[:3] == list(answers(Work(tmp_path), range(3)))


def whose(_item: int) -> int:
    return os.getpid()


class Whose(NamedTuple):
    def opened(self) -> AbstractContextManager[Callable[[int], int]]:
        return nullcontext(whose)


def test_few_are_worked_on_here_and_one_more_elsewhere() -> None:
    assert {os.getpid()} == set(answers(Whose(), range(10), few=10, processes=2))
    assert os.getpid() not in set(answers(Whose(), range(11), few=10, processes=2))


def test_a_process_that_dies_costs_its_part_only(tmp_path: Path) -> None:
    assert SQUARES == squared(Work(tmp_path, dies_once=(0, 7, 250, 251, 499)))


def test_an_item_that_kills_whoever_works_on_it_is_named(tmp_path: Path) -> None:
    seen: list[tuple[int, int]] = []
    with pytest.raises(UserError, match=r"'123' ended 3 times \(exit status -9\)"):
        seen.extend(answers(Work(tmp_path, dies_on=(123,)), range(500), few=10, processes=3))

    assert SQUARES[: len(seen)] == seen


@pytest.mark.parametrize("processes", [1, 3])
def test_what_is_raised_comes_when_its_turn_comes(tmp_path: Path, processes: int) -> None:
    seen: list[tuple[int, int]] = []
    with pytest.raises(UserError, match="123 has no square"):
        seen.extend(answers(Work(tmp_path, fails_on=(123, 400)), range(500), few=10, processes=processes))

    assert SQUARES[:123] == seen


class Odd(Exception):
    """An error that pickle cannot take."""

    def __init__(self, one: object, other: object) -> None:
        super().__init__(f"{one} {other}")


class Oddly(NamedTuple):
    at_once: bool

    @contextmanager
    def opened(self) -> Iterator[Callable[[int], int]]:
        if self.at_once:
            raise UserError("there is no such folder")
        yield self.failing

    def failing(self, number: int) -> int:
        raise Odd(number, lambda: None)


def test_an_error_that_cannot_be_sent_is_one_all_the_same() -> None:
    with pytest.raises(RuntimeError, match="Odd"):
        list(answers(Oddly(at_once=False), range(100), few=1, processes=2))


def test_what_cannot_be_opened_is_said(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="no such folder"):
        list(answers(Oddly(at_once=True), range(100), few=1, processes=2))


def test_where_no_process_starts_the_work_is_done_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(_process: object) -> None:
        raise BlockingIOError(11, "Resource temporarily unavailable")

    monkeypatch.setattr("multiprocessing.context.ForkProcess.start", refused)
    monkeypatch.setattr("multiprocessing.context.SpawnProcess.start", refused)

    assert SQUARES == squared(Work(tmp_path))


def test_left_early_no_process_stays(tmp_path: Path) -> None:
    found = answers(Whose(), range(500), few=10, processes=2)
    workers = {next(found)}
    found.close()  # type: ignore[attr-defined]

    assert not [worker for worker in workers if Path(f"/proc/{worker}").exists()]


_SLOW = """
import sys, time
from contextlib import nullcontext
from typing import NamedTuple
sys.path.insert(0, {root!r})
from formula_vcs.workspace.many import answers
from formula_vcs.errors import INTERRUPTED

def slow(item):
    time.sleep(0.01)
    return item

class Slow(NamedTuple):
    def opened(self):
        return nullcontext(slow)

try:
    for answer in answers(Slow(), range(2000), few=1, processes=3):
        print(answer, flush=True)
except KeyboardInterrupt:
    sys.exit(INTERRUPTED)
"""


def _group(leader: int) -> list[int]:
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(fields[2]) == leader and fields[0] != "Z":
                found.append(int(entry.name))
    return found


@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGKILL])
def test_a_stop_ends_all_of_them_without_a_word(tmp_path: Path, sent: signal.Signals) -> None:
    """Control-C reaches the whole group, as from a terminal; a killed caller is noticed by its workers."""
    script = tmp_path / "slow.py"
    script.write_text(_SLOW.format(root=str(Path(__file__).parents[2])))
    with subprocess.Popen(
        [sys.executable, str(script)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
    ) as caller:
        assert caller.stdout is not None
        assert caller.stderr is not None
        assert b"0\n" == caller.stdout.readline()
        if sent == signal.SIGINT:
            os.killpg(caller.pid, sent)
        else:
            caller.kill()
        caller.wait(20)
        assert (130 if sent == signal.SIGINT else -9) == caller.returncode
        assert b"" == caller.stderr.read()
    deadline = time.monotonic() + 20
    while _group(caller.pid) and time.monotonic() < deadline:
        time.sleep(0.05)

    assert [] == _group(caller.pid)


FILES = {
    "workspace.toml": 'title = "W"\n',
    "gel.toml": 'title = "Gel"\n',
    "ingredients/water.toml": 'title = "Water"\n',
}


def sources(folder: Path) -> Iterator[Snapshot]:
    for path, text in FILES.items():
        (folder / path).parent.mkdir(exist_ok=True)
        (folder / path).write_text(text)
    for words in (("init", "-q"), ("add", "-A"), ("commit", "-q", "-m", "all")):
        subprocess.run(["git", "-c", "user.name=U", "-c", "user.email=u@example.org", *words], cwd=folder, check=True)
    repo = open_repo(folder)
    head = subprocess.run(["git", "rev-parse", "HEAD"], cwd=folder, check=True, capture_output=True, text=True)
    yield Snapshot(WorkTree(folder))
    yield Snapshot(Committed(repo, head.stdout.strip(), "", "HEAD"))
    yield Snapshot(Committed(repo, None, "", "index"))
    yield Snapshot(Files(FILES))
    yield Snapshot(Overlay(Committed(repo, None, "", "index"), {"gel.toml": b'title = "Jelly"\n', "x.toml": None}))


def test_a_snapshot_reads_the_same_in_another_process(tmp_path: Path) -> None:
    for here in sources(tmp_path):
        with here:
            read = {path: here.read(path) for path in here.listing}  # git runs already
            with pickle.loads(pickle.dumps(here)) as there:  # noqa: S301 - written in the same line
                assert read == {path: there.read(path) for path in there.listing}
                assert here.label == there.label
                assert here.source.folder() == there.source.folder()
                assert list(map(here.content_id, read)) == list(map(there.content_id, read))
