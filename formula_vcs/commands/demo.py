"""``git formula demo``: build a throw-away repository with a history, and review a proposed change in it."""

from __future__ import annotations

import argparse
import os
import shlex
import shutil
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Final

from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.git import repository, running
from formula_vcs.setup import arm
from formula_vcs.setup.demo_story import MAIN, commits
from formula_vcs.setup.history_writer import StoryCommit, create
from formula_vcs.setup.shipped import texts
from formula_vcs.toml.atomic import unwritable, write_whole
from formula_vcs.words.escape import terminal

PROPOSAL: Final = "proposal"
# What the user has set for other repositories and would only be in the way in this one.
_CONFIG: Final = {"core.autocrlf": "false", "commit.gpgSign": "false"}
_HOOKS: Final = ".git/hooks"
_ATTRIBUTES: Final = b"*.toml diff=formula merge=formula -text\n"
_NOBODY: Final = {"user.name": "A visitor", "user.email": "visitor@skerry.example"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument(
        "dir", nargs="?", metavar="DIR", help="a new or an empty folder for it (default: a new temporary one)"
    )


def run(args: argparse.Namespace) -> int:
    """Build, review, and say what to try; the review blocks, and this command ends with 0 all the same."""
    told = commits(texts("recipes"))
    folder, made = _folder(args.dir)
    with _at_home():
        with _all_or_nothing(folder, made=made):
            create(folder, told, branch=MAIN, config=_CONFIG)
            armed = _arm(folder)
        _say_built(folder, told, armed=armed)
        status = _review(folder)
    _say_next(folder, blocked=status == BLOCKED)
    return OK


# The folder

# in a folder that is being filled; what was killed half way may be filled again
_UNFINISHED: Final = ".formula-demo-unfinished"


def _folder(chosen: str | None) -> tuple[Path, bool]:
    """Give the folder to build in, and whether it is new.

    :raises UserError: it is there and not empty, is a file, or cannot be made.
    """
    if chosen is None:
        return _temporary(), True
    folder = Path(os.path.abspath(chosen))  # noqa: PTH100 - resolve() would print another name than the one typed
    try:
        if os.path.lexists(folder):
            if not folder.is_dir():
                raise UserError(f"'{chosen}' is there and is no folder: nothing was written")
            if (folder / _UNFINISHED).is_file():
                _emptied(folder)  # ours, and it was killed half way
            if any(folder.iterdir()):
                raise UserError(f"'{chosen}' is not empty: nothing was written; name a new folder")
            return folder, False
        folder.mkdir(parents=True)
    except OSError as error:
        raise unwritable(folder, error) from error
    return folder, True


def _temporary() -> Path:
    try:
        return Path(tempfile.mkdtemp(prefix="formula-demo-"))
    except OSError as error:
        raise UserError(f"no temporary folder can be made ({error.strerror}); name a folder") from error


@contextmanager
def _all_or_nothing(folder: Path, *, made: bool) -> Iterator[None]:
    """Take away what was written where the building fails."""
    unfinished = folder / _UNFINISHED
    try:
        unfinished.touch()
        yield
        unfinished.unlink()
    except BaseException:
        _emptied(folder)
        if made:
            folder.rmdir()
        raise


def _emptied(folder: Path) -> None:
    for path in folder.iterdir():
        shutil.rmtree(path) if path.is_dir() and not path.is_symlink() else path.unlink()


@contextmanager
def _at_home() -> Iterator[None]:
    """Keep git to the repository that it is told about: GIT_DIR and its like mean another one."""
    away = {name: os.environ[name] for name in os.environ.keys() - running.environment(inherit=False).keys()}
    for name in away:
        del os.environ[name]
    try:
        yield
    finally:
        os.environ.update(away)


# The clone


def _arm(folder: Path) -> bool:
    """Arm the clone as `git formula init` does, without a file more in its work tree; say whether all of it is."""
    repo = repository.open_repo(folder)
    write_whole(repo.git_dir / "info" / "attributes", _ATTRIBUTES)
    if repository.read_config(repo, "core.hooksPath") is not None:
        running.read(repo, "config", "--local", "core.hooksPath", _HOOKS)  # theirs are not for this one
    if running.run(repo, "var", "GIT_COMMITTER_IDENT").status:
        for key, value in _NOBODY.items():
            running.read(repo, "config", "--local", key, value)
    actions = arm.plan(repo, folder, arm.Options(hooks="plain", program=arm.installed_program()))
    arm.carry_out(repo, actions)
    return all(action.state == "keep" for action in arm.status(repo, folder))


# What is said


def _say_built(folder: Path, told: Sequence[StoryCommit], *, armed: bool) -> None:
    people = {commit.who.name: None for commit in told}
    first, last = min(commit.when for commit in told), max(commit.when for commit in told)
    merged = {told[parent].branch for commit in told for parent in commit.parents[1:]}
    print(f"A throw-away repository, all of it invented: {terminal(str(folder))}\n")
    print(f"  {len(told)} commits from {first:%Y-%m-%d} to {last:%Y-%m-%d}")
    print(f"  by {', '.join(people)}")
    for branch, count in Counter(commit.branch for commit in told).items():
        fate = "checked out" if branch == MAIN else "merged" if branch in merged else "proposed, not merged"
        print(f"  {branch:<10} {count:>2} commits of its own, {fate}")
    arming = "armed: git diff speaks of recipes, and hooks check commits"
    print(f"  {arming if armed else 'not armed: `git formula init` in it says why'}\n")


def _review(folder: Path) -> int:
    review = import_module("formula_vcs.commands.review")
    parser = argparse.ArgumentParser()
    review.arguments(parser)
    print(f"$ git formula review {MAIN}...{PROPOSAL}\n", flush=True)
    status: int = review.run(parser.parse_args([f"{MAIN}...{PROPOSAL}", "--workspace", str(folder)]))
    return status


def _say_next(folder: Path, *, blocked: bool) -> None:
    if blocked:
        print("\nIt blocks, as it is meant to. Such a review ends with 1, this demo with 0.")
    print(
        "\nTry next:\n"
        f"  cd {shlex.quote(str(folder))}\n"
        "  git log --graph --oneline --all\n"
        "  git formula check\n"
        "  git formula show hand-cream\n"
        "  git formula uses glycerin\n"
        "  git formula show lip-balm --evidence\n"
        "  git formula trace hc-040 hc-041\n"
        f"  git formula diff {MAIN}...{PROPOSAL}\n"
        'Then write 60.00 for "to 100" in hand-cream.toml, and see the hook refuse it:\n'
        '  git commit -am "Break a total"'
    )
