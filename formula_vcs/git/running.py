"""Start git, and say what went wrong in one line.

Plain processes and no GitPython here: a hook is a hot path (GitPython adds 85 ms to the start), and
GitPython's index ignores ``GIT_INDEX_FILE``, which is wrong inside a hook under ``commit -a`` and ``commit --
path``.
"""

from __future__ import annotations

import os
import subprocess
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from formula_vcs.errors import GitFailed, UserError
from formula_vcs.words.late_pattern import late_pattern

if TYPE_CHECKING:
    import tempfile
    from collections.abc import Iterator

# Never a pager, never colour, and a path is a path: a file named "*.toml" or ":(top)x" is no pattern.
# core.fsmonitor names a program, and an embedded repository's configuration is a pull request's word.
GIT: Final = ("git", "--no-pager", "--literal-pathspecs", "-c", "color.ui=false", "-c", "core.fsmonitor=false")

# What points git at one repository.  Kept for "this" repository, scrubbed for any other: a hook's GIT_DIR and
# GIT_INDEX_FILE would otherwise turn a command on a scratch repository against the user's own.
_LOCATION: Final = frozenset({
    "GIT_ALTERNATE_OBJECT_DIRECTORIES",
    "GIT_COMMON_DIR",
    "GIT_DIR",
    "GIT_INDEX_FILE",
    "GIT_NAMESPACE",
    "GIT_OBJECT_DIRECTORY",
    "GIT_PREFIX",
    "GIT_QUARANTINE_PATH",
    "GIT_WORK_TREE",
})  # fmt: skip

# What a shell may have set for its own `git`, and that git refuses beside --literal-pathspecs.
_PATHSPECS: Final = frozenset({"GIT_GLOB_PATHSPECS", "GIT_ICASE_PATHSPECS", "GIT_NOGLOB_PATHSPECS"})
# What git says where it fails as such, whatever it was asked: no answer may be made of that.
_BROKEN: Final = late_pattern(
    r"dubious ownership|bad (?:numeric |boolean )?config|bogus (?:config|count|format)|unable to access '"
    r"|unknown repository extension|[Ee]xpected git repo version|not a git repository|unable to read"
    r"|bad object|object file .* is empty|loose object .* is corrupt|is corrupt|could not parse|Out of memory"
    r"|out of memory|bad tree object|[Cc]ould not read|missing (?:blob|tree|commit)|inflate:|garbage at end"
)


_PASSING: Final = "formula-merge-"


class Repo(NamedTuple):
    """Where a repository is.

    ``top`` is the top of the work tree, None where there is none (bare, or standing inside ``.git``).
    ``git_dir`` is this work tree's own git folder and ``common_dir`` the one that all linked work trees
    share.  ``inherit`` says whether git sees the environment's GIT_DIR and GIT_INDEX_FILE: true for the
    repository the user stands in.
    """

    top: Path | None
    git_dir: Path
    common_dir: Path
    inherit: bool = True


class Output(NamedTuple):
    """What a git process said: its exit status, stdout, and stderr as text."""

    status: int
    out: bytes
    err: str


def text(raw: bytes) -> str:
    """Decode a path or a name from git.  A byte that is not UTF-8 survives the way back through ``raw``."""
    return raw.decode("utf-8", "surrogateescape")


def raw(value: str) -> bytes:
    """Encode an argument for git, whatever the locale says that file names are."""
    return value.encode("utf-8", "surrogateescape")


def shown(value: str) -> str:
    """Make what somebody typed fit for one line of a message: control bytes are spelled out."""
    return "".join(char if char.isprintable() else char.encode("unicode_escape").decode() for char in value)


def environment(repo: Repo | None = None, *, inherit: bool = True) -> dict[str, str]:
    """Give the environment to run git in.

    A relative GIT_DIR or GIT_WORK_TREE would change its meaning with the folder that we run git in, so both
    are made absolute.  A relative GIT_INDEX_FILE stays: git reads it from the top of the work tree, where we
    run it.
    """
    inherit = inherit if repo is None else repo.inherit
    dropped = _PATHSPECS if inherit else _PATHSPECS | _LOCATION
    values = {name: value for name, value in os.environ.items() if name not in dropped}
    # Messages are read by `failure`; nothing may ask a question; a reader takes no lock on the index.
    values |= {"LC_ALL": "C", "GIT_OPTIONAL_LOCKS": "0", "GIT_TERMINAL_PROMPT": "0"}
    if repo is not None and "GIT_DIR" in values:
        values["GIT_DIR"] = str(repo.git_dir)
        if repo.top is not None and "GIT_WORK_TREE" in values:
            values["GIT_WORK_TREE"] = str(repo.top)
    return values


