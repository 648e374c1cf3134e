"""All that is asked of git: small functions that return plain types.

Revisions and paths come from people and from pull requests, so a revision can never become an option
(``--end-of-options``) and a path never a pattern (``--literal-pathspecs``); listings are NUL-separated; no
external diff, textconv or colour takes part.  An empty repository, a detached head, a shallow clone, a linked
work tree and a merge in progress are normal.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from formula_vcs.errors import GitFailed, UserError
from formula_vcs.git.blobs import BlobReader, Oversized, blob_id
from formula_vcs.git.objects import Entry, Objects
from formula_vcs.git.running import Repo, call, environment, failure, one_moment, raw, read, run, shown, text
from formula_vcs.words.late_pattern import late_pattern

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

__all__ = [
    "SHALLOW",
    "SUBMODULE",
    "SYMLINK",
    "BlobReader",
    "Entry",
    "LogLine",
    "Objects",
    "Oversized",
    "Repo",
    "blob_id",
    "changed_paths",
    "current_branch",
    "default_branch",
    "default_ref",
    "has_commits",
    "head_branch_is_default",
    "index_entries",
    "is_id",
    "is_shallow",
    "log_line",
    "merge_base",
    "merging",
    "not_on_default_branch",
    "one_moment",
    "open_repo",
    "read_config",
    "resolve",
    "short_id",
    "split_range",
    "staged_paths",
    "tags_at",
    "tree_entries",
]  # fmt: skip

SYMLINK: Final = "120000"
SUBMODULE: Final = "160000"

_EMPTY_BLOBS: Final = frozenset({blob_id(b""), blob_id(b"", 64)})
_EMPTY_TREE: Final = {40: "4b825dc642cb6eb9a060e54bf8d69288fbee4904",
                      64: "6ef19b41225c5369f1c104d45d8d85efa9b057b53b14b4b9b939dd74decc5321"}  # fmt: skip
SHALLOW: Final = "this clone is shallow: `git fetch --unshallow` (or --deepen=100) brings the missing history"
# Where git would look elsewhere than at the nearest `.git`.
_STEERING: Final = ("GIT_DIR", "GIT_WORK_TREE", "GIT_COMMON_DIR", "GIT_CEILING_DIRECTORIES")
_AT_ONCE: Final = 500  # ids in one command line
_ID: Final = late_pattern(r"[0-9a-f]{7,64}")
_ODD_CONFIG: Final = late_pattern(
    rb"^[ \t]*(?:\[core\])?[ \t]*(?:bare[ \t]*=(?![ \t]*false[ \t\r]*$)|bare[ \t\r]*$|worktree[ \t]*=)",
    re.IGNORECASE | re.MULTILINE,
)
_LOCATED: Final = late_pattern(rb"(.*?)\n(true|false)\n(.*?)\n(true|false)\n(?:(.*)\n)?", re.DOTALL)
# The dots of a range, not those inside braces: HEAD^{/see a..b} is one revision.
_RANGE: Final = late_pattern(r"((?:\{[^}]*\}|[^{])*?)(\.\.\.?)(.*)", re.DOTALL)


class LogLine(NamedTuple):
    """One commit, to be named in a report; ``date`` is the author's day, ``2026-05-02``."""

    short: str
    author: str
    date: str
    subject: str


# Where is it?


def open_repo(start: Path, *, inherit: bool = True) -> Repo:
    """Find the repository that a file or folder lies in: without a git process where `.git` is plain to see.

    ``inherit=False`` ignores GIT_DIR, GIT_INDEX_FILE and their like: for a repository that is not the user's
    own.

    :raises UserError: not a repository, or one that git refuses.
    """
    folder = _existing_folder(start)
    if not (inherit and any(name in os.environ for name in _STEERING)):
        found = _find_plain(folder, inherit=inherit)
        if found is not None:
            return found
    return _ask_git(folder, inherit=inherit)


def _existing_folder(start: Path) -> Path:
    path = start.resolve()
    while not path.is_dir() and path != path.parent:
        path = path.parent
    return path


def _find_plain(folder: Path, *, inherit: bool) -> Repo | None:
    """Walk up to the nearest `.git` as git does; None where anything is unusual: git decides then."""
    device = folder.stat().st_dev
    for top in (folder, *folder.parents):
        if top.stat().st_dev != device or (top / "HEAD").is_file():
            return None  # another file system (git stops there), or a bare repository
        dot_git = top / ".git"
        if os.path.lexists(dot_git):
            return _plain(top, dot_git, inherit=inherit)
    return None


