"""What needs no look at all: the verdicts that found nothing, and which of them a changed file can touch.

A check of a whole workspace leaves which content every file had, and turns round what its verdicts asked: from each
question to the files whose verdicts asked it.  The next one compares the contents, and looks up only the verdicts
that asked for one of those that differ.  All of it is of one run: each part carries that run's mark.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from typing import Final, NamedTuple

from formula_vcs.words.checksums import sha256
from formula_vcs.workspace.asked_snapshot import Question
from formula_vcs.workspace.snapshot import id_of, kind_of
from formula_vcs.workspace.verdict_store import Kept

_PARTS: Final = 256
_MOST_ASKED: Final = 1000  # verdicts that ask the same: where its answer differs, all are looked up
_MANY: Final = "*"
_FIELD, _WORD = "\t", "\x1f"
# Of questions with these kinds it is known which file changes their answer, or what of git's does.
_OF_FILES: Final = frozenset({"content", "id", "ids"})
_OF_GIT: Final = frozenset({"commit", "branch", "edits"})
_FULL: Final = (40, 64)  # digits of a whole id: a short one may mean two commits tomorrow

Read = Callable[[str], bytes]
Write = Callable[[str, bytes], None]


class Moment(NamedTuple):
    """Where git stood: the commit up to which edits were followed, the default branch, and its commit."""

    tip: str
    branch: str
    branch_tip: str


class FileRow(NamedTuple):
    """A file: its place in the list, its content, in which respects it is settled, and in which it is asked again."""

    number: int
    content: str
    settled: frozenset[str]
    asked: frozenset[str]


class SettledFiles(NamedTuple):
    """What one whole check left."""

    mark: str
    first: datetime.date
    last: datetime.date
    moment: Moment
    files: Mapping[str, FileRow]

    def differing(self, contents: Mapping[str, str]) -> set[str]:
        """Name the files that came, went, or have another content."""
        found = {path for path, row in self.files.items() if contents.get(path) != row.content}
        return found | (contents.keys() - self.files.keys())

    def touched(self, differing: Collection[str], here: Collection[str], read: Read) -> set[str] | None:
        """Name the files whose verdicts asked for what differs, these included; None where that is too much to say.

        ``here`` are the files that are there now, ``read`` gives a part by its name.
        """
        questions: set[Question] = set()
        for path in differing:
            questions.add(("content", path))
            if (path in self.files) is not (path in here):
                questions |= {("id", kind_of(path), id_of(path)), ("ids", kind_of(path))}
        numbers: set[int] = set()
        by_part: dict[str, set[str]] = {}
        for question in questions:
            line = _WORD.join(question)
            by_part.setdefault(_part(line), set()).add(line)
        for part, lines in by_part.items():
            mark, *rows = _text(read(part)).split("\n")
            if mark != self.mark:
                return None
            for row in rows:
                asked, _, who = row.partition(_FIELD)
                if asked in lines:
                    if who == _MANY:
                        return None
                    numbers.update(map(int, who.split()))
        return {path for path, row in self.files.items() if row.number in numbers} | set(differing)


def read_settled(read: Read) -> SettledFiles | None:
    """Read what the last whole check left; None where there is none."""
    try:
        head, *lines = _text(read("files")).split("\n")
        mark, first, last, *moment = head.split(_FIELD)
        files = {}
        for number, line in enumerate(lines):
            path, content, settled, asked = line.split(_FIELD)
            files[path] = FileRow(number, content, _respects(settled), _respects(asked))
        days = datetime.date.fromisoformat(first), datetime.date.fromisoformat(last)
        return SettledFiles(mark, *days, Moment(*moment), files)
    except (ValueError, TypeError):
        return None


def write_settled(
    contents: Mapping[str, str],
    given: Iterable[tuple[str, str, Kept | None]],
    moment: Moment,
    write: Write,
) -> None:
    """Write what a whole check leaves.

    ``contents`` are all files with their contents; ``given`` each verdict that was given: respect, file, and what it
    hung on, None where that cannot be kept.
    """
    if any(mark in word for pair in contents.items() for word in pair for mark in (_FIELD, "\n", _WORD)):
        return
    numbers = {path: number for number, path in enumerate(contents)}
    settled: dict[str, set[str]] = {}
    asked: dict[str, set[str]] = {}
    first, last = datetime.date.min, datetime.date.max
    who: dict[str, set[int]] = {}
    for what, path, verdict in given:
        if verdict is None or path not in numbers or not _settles(verdict):
            asked.setdefault(path, set()).add(what)
            continue
        settled.setdefault(path, set()).add(what)
        first, last = max(first, verdict.first), min(last, verdict.last)
        for question in _of_files(verdict.asked):
            who.setdefault(_WORD.join(question), set()).add(numbers[path])
    mark = os.urandom(16).hex()
    parts: dict[str, list[str]] = {f"{number:02x}": [mark] for number in range(_PARTS)}
    for line, files in who.items():
        if "\n" not in line and _FIELD not in line:
            asking = _MANY if len(files) > _MOST_ASKED else " ".join(map(str, sorted(files)))
            parts[_part(line)].append(f"{line}{_FIELD}{asking}")
    for part, lines in parts.items():
        write(part, _raw("\n".join(lines)))
    rows = [_FIELD.join((mark, first.isoformat(), last.isoformat(), *moment))]
    for path, content in contents.items():
        words = (",".join(sorted(found.get(path, ()))) for found in (settled, asked))
        rows.append(_FIELD.join((path, content, *words)))
    write("files", _raw("\n".join(rows)))


def _settles(verdict: Kept) -> bool:
    """Say whether a verdict found nothing, and hangs on nothing that is not seen to change."""
    if verdict.findings:
        return False
    held = {question[1] for question, said in verdict.asked if question[0] == "branch" and said == "True"}
    for question, _ in verdict.asked:
        kind = question[0]
        if kind not in _OF_FILES and kind not in _OF_GIT:
            return False
        if any(mark in word for word in question for mark in (_FIELD, "\n", _WORD)):
            return False
        if kind in ("commit", "branch") and (len(question[1]) not in _FULL or question[1] not in held):
            return False
    return True


def _of_files(asked: Iterable[tuple[Question, str]]) -> Iterator[Question]:
    for question, _ in asked:
        if question[0] in _OF_FILES:
            yield question
        elif question[0] == "edits":  # what the file says now is held against its last commit
            yield "content", question[1]


def _part(line: str) -> str:
    return f"{sha256(_raw(line)).digest()[0] % _PARTS:02x}"


def _respects(words: str) -> frozenset[str]:
    return frozenset(words.split(",")) if words else frozenset()


def _raw(text: str) -> bytes:
    return text.encode("utf-8", "surrogateescape")


def _text(data: bytes) -> str:
    return data.decode("utf-8", "surrogateescape")
