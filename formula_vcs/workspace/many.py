"""The same work on many things: here for a few, on all cores for many; the same answers in the same order.

Other processes are sent the job once, by pickle, and then only say which of its items are theirs.  One that dies costs
what it was working on, which another does again; Control-C ends all of them without a word.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, ExitStack, suppress
from functools import partial
from typing import TYPE_CHECKING, Any, Final, NamedTuple, NoReturn, Protocol, TypeVar

from formula_vcs.errors import UserError

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

Item = TypeVar("Item")
Answer = TypeVar("Answer")
_Item_contra = TypeVar("_Item_contra", contravariant=True)
_Answer_co = TypeVar("_Answer_co", covariant=True)

FEW: Final = 400  # recipes to judge; below that the start of a process costs more than it saves
_LARGEST: Final = 100  # items that one process works on before it answers
_AHEAD: Final = 2  # chunks that a process is given, so that it never waits
_TRIES: Final = 3  # of one item in processes that died
_PATIENCE: Final = 5.0  # seconds for a process to end


class Job(Protocol[_Item_contra, _Answer_co]):
    """Work on items.  It can be pickled, and so can they and the answers: what it holds is sent to other processes."""

    def opened(self) -> AbstractContextManager[Callable[[_Item_contra], _Answer_co]]:
        """Make ready, once in each process, and give what answers for one item."""
        ...


class _Chunk(NamedTuple):
    """Some items by their numbers, and how often a process died over them."""

    first: int
    end: int
    lost: int = 0


class _Raised(NamedTuple):
    error: Exception


def cores() -> int:
    """Count the cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def answers(
    job: Job[Item, Answer], items: Sequence[Item], *, few: int = FEW, processes: int | None = None
) -> Iterator[Answer]:
    """Give the answer for each item, in the order of the items.

    ``few`` is how many items are worked on in this process alone; ``processes`` how many work on more of them, all
    cores where it is None.  What is raised over an item is raised here when its turn comes.

    :raises UserError: the process that works on one item dies again and again.
    """
    wanted = min(cores() if processes is None else processes, len(items))
    if wanted > 1 and len(items) > few:
        yield from _Crew(job, items, wanted)
    else:
        with job.opened() as work:
            yield from map(work, items)


class _Worker(NamedTuple):
    """One process, what speaks to it, and what it has to do, the first of it now."""

    process: BaseProcess
    pipe: Connection
    given: deque[_Chunk]