def _plain(top: Path, dot_git: Path, *, inherit: bool) -> Repo | None:
    try:
        git_dir = dot_git if dot_git.is_dir() else _pointed_at(dot_git)
        common = git_dir / "commondir"
        common_dir = (git_dir / common.read_text("utf-8").strip()).resolve() if common.is_file() else git_dir
        config = (common_dir / "config").read_bytes()
        own = git_dir / "config.worktree"  # extensions.worktreeConfig, as `git sparse-checkout` sets it
        config += b"\n" + own.read_bytes() if own.is_file() else b""
    except (OSError, ValueError):
        return None
    usual = (git_dir / "HEAD").is_file() and (common_dir / "objects").is_dir() and not _ODD_CONFIG.search(config)
    return Repo(top, git_dir.resolve(), common_dir.resolve(), inherit) if usual else None


def _pointed_at(dot_git: Path) -> Path:
    """Follow a `.git` file of a linked work tree or a submodule."""
    content = dot_git.read_text("utf-8", "surrogateescape")
    if not content.startswith("gitdir: "):
        msg = "not a gitdir file"
        raise ValueError(msg)
    return dot_git.parent / content.removeprefix("gitdir: ").rstrip("\n")


def _ask_git(folder: Path, *, inherit: bool) -> Repo:
    flags = ("--absolute-git-dir", "--is-bare-repository", "--git-common-dir", "--is-inside-work-tree")
    # --show-toplevel last: it fails where there is no work tree, after the others were printed.
    args = ("rev-parse", *flags, "--show-toplevel")
    output = call(args, folder, environment(inherit=inherit))
    match = _LOCATED.match(output.out)
    if match is None:
        if "not a git repository" in output.err:
            msg = f"not a git repository: {folder} (nor any folder above it)"
            raise UserError(msg)
        raise failure(args, output)
    git_dir, _, common_dir, _, top = (None if part is None else text(part) for part in match.groups())
    return Repo(
        top=None if not top else Path(top),
        git_dir=Path(git_dir or ""),
        common_dir=(folder / (common_dir or "")).resolve(),  # git before 2.31 cannot print it absolute
        inherit=inherit,
    )


def is_shallow(repo: Repo) -> bool:
    """Say whether history is cut off, as in most CI jobs."""
    return (repo.common_dir / "shallow").exists()


def merging(repo: Repo) -> bool:
    """Say whether a merge is in progress (its commit is not made yet)."""
    return (repo.git_dir / "MERGE_HEAD").exists()


# Revisions


def split_range(given: str) -> tuple[str, str | None, str]:
    """Split ``A..B`` and ``A...B`` into left, right and dots; one revision has no right and no dots.

    A side left out is HEAD, as in git.
    """
    match = _RANGE.fullmatch(given)
    if match is None:
        return given, None, ""
    left, dots, right = match.groups()
    return left or "HEAD", right or "HEAD", dots


def resolve(repo: Repo, rev: str) -> str:
    """Give the commit id of a revision.

    :raises UserError: there is no such commit, or not in this clone.
    """
    unknown = f"unknown revision '{shown(rev)}'"
    if not rev or "\0" in rev:
        raise UserError(unknown)
    # ":/words" finds a commit by its message, and takes all that follows for words.
    wanted = rev if rev.startswith(":/") else f"{rev}^{{commit}}"
    output = run(repo, "rev-parse", "--verify", "--end-of-options", wanted)
    if not output.status:
        return output.out.decode("ascii").strip()
    if "is ambiguous" in output.err:
        msg = f"'{shown(rev)}' is the beginning of more than one object's id; write more of it"
        raise UserError(msg)
    if not has_commits(repo):
        raise UserError(unknown + ": this repository has no commits yet")
    raise UserError(f"{unknown}; {SHALLOW}" if is_shallow(repo) else unknown)


def is_id(given: str) -> bool:
    """Say whether a text can only be a commit's id, in full or its beginning (seven digits or more)."""
    return _ID.fullmatch(given) is not None


def not_on_default_branch(repo: Repo, commits: Sequence[str]) -> frozenset[str] | None:
    """Give those of some commits (full ids of commits that are here) that the default branch does not hold.

    None where there is no default branch.  In a shallow clone some may be named that it does hold further back.
    """
    branch = default_ref(repo)
    if branch is None:
        return None
    found: set[str] = set()
    for start in range(0, len(commits), _AT_ONCE):
        some = commits[start : start + _AT_ONCE]
        found.update(text(read(repo, "rev-list", "--end-of-options", *some, f"^{branch}", "--")).split())
    return frozenset(found.intersection(commits))


