"""Verdicts beside a clone: small text files in git's own folder, each of which is trusted only as far as it proves.

They stand in ``<git common dir>/formula-vcs/verdicts-<user>/<tool>/``, some verdicts a file, so that ten thousand
are read by a few hundred opens.  A file is written beside and renamed; its first line holds a checksum of the rest
and of its own place.  One that belongs to somebody else, that others may write, or that is damaged is not there.  What
goes wrong here is never an error: the verdict is then worked out again.
"""

from __future__ import annotations

import contextlib
import datetime
import json
import os
import stat
import time
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final, NamedTuple, Self

from formula_vcs.git.repository import Repo, is_shallow
from formula_vcs.model.finding import SEVERITIES, Finding, Mend, Severity
from formula_vcs.words.checksums import sha256
from formula_vcs.workspace.asked_snapshot import Question
from formula_vcs.workspace.tool_stamp import stamp_at_start, tool_stamp

FOLDER: Final = "formula-vcs"
_FORM: Final = "formula-vcs verdicts 2"
_SHARDS: Final = 256
_MOST_BYTES: Final = 2 * 1024 * 1024  # of one file
_MOST_LISTED: Final = 32 * 1024 * 1024  # of the list of all files of a workspace
_MOST_KEPT: Final = 3  # verdicts on one file in one respect: of as many branches
_MOST_TOOLS: Final = 3  # whose verdicts stay
_OLD: Final = 30 * 24 * 3600.0  # seconds after which verdicts that nobody added to go
_TAG: Final = (
    "Signature: 8a477f597d28d172789f06886806bc55\n"
    "# Verdicts of git formula check. All of this may be deleted at any time.\n"
)
# Where git would take other objects, or other history, than the ones in this folder.
_STEERING: Final = (
    "GIT_REPLACE_REF_BASE", "GIT_GRAFT_FILE", "GIT_SHALLOW_FILE", "GIT_OBJECT_DIRECTORY",
    "GIT_ALTERNATE_OBJECT_DIRECTORIES", "GIT_NAMESPACE",
)  # fmt: skip


class Kept(NamedTuple):
    """What was found, on which days, and what it hung on: questions with their answers."""

    first: datetime.date
    last: datetime.date
    asked: tuple[tuple[Question, str], ...]
    findings: tuple[Finding, ...]


class Use(NamedTuple):
    """How a store stands: how many files and bytes, or why it is not used."""

    where: Path
    files: int
    size: int
    why_not: str


def verdicts_of(repo: Repo | None) -> VerdictStore | None:
    """Open the verdicts of a clone; None where they are not to be used."""
    if repo is None or why_not(repo):
        return None
    try:
        return VerdictStore(_place(repo), stamp_at_start() or tool_stamp())
    except OSError:
        return None


def why_not(repo: Repo) -> str:
    """Say why the verdicts of a clone are not used; empty where they are."""
    if os.environ.get("CI"):
        return "CI judges everything"
    if any(name in os.environ for name in _STEERING):
        return "the environment names other objects"
    if (repo.common_dir / "reftable").exists() or _replaced(repo):
        return "objects are replaced here"
    return "this clone is shallow" if is_shallow(repo) else ""


def use_of(repo: Repo) -> Use:
    """Say how the verdicts of a clone stand."""
    where = _place(repo)
    files = [path for path in where.rglob("*") if path.is_file()] if where.is_dir() else []
    size = 0
    for path in files:
        with contextlib.suppress(OSError):
            size += path.stat().st_size
    return Use(where, len(files), size, why_not(repo))


def _place(repo: Repo) -> Path:
    return repo.common_dir / FOLDER / f"verdicts-{os.geteuid()}"


def _replaced(repo: Repo) -> bool:
    """Say whether git shows other objects, or other parents, in place of some."""
    common = repo.common_dir
    try:
        if (common / "info" / "grafts").exists() or any((common / "refs" / "replace").glob("*")):
            return True
        packed = common / "packed-refs"
        return packed.exists() and b" refs/replace/" in packed.read_bytes()
    except OSError:
        return True


