"""The local configuration behind ``diff=formula`` and ``merge=formula``: what each clone sets for itself.

It is never read from a committed file through ``include.path``: a pull request could then change the program
that `git diff` or `git merge` runs.

Plain `git config` reads and writes here, not GitPython 3.2.1.  Tried: its writer rewrites the whole file, and an
alias like ``!f() { echo "a; b" ; }; f`` of another program comes back broken, where git changes one key under a
lock; its reader takes values of ``include.path`` files as the repository's own, so that undo would try to unset
them.  Read in its source: it does not read ``config.worktree`` (extensions.worktreeConfig), where a linked work
tree may set core.hooksPath, and does not see ``git -c`` and GIT_CONFIG_COUNT.
"""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Final

from formula_vcs.git import running
from formula_vcs.model.values import replace
from formula_vcs.setup.action import Action
from formula_vcs.setup.attributes import NAME, shown_path

if TYPE_CHECKING:
    from collections.abc import Mapping

    from formula_vcs.git.running import Repo

COMMAND: Final = f"diff.{NAME}.command"
MERGE: Final = f"merge.{NAME}.driver"
_MARKS: Final = {COMMAND: ": git-formula diff driver ", MERGE: ": git-formula merge driver "}
_MERGE_NAME: Final = "recipes merged by what they mean (git formula)"
NO_PROGRAM: Final = "/dev/null"
"""Stands for a path that is not known.  A bare name would run a file of the work tree: a pull request's."""

# A hunk header shows the nearest of these above: the step by its id, the phase by its table.  Headings of
# other kinds of table match too.
XFUNCNAME: Final = r'^[ \t]*(id[ \t]*=[ \t]*"[^"]*"|\[\[?[^]#]+\]\]?)'
# What is one word: a number with its sign and decimals, an id with its hyphens (a date is one too), a run of
# the rest.  POSIX takes the longest of the three.  Bytes of a UTF-8 letter stay together in any locale.
WORD_REGEX: Final = r"[-+]?[0-9]+\.[0-9]+|[[:alnum:]_]+(-[[:alnum:]_]+)*|[-+]|[^[:space:][:alnum:]_+-]+"

PRIOR: Final[Mapping[str, frozenset[str]]] = {}
"""Values that earlier versions of us wrote, by key: replaced without asking (a command has its mark)."""


def values(program: str, *, diff_driver: bool) -> dict[str, str]:
    """Give the keys and the values that an armed clone has."""
    wanted = {
        f"diff.{NAME}.xfuncname": XFUNCNAME,
        f"diff.{NAME}.wordRegex": WORD_REGEX,
        f"merge.{NAME}.name": _MERGE_NAME,
        MERGE: command(program, "merge-driver.sh"),
    }
    return wanted | ({COMMAND: command(program)} if diff_driver else {})


def command(program: str, script: str = "diff-driver.sh") -> str:
    """Give a driver's shell text on one line, with the path of the installed git-formula in it."""
    source = Path(__file__).with_name(script).read_text("utf-8")
    lines = [line.strip() for line in source.splitlines() if not line.startswith("#")]
    path = shlex.quote(program or NO_PROGRAM)
    if script == "merge-driver.sh":
        path = path.replace("%", "%%")  # git replaces what follows a percent sign
    return " ".join(lines).replace("@PROGRAM@", path)


def plan(
    repo: Repo, wanted: Mapping[str, str], *, force: bool, prior: Mapping[str, frozenset[str]] = PRIOR
) -> list[Action]:
    """Say what each key needs.  A command that is no longer wanted goes, if it is ours."""
    actions = [_plan_one(repo, key, new, force=force, prior=prior) for key, new in wanted.items()]
    if COMMAND not in wanted:
        actions += _removals(repo, [COMMAND], prior)
    return actions


def plan_removal(repo: Repo, *, prior: Mapping[str, frozenset[str]] = PRIOR) -> list[Action]:
    """Say what would unset the values that are ours, and no others."""
    return _removals(repo, list(values("", diff_driver=True)), prior)


def local_value(repo: Repo, key: str) -> str | None:
    """Give what this clone's own configuration file says, without files that it includes."""
    output = running.run(repo, "config", "--local", "--no-includes", "--null", "--get", key)
    return None if output.status else running.text(output.out).removesuffix("\0")


def _plan_one(repo: Repo, key: str, new: str, *, force: bool, prior: Mapping[str, frozenset[str]]) -> Action:
    output = running.run(repo, "config", "--null", "--get", key)
    old = None if output.status else running.text(output.out).removesuffix("\0")
    action = Action("config", key, _where(repo), "keep", old, new, key=key)
    if old == new:
        return action
    if old is None:
        return replace(action, state="add")
    if _ours(key, old, prior):
        return replace(action, state="update", note="an earlier version of ours")
    if force:
        return replace(action, state="update", note="in place of another program's value")
    return replace(action, state="conflict", note="another program's value; --force replaces it")


def _removals(repo: Repo, keys: list[str], prior: Mapping[str, frozenset[str]]) -> list[Action]:
    found = ((key, local_value(repo, key)) for key in keys)
    return [
        Action("config", key, _where(repo), "remove", old, None, key=key)
        for key, old in found
        if old is not None and _ours(key, old, prior)
    ]


def _ours(key: str, value: str, prior: Mapping[str, frozenset[str]]) -> bool:
    if key in _MARKS:
        return value.startswith(_MARKS[key])
    return value == values("", diff_driver=False)[key] or value in prior.get(key, frozenset())


def _where(repo: Repo) -> str:
    return shown_path(repo, repo.common_dir / "config")