def has_commits(repo: Repo) -> bool:
    """Say whether HEAD is a commit; on a branch without commits it is not.

    :raises GitFailed: HEAD names a commit, and git cannot find that.
    """
    if run(repo, "rev-parse", "--verify", "--end-of-options", "HEAD^{commit}").status == 0:  # as `resolve` asks
        return True
    named = text(run(repo, "symbolic-ref", "--quiet", "HEAD").out).rstrip("\n")
    if not named or _is_ref(repo, named):
        raise GitFailed(f"HEAD names {named or 'a commit'}, and git cannot find that (git fsck says more)")
    return False


def _is_ref(repo: Repo, name: str) -> bool:
    """Say whether a branch is there, whatever git can make of what it names."""
    if (repo.common_dir / name).is_file():
        return True
    try:
        packed = (repo.common_dir / "packed-refs").read_bytes()
    except OSError:
        return False
    return any(line.split()[-1:] == [raw(name)] for line in packed.splitlines())


def short_id(commit: str) -> str:
    """Shorten a commit id for people; ``log_line`` gives git's own, unique one."""
    return commit[:10]


def merge_base(repo: Repo, left: str, right: str) -> str:
    """Give the id of the commit that two revisions have in common: where a pull request began.

    :raises UserError: there is none, or the clone is too shallow to show it.
    """
    one, other = resolve(repo, left), resolve(repo, right)
    output = run(repo, "merge-base", "--end-of-options", one, other)
    if output.status == 0:
        return output.out.decode("ascii").split()[0]
    if output.status != 1:
        raise failure(("merge-base",), output)
    msg = f"'{shown(left)}' and '{shown(right)}' have no commit in common"
    raise UserError(f"{msg} here; {SHALLOW}" if is_shallow(repo) else msg)


def current_branch(repo: Repo) -> str | None:
    """Name the branch that HEAD is on, also before its first commit; None when HEAD is detached."""
    output = run(repo, "symbolic-ref", "--quiet", "--short", "HEAD")
    return None if output.status else text(output.out).rstrip("\n")


def default_branch(repo: Repo) -> str | None:
    """Name the branch that changes are proposed to: ``origin/main``, or ``main`` without a remote."""
    found = default_ref(repo)
    return None if found is None else found.removeprefix("refs/").removeprefix("heads/").removeprefix("remotes/")


def default_ref(repo: Repo) -> str | None:
    """Give the full name of the default branch: neither a tag "main" nor a local branch "origin/main" is it.

    The order: what a remote's HEAD names (origin before others); then init.defaultBranch, main and master,
    each first at origin and then here.  None where none of them exists.
    """
    names = [name for name in (read_config(repo, "init.defaultBranch"), "main", "master") if name]
    patterns = [f"refs/{place}/{name}" for name in names for place in ("remotes/origin", "heads")]
    out = read(repo, "for-each-ref", "--format=%(refname)%00%(symref)%00", "refs/remotes/*/HEAD", *patterns)
    fields = text(out).replace("\0\n", "\0").split("\0")
    found = dict(zip(fields[::2], fields[1::2], strict=False))
    heads = sorted(name for name in found if name.endswith("/HEAD") and found[name])
    named = sorted(heads, key=lambda name: name != "refs/remotes/origin/HEAD")
    return found[named[0]] if named else next((pattern for pattern in patterns if pattern in found), None)


def head_branch_is_default(repo: Repo) -> bool:
    """Say whether one stands on the default branch itself (or on nothing that has another)."""
    default, current = default_ref(repo), current_branch(repo)
    if default is None:
        return True
    return current is not None and default in (f"refs/heads/{current}", f"refs/remotes/origin/{current}")


def log_line(repo: Repo, commit: str) -> LogLine:
    """Describe one commit.

    :raises UserError: there is no such commit.
    """
    form = "--format=%h%x00%aN%x00%as%x00%s"
    out = read(repo, "log", "-1", "--no-show-signature", "--encoding=UTF-8", form, "--end-of-options", commit, "--")
    short, author, date, subject = text(out).rstrip("\n").split("\0", 3)
    return LogLine(short, author, date, subject)


def tags_at(repo: Repo, commit: str) -> list[str]:
    """Name the tags that point at a commit (its id), in the order of their names."""
    out = read(repo, "tag", "--points-at", commit, "--format=%(refname:strip=2)")
    return sorted(text(out).splitlines())