def place(repo: Repo) -> Path:
    """Give the folder that git runs in: the top of the work tree, as in a hook, or a bare git folder."""
    return repo.git_dir if repo.top is None else repo.top


def call(args: tuple[str, ...], cwd: Path, env: dict[str, str]) -> Output:
    """Run ``git ARGS`` to its end, whatever its exit status.

    :raises UserError: the folder is gone.
    :raises GitFailed: git does not start.
    """
    command = [raw(part) for part in (*GIT, *args)]
    try:
        done = subprocess.run(command, cwd=cwd, env=env, stdin=subprocess.DEVNULL, capture_output=True, check=False)
    except (FileNotFoundError, NotADirectoryError, PermissionError) as error:
        raise unstartable(cwd) from error
    return Output(done.returncode, done.stdout, done.stderr.decode("utf-8", "replace"))


def unstartable(cwd: Path) -> UserError | GitFailed:
    """Say why git did not start at all."""
    if not cwd.is_dir():
        return UserError(f"no such folder: {cwd}")
    return GitFailed("git does not run: it is not installed, or not on PATH")


def passing_folder() -> tempfile.TemporaryDirectory[str]:
    """Make a folder for a moment; those that a killed process of ours left behind go with it."""
    import shutil
    import tempfile

    for path in Path(tempfile.gettempdir()).glob(f"{_PASSING}*-*"):
        owner = path.name.removeprefix(_PASSING).partition("-")[0]
        if owner.isdigit() and not Path("/proc", owner).exists() and Path("/proc/self").exists():
            shutil.rmtree(path, ignore_errors=True)
    return tempfile.TemporaryDirectory(prefix=f"{_PASSING}{os.getpid()}-")


def unreadable(path: Path, error: OSError) -> UserError:
    """Say in one line why a file cannot be read."""
    return UserError(f"cannot read {path}: {error.strerror or error}")


# What git said of a moment that does not move while it is looked at; None where it may.
_SAID: Final[ContextVar[dict[tuple[object, ...], Output] | None]] = ContextVar("_SAID", default=None)


@contextmanager
def one_moment() -> Iterator[None]:
    """Ask git nothing twice: for a hook, whose commit stands still while it is judged.  It only ever reads."""
    token = _SAID.set({})
    try:
        yield
    finally:
        _SAID.reset(token)


def _asked(repo: Repo, args: tuple[str, ...]) -> Output:
    said = _SAID.get()
    if said is None:
        return call(args, place(repo), environment(repo))
    key = (repo, args)
    if key not in said:
        said[key] = call(args, place(repo), environment(repo))
    return said[key]


def run(repo: Repo, *args: str) -> Output:
    """Run git in a repository, whatever its exit status.

    :raises GitFailed: git is not there, refuses the repository, or cannot read it.
    """
    output = _asked(repo, args)
    if output.status and _BROKEN.search(output.err):
        raise failure(args, output)
    return output


def read(repo: Repo, *args: str) -> bytes:
    """Run git in a repository and give its stdout.

    :raises GitFailed: git failed; the message is git's own first line.
    """
    output = run(repo, *args)
    if output.status:
        raise failure(args, output)
    return output.out


def failure(args: tuple[str, ...], output: Output) -> GitFailed:
    """Put git's complaint into one line."""
    if "dubious ownership" in output.err:
        return GitFailed(f"git refuses this repository because it belongs to another user; {_remedy(output.err)}")
    lines = [line.removeprefix("fatal: ").removeprefix("error: ") for line in output.err.splitlines() if line.strip()]
    because = lines[0] if lines else f"exit status {output.status}"
    return GitFailed(f"git {args[0]} failed: {because}")


def _remedy(complaint: str) -> str:
    """Find the command that git itself offers to trust a repository."""
    offered = [line.strip() for line in complaint.splitlines() if "safe.directory" in line]
    return f"if you trust it: {offered[-1]}" if offered else "see safe.directory in `git help config`"
