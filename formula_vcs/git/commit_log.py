"""The commits that touch a folder, oldest first, each with the files it touched: one streamed ``git log --raw -z``.

Nothing of the user's configuration takes part (``log.follow``, ``log.showRoot``, ``log.showSignature``,
``diff.renames`` ...), paths and messages may hold any byte, and parents are named before their children.
"""

from __future__ import annotations

import re
import subprocess
from typing import IO, TYPE_CHECKING, Final, NamedTuple

from formula_vcs.git.repository import is_shallow
from formula_vcs.git.running import GIT, Output, Repo, environment, failure, place, raw, read, run, text, unstartable
from formula_vcs.words.late_pattern import late_pattern

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

NOTHING: Final = "0" * 40  # the blob id of a side that is not there; longer in a repository of SHA-256
_FIELDS: Final = ("%H", "%P", "%aN", "%aE", "%aI", "%cI", "%s", "%b")
_CONFIG: Final = ("log.showRoot=true", "log.follow=false", "log.mailmap=true", "diff.renameLimit=1000")
_OPTIONS: Final = (
    "--reverse", "--date-order", "--full-history", "--parents", "--raw", "-z", "-M", "--no-abbrev",
    "--diff-merges=first-parent", "--encoding=UTF-8", "--no-show-signature", "--no-ext-diff", "--no-textconv",
    "--no-notes", "--no-decorate", f"--format=tformat:{'%x00'.join(_FIELDS)}",
)  # fmt: skip
_DAY: Final = late_pattern(r"\d{4}-\d\d-\d\dT")
_CHUNK: Final = 1 << 16
_TRAILER: Final = late_pattern(
    r"^(?P<key>Reason|Co-authored-by):(?P<value>.*(?:\n[ \t]+\S.*)*)", re.IGNORECASE | re.MULTILINE
)


class Touch(NamedTuple):
    """One file that a commit touched, against its first parent.

    ``status`` is git's letter: A(dded), M(odified), D(eleted), R(enamed), T(ype changed).  Paths are relative to the
    top of the repository; ``old_path`` is another one after a rename.  A side that is not there has the id of zeros.
    """

    status: str
    path: str
    old_path: str
    old: str
    new: str
    mode: str


class Commit(NamedTuple):
    """One commit.

    ``parents`` are the nearest commits above that are in the listing too.  ``date`` is the author's and ``committed``
    the committer's, ISO 8601 with the zone.  ``cut`` says that the clone is shallow and ends here: the commit shows all
    its files as added, and what was before it is not known.
    """

    oid: str
    parents: tuple[str, ...]
    author: str
    email: str
    date: str
    committed: str
    subject: str
    body: str
    touches: tuple[Touch, ...] = ()
    cut: bool = False

    @property
    def day(self) -> str:
        """Give the author's day, ``2026-05-02``; a damaged commit may have one that no calendar has."""
        return "no date" if self.date and not _DAY.match(self.date) else self.date[:10]

    @property
    def reason(self) -> str | None:
        """Give what stands behind ``Reason:`` in the message, folded lines joined; a squashed commit has several."""
        return "; ".join(dict.fromkeys(self._trailers("reason"))) or None

    @property
    def coauthors(self) -> tuple[str, ...]:
        """Name who else made the commit, without their addresses."""
        return tuple(dict.fromkeys(name.partition("<")[0].strip() for name in self._trailers("co-authored-by")))

    def _trailers(self, key: str) -> list[str]:
        found = (one["value"] for one in _TRAILER.finditer(self.body) if one["key"].lower() == key)
        return [words for value in found if (words := " ".join(value.split()))]


def commits(repo: Repo, tip: str, folders: Sequence[str] = (), *, first_parent: bool = False) -> Iterator[Commit]:
    """Give the commits up to ``tip`` (an id) that touch one of the folders, and merges; all of them without folders.

    ``first_parent`` follows the first parent of a merge only.

    :raises GitFailed: git failed, or the history is damaged.
    """
    cut = shallow_ends(repo)
    paths = ("--", *folders) if folders and "" not in folders else ("--",)
    along = ("--first-parent",) if first_parent else ()
    config = [part for setting in _CONFIG for part in ("-c", setting)]
    args = (*config, "log", *_OPTIONS, *along, "--end-of-options", tip, *paths)
    fields = _fields(repo, args)
    field = next(fields, None)
    while field is not None:
        head = [text(field), *(text(next(fields, b"")) for _ in _FIELDS[1:])]
        touches: list[Touch] = []
        field = next(fields, None)
        while field is not None and field.lstrip(b"\n").startswith(b":"):
            touches.append(_touch(field.lstrip(b"\n"), fields))
            field = next(fields, None)
        oid, parents, author, email, date, committed, subject, body = head
        yield Commit(
            oid, tuple(parents.split()), author, email, date, committed, subject, body, tuple(touches), oid in cut
        )