# Files


def tree_entries(repo: Repo, commit: str, under: str = "") -> list[Entry]:
    """List the files of a commit (an id from ``resolve``) below a folder, or all.

    :raises UserError: there is no such commit.
    """
    paths = ("--", under) if under else ()
    out = read(repo, "ls-tree", "-r", "-z", "--full-tree", "--end-of-options", commit, *paths)
    entries = []
    for line in _records(out):
        facts, path = line.split("\t", 1)
        mode, _, oid = facts.split(" ")
        entries.append(Entry(path, oid, mode))
    return entries


def index_entries(repo: Repo, under: str = "") -> list[Entry]:
    """List what the next commit would hold below a folder, or all.

    GIT_INDEX_FILE counts: under ``commit -a`` and ``commit -- path`` a hook sees the index of that commit.  A
    file that was only announced (``git add --intent-to-add``) is not in the next commit and not in the list.

    :raises UserError: the index cannot be read.
    """
    found: dict[str, tuple[str, Entry]] = {}
    for line in _records(read(repo, "ls-files", "--stage", "-z", "--full-name", *_below(under))):
        facts, path = line.split("\t", 1)
        mode, oid, stage = facts.split(" ")
        # Stages come in order: 0 alone, or 1 (base), 2 (ours), 3 (theirs).  Ours is preferred, then theirs.
        if path not in found or found[path][0] == "1":
            found[path] = (stage, Entry(path, oid, mode, unmerged=stage != "0"))
    entries = [entry for _, entry in found.values()]
    empty = [entry.path for entry in entries if entry.oid in _EMPTY_BLOBS]
    if not empty or repo.top is None:
        return entries
    announced = set(_records(read(repo, "diff-files", "--name-only", "--diff-filter=A", *_PLAIN, *_below(under))))
    return [entry for entry in entries if entry.path not in announced]


_PLAIN: Final = ("-z", "--no-renames", "--no-ext-diff", "--no-textconv", "--no-color", "--ignore-submodules")


def changed_paths(repo: Repo, old: str, new: str, under: str = "") -> list[str]:
    """List the paths that differ between two commits: changed, added and deleted; a rename is both its names.

    :raises UserError: there is no such commit.
    """
    return list(_records(read(repo, "diff-tree", "-r", "--name-only", *_PLAIN, old, new, *_below(under))))


def follows(repo: Repo, old: str, new: str) -> bool:
    """Say whether a commit (its id) stands in the history of another; not where one is not here any more."""
    return bool(old and new) and run(repo, "merge-base", "--is-ancestor", old, new).status == 0


def touched_since(repo: Repo, old: str, new: str, under: str) -> frozenset[str]:
    """Name the paths in a folder that any commit between two (their ids) touched, against any of its parents."""
    options = ("--format=", "--no-show-signature", "--root", "--name-only", "-m", "--full-history", *_PLAIN)
    return frozenset(_records(read(repo, "log", *options, "--end-of-options", f"{old}..{new}", *_below(under))))


def staged_paths(repo: Repo, under: str = "") -> list[str]:
    """List the paths that the next commit would change; before the first commit these are all.

    :raises UserError: the index cannot be read.
    """
    base = "HEAD" if has_commits(repo) else _empty_tree(repo)
    return list(
        _records(
            read(
                repo,
                "diff-index",
                "--cached",
                "--name-only",
                "--ita-invisible-in-index",
                *_PLAIN,
                base,
                *_below(under),
            )
        )
    )


def ignored_paths(repo: Repo, under: str = "") -> list[str]:
    """List what git ignores in the work tree and does not track; a folder that is ignored whole ends in a slash.

    :raises UserError: the work tree cannot be walked.
    """
    args = ("ls-files", "-z", "--others", "--ignored", "--exclude-standard", "--directory")
    return list(_records(read(repo, *args, *_below(under))))


def read_config(repo: Repo, key: str) -> str | None:
    """Give a configuration value, from wherever git takes it; None where it is not set."""
    output = run(repo, "config", "--null", "--get", key)
    return None if output.status else text(output.out).removesuffix("\0")


def _empty_tree(repo: Repo) -> str:
    return _EMPTY_TREE[64 if read_config(repo, "extensions.objectFormat") == "sha256" else 40]


def _below(under: str) -> tuple[str, ...]:
    return ("--", under) if under else ("--",)


def _records(out: bytes) -> Iterator[str]:
    return (text(record) for record in out.split(b"\0") if record)