class VerdictStore:
    """The verdicts that one tool gave.  Nothing is written before ``save``."""

    def __init__(self, place: Path, tool: str) -> None:
        """Take the folder of all verdicts, and what judges here."""
        self._place = place
        self._tool = tool
        self._folder = place / tool
        self._shards: dict[str, dict[tuple[str, str, str], list[Kept]]] = {}
        self._changed: set[str] = set()
        self._parts: dict[str, bytes] = {}
        # what the answers of this run hang on: the days between which each holds, and whether each can be kept
        self.first, self.last, self.lasts = datetime.date.min, datetime.date.max, True
        self._pinned: set[str] = set()
        self._held: set[str] = set()  # by the default branch: nothing takes those away while it stands where it does
        self._trusted = _ours(place) and _ours(self._folder)

    def __enter__(self) -> Self:
        """Give the store itself."""
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        """Write what is new, unless a mistake broke the work off; what was judged before a stop is whole."""
        if kind is None or kind is KeyboardInterrupt:
            self.save()

    def kept(self, folder: str, what: str, path: str) -> list[Kept]:
        """Give the verdicts on a file of a workspace (its folder in the repository) in one respect."""
        return self._shard(_shard_of(folder, path)).get((folder, what, path), [])

    def named(self, folder: str, kind: str) -> set[str]:
        """Give what questions of a kind are about, in all verdicts on a workspace."""
        if not self._trusted:
            return set()
        lead = _lead(folder)
        with contextlib.suppress(OSError):
            for name in sorted(path.name for path in self._folder.iterdir()):
                if name.startswith(lead) and len(name) == len(lead) + 2:
                    self._shard(name)
        every = (one for shard in self._shards.values() for kept in shard.values() for one in kept)
        return {question[1] for one in every for question, _ in one.asked if question[0] == kind}

    def keep(self, folder: str, what: str, path: str, verdict: Kept) -> None:
        """Take a verdict, unless a file could not give it back as it is."""
        try:
            again = _kept(json.loads(json.dumps(_plain(verdict))))
        except (ValueError, TypeError, RecursionError):
            return
        if again != verdict:
            return
        name = _shard_of(folder, path)
        key = folder, what, path
        others = [one for one in self._shard(name).get(key, ()) if one[:3] != verdict[:3]]
        self._shards[name][key] = [verdict, *others][:_MOST_KEPT]
        self._changed.add(name)

    def gave(self, verdict: Kept | None) -> None:
        """Note a verdict that was given in this run, None for one that cannot be kept."""
        if verdict is None:
            self.lasts = False
        else:
            self.first, self.last = max(self.first, verdict.first), min(self.last, verdict.last)
            self._pinned.update(said for question, said in verdict.asked if question[0] == "commit")
            held = (question[1] for question, said in verdict.asked if question[0] == "branch" and said == "True")
            self._held.update(held)

    @property
    def stands(self) -> bool:
        """Say whether all that was given in this run stays while the files and branches do."""
        return self.lasts and self._pinned <= self._held

    def keep_glance(self, data: bytes) -> None:
        """Keep what lets the next hook look before it loads anything."""
        with contextlib.suppress(OSError):
            if self._make():
                self._put(self._place / "glance", data)

    def part(self, folder: str, name: str) -> bytes:
        """Give a part of what the last whole check of a workspace left (see `settled`); empty where there is none."""
        with contextlib.suppress(OSError):
            if self._trusted:
                name = f"settled-{_lead(folder)}{name}"
                head, _, body = _bytes(self._folder / name, _MOST_LISTED).partition(b"\n")
                return body if head == self._head(name, body) else b""
        return b""

    def keep_parts(self, folder: str, parts: Mapping[str, bytes]) -> None:
        """Keep what a whole check of a workspace leaves, when all else is saved: in the given order."""
        self._parts = {f"settled-{_lead(folder)}{name}": body for name, body in parts.items()}

    def save(self) -> None:
        """Write the files that have new verdicts; what cannot be written is forgotten."""
        with contextlib.suppress(OSError):
            if (self._changed or self._parts) and tool_stamp() == self._tool and self._make():
                for name in sorted(self._changed):
                    self._write(name)
                for name, body in self._parts.items():
                    self._put(self._folder / name, self._head(name, body) + b"\n" + body)
                self._sweep()
        self._changed.clear()
        self._parts = {}

    def _shard(self, name: str) -> dict[tuple[str, str, str], list[Kept]]:
        if name not in self._shards:
            self._shards[name] = self._read(name) if self._trusted else {}
        return self._shards[name]

    def _read(self, name: str) -> dict[tuple[str, str, str], list[Kept]]:
        found: dict[tuple[str, str, str], list[Kept]] = {}
        try:
            head, _, body = _bytes(self._folder / name).partition(b"\n")
            if head != self._head(name, body):
                return {}
            for line in body.splitlines():
                folder, what, path, *kept = json.loads(line)
                found[folder, what, path] = [_kept(one) for one in kept]
        except (OSError, ValueError, TypeError, KeyError, IndexError, RecursionError, OverflowError):
            return {}
        return found

    def _head(self, name: str, body: bytes) -> bytes:
        lead = f"{self._tool}/{name}\n".encode()
        return f"{_FORM} {sha256(lead + body).hexdigest()}".encode()

    def _make(self) -> bool:
        """Make the folders where there are none; they are nobody else's to write."""
        self._place.parent.mkdir(exist_ok=True)
        for folder in (self._place, self._folder):
            with contextlib.suppress(FileExistsError):
                folder.mkdir(mode=0o700)
        if not (_ours(self._place) and _ours(self._folder)):
            return False
        tag = self._place / "CACHEDIR.TAG"
        if not tag.exists():
            tag.write_text(_TAG, encoding="utf-8")
        return True

    def _write(self, name: str) -> None:
        lines: list[bytes] = []
        size = 0
        # what was added last comes last: where there is too much, the oldest goes
        for key, kept in reversed(self._shards[name].items()):
            line = json.dumps([*key, *map(_plain, kept)]).encode("ascii")
            size += len(line) + 1
            if size > _MOST_BYTES:
                break
            lines.append(line)
        body = b"".join(line + b"\n" for line in reversed(lines))
        self._put(self._folder / name, self._head(name, body) + b"\n" + body)

    def _put(self, path: Path, data: bytes) -> None:
        beside = path.with_name(f".{path.name}.{os.urandom(8).hex()}.tmp")
        try:
            number = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
            with os.fdopen(number, "wb") as file:
                file.write(data)
            beside.replace(path)
        except BaseException:
            with contextlib.suppress(OSError):
                beside.unlink()
            raise

    def _sweep(self) -> None:
        """Take away what broken-off writes left, and the verdicts of tools that are not used any more."""
        now = time.time()
        os.utime(self._folder)
        for left in self._folder.glob(".*.tmp"):
            if now - left.lstat().st_mtime > 3600:
                left.unlink(missing_ok=True)
        tools = [path for path in self._place.iterdir() if path.is_dir() and not path.is_symlink()]
        newest = sorted(tools, key=lambda path: path.lstat().st_mtime, reverse=True)
        for place, path in enumerate(newest):
            if path != self._folder and (place >= _MOST_TOOLS or now - path.lstat().st_mtime > _OLD):
                import shutil

                shutil.rmtree(path, ignore_errors=True)


