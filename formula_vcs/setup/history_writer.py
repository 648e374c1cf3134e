"""Write a repository with a history: authors, dates, branches and merges, through one `git fast-import`.

The same commits give the same ids, on every machine: nothing of the user's configuration, templates, hooks or
identity takes part, and no home folder is needed.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from hashlib import sha1
from itertools import repeat
from pathlib import Path
from typing import Final, NamedTuple

from formula_vcs.git.running import GIT, Output, failure, raw, unstartable
from formula_vcs.toml.atomic import unwritable

_FILE: Final = "100644"


class Person(NamedTuple):
    """Who made a commit."""

    name: str
    email: str


class StoryCommit(NamedTuple):
    """One commit: ``files`` is its whole tree, ``parents`` are positions of earlier commits in the list."""

    branch: str
    who: Person
    when: datetime
    message: str
    files: Mapping[str, bytes]
    parents: tuple[int, ...] = ()


def create(
    folder: Path, commits: Sequence[StoryCommit], *, branch: str, config: Mapping[str, str] | None = None
) -> list[str]:
    """Make an empty folder a repository with these commits, ``branch`` checked out; give their ids.

    ``config`` is set in the repository's own configuration, before anything is checked out.

    :raises UserError: git fails, or the folder cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise unwritable(folder, error) from error
    _git(folder, "init", "--quiet", "--template=", "--object-format=sha1", f"--initial-branch={branch}")
    for key, value in (config or {}).items():
        _git(folder, "config", "--local", key, value)
    ids = _git(folder, "fast-import", "--quiet", given=b"".join(_stream(commits))).decode("ascii").split()
    _git(folder, "reset", "--quiet", "--hard")
    return ids


class Ids:
    """Works out the ids of commits as git will, one after the other, before any is written.

    So that a file can name the commit of an earlier version of another.
    """

    def __init__(self) -> None:
        """Begin with no commit."""
        self._ids: list[str] = []

    def add(self, commit: StoryCommit) -> str:
        """Give the id of the next commit; its parents are positions among those added before."""
        who = raw(f"{commit.who.name} <{commit.who.email}> {_when(commit.when)}")
        lines = [
            b"tree " + raw(_tree(commit.files)),
            *(b"parent " + raw(self._ids[parent]) for parent in commit.parents),
            b"author " + who,
            b"committer " + who,
        ]
        self._ids.append(_object(b"commit", b"\n".join(lines) + b"\n\n" + raw(commit.message)))
        return self._ids[-1]


def _tree(files: Mapping[str, bytes]) -> str:
    """Give the id of a tree of plain files."""
    folders: dict[str, dict[str, bytes]] = {}
    entries: list[tuple[bytes, bytes]] = []
    for path, data in files.items():
        top, slash, rest = path.partition("/")
        if slash:
            folders.setdefault(top, {})[rest] = data
        else:
            entries.append((raw(top), b"100644 %s\0" % raw(top) + bytes.fromhex(_object(b"blob", data))))
    for name, inside in folders.items():
        # git sorts a folder as if its name ended with a slash
        entries.append((raw(f"{name}/"), b"40000 %s\0" % raw(name) + bytes.fromhex(_tree(inside))))
    return _object(b"tree", b"".join(entry for _, entry in sorted(entries)))


def _object(kind: bytes, data: bytes) -> str:
    return sha1(b"%s %d\0" % (kind, len(data)) + data, usedforsecurity=False).hexdigest()


def _stream(commits: Sequence[StoryCommit]) -> Iterator[bytes]:
    """Spell the commits for fast-import, each followed by a question for its id."""
    marks: dict[bytes, int] = {}
    first = len(commits) + 1
    for number, commit in enumerate(commits, 1):
        for data in commit.files.values():
            if data not in marks:
                marks[data] = first + len(marks)
                yield b"blob\nmark :%d\n%s" % (marks[data], _data(data))
        yield _commit(number, commit, marks)
        yield b"get-mark :%d\n" % number


def _commit(number: int, commit: StoryCommit, marks: Mapping[bytes, int]) -> bytes:
    author = raw(f"{commit.who.name} <{commit.who.email}> {_when(commit.when)}")
    lines = [
        raw(f"commit refs/heads/{commit.branch}"),
        b"mark :%d" % number,
        b"author " + author,
        b"committer " + author,
        _data(raw(commit.message)) + _parents(commit.parents) + b"deleteall",
        *(raw(f"M {_FILE} :{marks[data]} {_path(path)}") for path, data in sorted(commit.files.items())),
    ]
    return b"\n".join(lines) + b"\n\n"


def _parents(parents: Sequence[int]) -> bytes:
    words = zip((b"from", *repeat(b"merge", len(parents))), parents, strict=False)
    return b"".join(b"%s :%d\n" % (word, parent + 1) for word, parent in words)


def _when(when: datetime) -> str:
    """Write a moment as git does: seconds, and the hour there; one without a zone is no moment."""
    return f"{int(when.timestamp())} {when:%z}"


def _path(path: str) -> str:
    escaped = path.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def _data(data: bytes) -> bytes:
    return b"data %d\n%s\n" % (len(data), data)


def _git(folder: Path, *args: str, given: bytes = b"") -> bytes:
    """Run git where nothing of the user's has a say.

    :raises UserError: git failed, or is not there.
    """
    try:
        done = subprocess.run(
            [*GIT, *args], cwd=folder, env=_environment(folder), input=given, capture_output=True, check=False
        )
    except (FileNotFoundError, NotADirectoryError, PermissionError) as error:
        raise unstartable(folder) from error
    if done.returncode:
        raise failure(args, Output(done.returncode, done.stdout, done.stderr.decode("utf-8", "replace")))
    return done.stdout


def _environment(folder: Path) -> dict[str, str]:
    """Give the environment without any of git's own variables but the one that says where git is installed."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("GIT_") or name == "GIT_EXEC_PATH"}
    return kept | {
        "GIT_CONFIG_GLOBAL": os.devnull,
        "GIT_CONFIG_NOSYSTEM": "1",
        "GIT_CONFIG_SYSTEM": os.devnull,
        "GIT_ATTR_NOSYSTEM": "1",
        "GIT_CEILING_DIRECTORIES": str(folder.parent),
        "GIT_AUTHOR_NAME": "git-formula",
        "GIT_AUTHOR_EMAIL": "git-formula@example.org",
        "GIT_COMMITTER_NAME": "git-formula",  # for the reflog: each commit says its own
        "GIT_COMMITTER_EMAIL": "git-formula@example.org",
        "GIT_TERMINAL_PROMPT": "0",
        "HOME": str(folder / ".git"),
        "XDG_CONFIG_HOME": str(folder / ".git"),
        "LC_ALL": "C",
    }