def _touch(head: bytes, fields: Iterator[bytes]) -> Touch:
    _, mode, old, new, status = head[1:].decode("ascii").split(" ")
    first = text(next(fields, b""))
    # only a rename has a second path; copies were not asked for
    second = text(next(fields, b"")) if status[0] in "RC" else first
    return Touch(status[0], second, first, old, new, mode)


def _fields(repo: Repo, args: tuple[str, ...]) -> Iterator[bytes]:
    """Run git and give what lies between its NULs, while it still works."""
    import tempfile  # loads much, and a hook needs none of it

    with tempfile.TemporaryFile() as complaint:  # a pipe nobody reads can fill up
        process = _start(repo, args, complaint)
        try:
            yield from _split(process.stdout)
            status = process.wait()
        finally:
            if process.stdout is not None:
                process.stdout.close()
            if process.poll() is None:  # the reader has seen enough
                process.kill()
                process.wait()
        if status:
            complaint.seek(0)
            raise failure(("log",), Output(status, b"", complaint.read().decode("utf-8", "replace")))


def _start(repo: Repo, args: tuple[str, ...], complaint: IO[bytes]) -> subprocess.Popen[bytes]:
    cwd = place(repo)
    command = [raw(part) for part in (*GIT, *args)]
    try:
        return subprocess.Popen(
            command, cwd=cwd, env=environment(repo), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=complaint
        )
    except (FileNotFoundError, NotADirectoryError, PermissionError) as error:
        raise unstartable(cwd) from error


def _split(out: IO[bytes] | None) -> Iterator[bytes]:
    rest = b""
    while out is not None and (chunk := out.read(_CHUNK)):
        *whole, rest = (rest + chunk).split(b"\0")
        yield from whole
    if rest.strip():
        yield rest


def shallow_ends(repo: Repo) -> frozenset[str]:
    """Name the commits where a shallow clone ends; their parents are not here."""
    if not is_shallow(repo):
        return frozenset()
    try:
        return frozenset((repo.common_dir / "shallow").read_text("ascii").split())
    except (OSError, ValueError):
        return frozenset()


def first_root(repo: Repo, tip: str) -> str | None:
    """Give the commit that the first parents of ``tip`` (an id) begin with; None where a shallow clone ends before it.

    :raises GitFailed: git failed.
    """
    args = ("rev-list", "--first-parent", "--max-parents=0", "--end-of-options", tip)
    found = read(repo, *args).decode("ascii").split()
    return found[-1] if found and found[-1] not in shallow_ends(repo) else None


def reachable(repo: Repo, tip: str, without: str) -> frozenset[str]:
    """Name the commits that ``tip`` has and ``without`` has not (both are ids).

    :raises GitFailed: git failed.
    """
    return frozenset(read(repo, "rev-list", "--end-of-options", tip, f"^{without}").decode("ascii").split())


def is_ancestor(repo: Repo, old: str, new: str) -> bool:
    """Say whether one commit (an id) is another, or lies in its history."""
    return run(repo, "merge-base", "--is-ancestor", old, new).status == 0


def came_from(repo: Repo, commit: str, path: str) -> str | None:
    """Name the path that a file had before the commit that brought it here, from anywhere in the repository.

    :raises GitFailed: git failed.
    """
    args = ("diff-tree", "-r", "-z", "-M", "--raw", "--no-abbrev", "--no-commit-id", "--no-ext-diff", "--root")
    fields = iter(read(repo, *args, "--diff-merges=first-parent", "--end-of-options", commit).split(b"\0"))
    for field in fields:
        if field.startswith(b":"):
            touch = _touch(field, fields)
            if touch.path == path:
                return touch.old_path if touch.status == "R" else None
    return None
