"""A glance before anything is loaded: where nothing of ours is staged, a hook says what it said the last time.

The last check of a hook that found nothing to say leaves one small file: what git held of us then, and the days
between which that stays true.  It is taken only where git holds the same, byte for byte, in the index and in HEAD.
"""

from __future__ import annotations

import os
import stat
import time

from formula_vcs.git.asking_lightly import output
from formula_vcs.workspace.tool_stamp import checksum, stamp_at_start, tool_stamp

_FORM = "formula-vcs glance 1"
_MOST = 4096
# What sends git, or us, elsewhere than to the plain repository around.
_STEERING = (
    "GIT_WORK_TREE", "GIT_COMMON_DIR", "GIT_CEILING_DIRECTORIES", "GIT_REPLACE_REF_BASE", "GIT_GRAFT_FILE",
    "GIT_SHALLOW_FILE", "GIT_OBJECT_DIRECTORY", "GIT_ALTERNATE_OBJECT_DIRECTORIES", "GIT_NAMESPACE", "CI",
)  # fmt: skip
_LINK = b"120000"
_LEADING = (_LINK, b"160000")  # links and submodules
# An empty file may only be announced (git add --intent-to-add): its id, in both of git's formats.
_EMPTY = (b"e69de29bb2d1d643", b"473a0f4c3be8a93")
_RECORDS = (b"batches/", b"lots/", b"evidence/")


def place() -> str:
    """Give the git folder of the plain repository at whose top this process stands; empty where there is none."""
    if any(name in os.environ for name in _STEERING) or os.environ.get("GIT_DIR", ".git") != ".git":
        return ""
    try:
        plain = stat.S_ISDIR(os.lstat(".git").st_mode) and os.path.isdir(".git/objects")  # noqa: PTH112
    except OSError:
        return ""
    odd = ("shallow", "commondir", "reftable", "info/grafts", "refs/replace", "config.worktree")
    return "" if not plain or any(os.path.lexists(f".git/{name}") for name in odd) else ".git"


def state() -> str:
    """Name all that a hook's answer hangs on here, besides the day and the tool; empty where that cannot be told.

    These are our files in the index, that HEAD has the same ones, whether a workspace lies here on the disk, and
    where batches, lots or proofs are kept also HEAD and every branch: they hang on history.
    """
    if not place():
        return ""
    staged = output("diff-index", "--cached", "--raw", "--no-renames", "-z", "HEAD", "--")
    if staged is None or _touched(staged):
        return ""
    listed = output("ls-files", "--stage", "-z", "--full-name")
    if listed is None:
        return ""
    ours = [line for line in listed.split(b"\0") if line.endswith(b".toml") or line[:6] in _LEADING]
    if any(line[:6] == _LINK or line[7:].startswith(_EMPTY) for line in ours):
        return ""
    packed = _read(".git/packed-refs")
    if b" refs/replace/" in packed:
        return ""
    parts = [b"%d" % os.path.isfile("workspace.toml"), _read(".git/config"), *ours]  # noqa: PTH113
    if any(folder in line for line in ours for folder in _RECORDS):
        refs = output("for-each-ref", "--format=%(refname) %(objectname) %(symref)")
        named = output("config", "--default=", "--get", "init.defaultBranch")
        if refs is None or named is None:
            return ""
        parts += [b"history", refs, _read(".git/HEAD"), named]
    return checksum(b"".join(b"%d:%b" % (len(part), part) for part in parts))


def _touched(staged: bytes) -> bool:
    """Say whether a file of ours, a link or a submodule is staged: ``:MODE MODE ID ID STATUS``, NUL, path, NUL."""
    fields = staged.split(b"\0")
    rows = zip(fields[::2], fields[1::2], strict=False)
    return any(path.endswith(b".toml") or _leads(row) for row, path in rows)


def _leads(row: bytes) -> bool:
    return row[1:7] in _LEADING or row[8:14] in _LEADING


def older_words(count: int) -> str:
    """Say how many warnings a hook leaves out."""
    warnings = "1 warning was there" if count == 1 else f"{count} warnings were there"
    return f"{warnings} before this commit already ('git formula check')"


def known() -> str | None:
    """Give what a hook says here today, empty where that is nothing; None where it has to be worked out."""
    git_dir = place()
    if not git_dir:
        return None
    file = f"{git_dir}/formula-vcs/verdicts-{os.geteuid()}/glance"
    try:
        head, _, body = _own(file).partition("\n")
        said, tool, first, last, older = body.split("\n")
        today = time.strftime("%Y-%m-%d")
        if head != _head(body) or not first <= today <= last or tool != _tool() or said != state():
            return None
        return older_words(int(older)) if int(older) else ""
    except (OSError, ValueError):
        return None


def kept(said: str, first: str, last: str, older: int) -> bytes:
    """Give the file that `known` reads: the state, the first and last day on which it holds, the warnings left out."""
    body = f"{said}\n{_tool()}\n{first}\n{last}\n{older}"
    return f"{_head(body)}\n{body}".encode("ascii")


def _tool() -> str:
    return stamp_at_start() or tool_stamp()


def _head(body: str) -> str:
    return f"{_FORM} {checksum(body.encode('utf-8', 'replace'))}"


def _read(path: str) -> bytes:
    try:
        with open(path, "rb") as file:  # noqa: PTH123
            return file.read()
    except FileNotFoundError:
        return b""


def _own(path: str) -> str:
    """Read a small file of this user's own, in a folder of the same, that nobody else may write.

    :raises OSError: there is none.
    """
    folder = os.lstat(os.path.dirname(path))  # noqa: PTH120
    number = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        for found in (folder, os.fstat(number)):
            if found.st_uid != os.geteuid() or found.st_mode & (stat.S_IWGRP | stat.S_IWOTH):
                raise PermissionError
        return os.read(number, _MOST).decode("ascii")
    finally:
        os.close(number)