class _Crew:
    """Processes that share the items of a job."""

    def __init__(self, job: Job[Any, Any], items: Sequence[Any], count: int) -> None:
        self._job = job
        self._items = items
        self._count = count
        size = max(1, min(_LARGEST, len(items) // (count * 8)))
        firsts = range(0, len(items), size)
        self._waiting = deque(_Chunk(first, min(first + size, len(items))) for first in firsts)
        self._workers: list[_Worker] = []
        self._done: dict[int, list[Any]] = {}  # by the number of their first item

    def __iter__(self) -> Iterator[Any]:
        import multiprocessing
        import pickle

        # Other threads, as an editor's server has them, would be copied in the middle of what they do.
        forks = sys.platform.startswith("linux") and threading.active_count() == 1
        context = multiprocessing.get_context("fork" if forks else "spawn")
        sent = pickle.dumps((self._job, self._items))
        try:
            for _ in range(self._count):
                self._start(context, sent, forks=forks)
            at = 0
            while at < len(self._items):
                while at in self._done:
                    for answer in self._done.pop(at):
                        if isinstance(answer, _Raised):
                            raise answer.error
                        at += 1
                        yield answer
                if at == len(self._items):
                    return
                if not self._workers and not self._start(context, sent, forks=forks):
                    yield from self._alone(at)
                    return
                for worker in list(self._workers):
                    self._give(worker)
                self._listen(lambda: self._start(context, sent, forks=forks))
        finally:
            self._end()

    def _start(self, context: Any, sent: bytes, *, forks: bool) -> bool:
        """Start a process; without one more where the system gives none."""
        ours, theirs = context.Pipe()
        others = [worker.pipe for worker in self._workers] if forks else []
        process = context.Process(target=_work, args=(theirs, [*others, ours] if forks else [], sent), daemon=True)
        # Until the process has said that it ignores Control-C, a signal waits for it.
        held = signal.pthread_sigmask(signal.SIG_BLOCK, (signal.SIGINT,))
        try:
            process.start()
        except OSError:  # too many processes, or no memory for one
            ours.close()
            return False
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, held)
            theirs.close()
        self._workers.append(_Worker(process, ours, deque()))
        return True

    def _give(self, worker: _Worker) -> None:
        while self._waiting and len(worker.given) < _AHEAD:
            chunk = self._waiting.popleft()
            worker.given.append(chunk)
            with suppress(OSError):  # it died: `_listen` hears of it
                worker.pipe.send((chunk.first, chunk.end))

    def _listen(self, start: Callable[[], object]) -> None:
        """Take the answers that are there, waiting for the first; put back what dead processes leave."""
        import pickle
        from multiprocessing.connection import wait

        spoken = wait([worker.pipe for worker in self._workers])
        for worker in [worker for worker in self._workers if worker.pipe in spoken]:
            try:
                found = pickle.loads(worker.pipe.recv_bytes())  # noqa: S301 - our own process wrote it
            except (EOFError, OSError):
                self._workers.remove(worker)
                self._lost(worker)
                if self._waiting:
                    start()
                continue
            self._done[worker.given.popleft().first] = found

    def _lost(self, worker: _Worker) -> None:
        """Put back what a dead process was given: what it was at one by one, as one of these may be why it died."""
        worker.pipe.close()
        worker.process.join()
        self._waiting.extendleft(reversed(list(worker.given)[1:]))
        for first in worker.given and [worker.given[0]]:
            if first.end - first.first == 1 and first.lost + 1 >= _TRIES:
                why = f"exit status {worker.process.exitcode}"
                raise UserError(f"the process that worked on '{self._items[first.first]}' ended {_TRIES} times ({why})")
            singles = [_Chunk(number, number + 1, first.lost + 1) for number in range(first.first, first.end)]
            self._waiting.extendleft(reversed(singles))

    def _alone(self, at: int) -> Iterator[Any]:
        """Go on in this process, where the system gives no other."""
        with self._job.opened() as work:
            while at < len(self._items):
                for answer in self._done.pop(at, None) or [work(self._items[at])]:
                    if isinstance(answer, _Raised):
                        raise answer.error
                    at += 1
                    yield answer

    def _end(self) -> None:
        for worker in self._workers:
            worker.pipe.close()
            worker.process.terminate()
        for worker in self._workers:
            worker.process.join(_PATIENCE)
            if worker.process.is_alive():
                worker.process.kill()
                worker.process.join()
        self._workers.clear()


def _work(pipe: Connection, others: list[Connection], sent: bytes) -> None:
    """Answer for items until the caller is gone.  Runs in a process of its own."""
    import pickle

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the caller hears it, and ends this
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, (signal.SIGINT,))
    for other in others:  # else this would keep them open when the caller is gone
        other.close()
    with suppress(EOFError, OSError), ExitStack() as stack:
        job, items = pickle.loads(sent)  # noqa: S301 - the caller wrote it
        try:
            work = stack.enter_context(job.opened())
        except Exception as error:  # noqa: BLE001 - the caller raises it
            work = partial(_refused, error)
        while True:
            first, end = pipe.recv()
            pipe.send_bytes(pickle.dumps([_answer(work, item) for item in items[first:end]]))


def _refused(error: Exception, _item: object) -> NoReturn:
    raise error


def _answer(work: Callable[[Any], Any], item: object) -> object:
    try:
        return work(item)
    except Exception as error:  # noqa: BLE001 - the caller raises it
        return _Raised(_sendable(error))


def _sendable(error: Exception) -> Exception:
    """Give an error that another process can raise, with the place that it comes from."""
    import pickle
    import traceback

    try:
        found: Exception = pickle.loads(pickle.dumps(error))  # noqa: S301 - written in the same line
    except Exception:  # noqa: BLE001 - pickle says in many ways that it cannot
        found = RuntimeError(f"{type(error).__name__}: {error}")
    found.add_note("".join(traceback.format_exception(error)))
    return found