def _lead(folder: str) -> str:
    return f"{sha256(folder.encode('utf-8', 'surrogateescape')).hexdigest()[:16]}-"


def _shard_of(folder: str, path: str) -> str:
    number = sha256(path.encode("utf-8", "surrogateescape")).digest()[0] % _SHARDS
    return f"{_lead(folder)}{number:02x}"


def _ours(path: Path) -> bool:
    """Say whether a folder is this user's own and nobody else's to write."""
    try:
        return stat.S_ISDIR(path.lstat().st_mode) and _own(path.lstat())
    except OSError:
        return False


def _own(found: os.stat_result) -> bool:
    return found.st_uid == os.geteuid() and not found.st_mode & (stat.S_IWGRP | stat.S_IWOTH)


def _bytes(path: Path, most: int = _MOST_BYTES) -> bytes:
    """Read a plain file of this user's own that nobody else may write; empty else."""
    number = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        found = os.fstat(number)
        if not stat.S_ISREG(found.st_mode) or not _own(found) or found.st_size > most + 1024:
            return b""
        with os.fdopen(number, "rb", closefd=False) as file:
            return file.read(most + 1024)
    finally:
        os.close(number)


# --- to text and back


def _plain(kept: Kept) -> list[Any]:
    asked = [[*question, said] for question, said in kept.asked]
    return [kept.first.isoformat(), kept.last.isoformat(), asked, [list(_fields(one)) for one in kept.findings]]


def _fields(one: Finding) -> Iterator[object]:
    yield from (one.rule, one.severity, one.message, one.file, list(one.at), one.recipe, one.source, one.subject)
    yield from (one.line, one.column, one.on_value, one.shown, one.accepted)
    mend = one.mend
    yield None if mend is None else [mend.words, list(mend.path), mend.end, mend.value, mend.unit]


def _kept(data: Any) -> Kept:
    """Read a verdict.

    :raises ValueError: it is none, or a file was written by something else; TypeError likewise.
    """
    first, last, asked, findings = data
    questions = tuple((tuple(_words(question)), _word(said)) for *question, said in asked)
    return Kept(
        datetime.date.fromisoformat(first), datetime.date.fromisoformat(last), questions, tuple(map(_finding, findings))
    )


def _finding(fields: list[Any]) -> Finding:
    rule, severity, message, file, at, recipe, source, subject, line, column, on_value, shown, accepted, mend = fields
    for word in (rule, message, file, source, subject, shown):
        _word(word)
    if not (recipe is None or isinstance(recipe, str)) or type(line) is not int or type(column) is not int:
        raise ValueError
    return Finding(
        rule, _severity(severity), message, file, tuple(_words(at)), recipe, source, subject, line, column,
        on_value is True, shown, None if accepted is None else _severity(accepted),
        None if mend is None else _mend(mend),
    )  # fmt: skip


def _mend(fields: list[Any]) -> Mend:
    words, path, end, value, unit = fields
    return Mend(_word(words), tuple(_words(path)), _word(end), _word(value), _word(unit))


def _severity(word: object) -> Severity:
    if word not in SEVERITIES:
        raise ValueError
    return word


def _words(given: Iterable[object]) -> Iterator[str]:
    return map(_word, given)


def _word(given: object) -> str:
    if not isinstance(given, str):
        raise ValueError
    return given
