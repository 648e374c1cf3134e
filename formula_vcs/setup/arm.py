"""Arm a clone: what it needs so that git itself checks recipes and shows their changes in a chemist's words.

The plan is a list of descriptions; carrying it out is a separate step, so a dry run, a status and an undo are
the same list looked at in other ways.  Every single step is atomic and says "keep" when it finds itself done,
so a killed run is finished by the next one.
"""

from __future__ import annotations

import errno
import os
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

from formula_vcs.errors import UserError
from formula_vcs.git import running
from formula_vcs.model.values import replace
from formula_vcs.setup import attributes, driver, hooks
from formula_vcs.setup.action import Action, Options
from formula_vcs.setup.armed import armed_line
from formula_vcs.toml.atomic import remove, unwritable, write_whole

if TYPE_CHECKING:
    from collections.abc import Iterable

    from formula_vcs.git.running import Repo

__all__ = [
    "FRAMEWORK_SNIPPET", "Action", "Options", "armed_line", "attributes_of", "carry_out", "create_repository",
    "installed_program", "plan", "plan_undo", "refuse_unwritable", "status",
]  # fmt: skip

FRAMEWORK_SNIPPET: Final = """\
repos:
  - repo: local
    hooks:
      - id: formula-check
        name: recipes add up and can be made
        entry: git-formula check --staged --hook
        language: system
        pass_filenames: false
        always_run: true
        require_serial: true
        stages: [pre-commit, pre-merge-commit, manual]
"""


def plan(repo: Repo, workspace: Path, options: Options) -> list[Action]:
    """Say what arming this clone for a workspace (an absolute folder) would do.

    :raises UserError: a bare repository, or hooks were asked for that cannot be had.
    """
    _wants_files(repo)
    workspace = workspace.resolve()
    wanted = driver.values(options.program, diff_driver=options.diff_driver)
    return [
        *driver.plan(repo, wanted, force=options.force),
        *hooks.plan(repo, options),
        attributes.plan(repo, workspace, force=options.force),
    ]


def plan_undo(repo: Repo, workspace: Path) -> list[Action]:
    """Say what taking back our own work would do: nothing of another program, and no recipe.

    Hooks and drivers are the clone's, so other workspaces of the repository lose them too.

    :raises UserError: a bare repository.
    """
    _wants_files(repo)
    workspace = workspace.resolve()
    lines = attributes.plan_removal(repo, workspace)
    actions = [] if lines is None else [lines]
    return [*actions, *hooks.plan_removal(repo), *driver.plan_removal(repo)]


def status(repo: Repo, workspace: Path, options: Options | None = None) -> list[Action]:
    """Say what is armed here: the plan itself, in which ``keep`` means armed.

    A diff driver that was left out on purpose is not missed.
    """
    chosen = options or Options(program=installed_program())
    if driver.local_value(repo, driver.COMMAND) is None:
        chosen = replace(chosen, diff_driver=False)
    return plan(repo, workspace, chosen)


def attributes_of(repo: Repo, workspace: Path) -> Action:
    """Say what the attributes of a workspace need, of which nothing else is asked."""
    return attributes.plan(repo, workspace, force=False)


def carry_out(repo: Repo, actions: Iterable[Action]) -> list[Action]:
    """Do what the actions say, and give those that did something.

    :raises UserError: something cannot be written; what came before it is done and stays.
    """
    done = []
    for action in actions:
        if action.does_something:
            _DO[action.kind](repo, action)
            done.append(action)
    return done


def refuse_unwritable(repo: Repo, actions: Iterable[Action]) -> None:
    """Ask before the first write whether all of them are allowed, so that nothing is done by halves.

    :raises UserError: a folder that would be written to cannot be.
    """
    for action in actions:
        # git writes its configuration through a lock file beside it
        target = repo.common_dir / "config" if action.path is None else action.path
        parent = next(folder for folder in target.parents if folder.exists())
        if action.does_something and not (parent.is_dir() and os.access(parent, os.W_OK | os.X_OK)):
            raise unwritable(target, PermissionError(errno.EACCES, os.strerror(errno.EACCES)))


def installed_program() -> str:
    """Find the git-formula that belongs to this Python, else the one on PATH; empty where there is none."""
    beside = Path(sys.executable).with_name("git-formula")
    return str(beside) if beside.is_file() else shutil.which("git-formula") or ""


def create_repository(folder: Path) -> None:
    """Make a folder a repository, on the branch that git is configured to begin with.

    :raises UserError: git cannot.
    """
    import git  # 85 ms, and only here: not on the path of a check

    try:
        git.Repo.init(folder).close()
    except (git.GitError, OSError) as error:
        raise UserError(f"git init failed in {folder}: {error}".splitlines()[0]) from error


def _wants_files(repo: Repo) -> None:
    if repo.top is None:
        msg = f"{repo.git_dir} has no work tree (a bare repository?): there are no recipes to arm"
        raise UserError(msg)


def _do_config(repo: Repo, action: Action) -> None:
    if action.new is None:
        running.read(repo, "config", "--local", "--unset-all", action.key)
    else:
        running.read(repo, "config", "--local", "--replace-all", action.key, action.new)


def _do_file(_: Repo, action: Action) -> None:
    if action.path is None:
        msg = f"an action without a path: {action.what}"
        raise ValueError(msg)
    if action.new is not None:
        if action.aside is not None:
            _move(action.path, action.aside)
        write_whole(action.path, running.raw(action.new), executable=action.executable)
    elif action.aside is not None:
        _move(action.aside, action.path)
    else:
        remove(action.path, folder_too=action.executable)


def _move(old: Path, new: Path) -> None:
    try:
        old.replace(new)
    except OSError as error:
        raise unwritable(new, error) from error


def _do_framework(repo: Repo, action: Action) -> None:
    hooks.run_framework(repo, "uninstall" if action.state == "remove" else "install", action.key)


_DO: Final = {"config": _do_config, "file": _do_file, "pre-commit": _do_framework}
