"""The line in `.gitattributes` that names our diff driver for the TOML of a workspace.

It stands in the workspace's own folder, is committed, and is harmless in a clone that is not armed: git then
uses its plain text diff.  No textconv and no program is named here, only a driver that each clone fills in
itself.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from formula_vcs.repo import process
from formula_vcs.repo.action import Action

if TYPE_CHECKING:
    from pathlib import Path

    from formula_vcs.repo.process import Repo

NAME: Final = "formula"
ATTRIBUTES: Final = (f"diff={NAME}",)
"""What a recipe file carries; a merge driver's ``merge=formula`` will stand beside it."""

_LINE: Final = f"*.toml {' '.join(ATTRIBUTES)}\n"
_MARK: Final = "# git-formula: recipes get readable hunk headers, word diffs and `git diff` in a chemist's words"
# Says that the line feed in front is ours too, so that taking the lines out gives back every byte.
_GLUE: Final = " (and the line feed above)"
# Any line that we ever wrote below our mark.
_BLOCK: Final = re.compile(
    rf"(?:\n{re.escape(_MARK + _GLUE)}|^{re.escape(_MARK)})\n\*\.toml(?: (?:diff|merge)={NAME})+\n",
    re.MULTILINE,
)


def plan(repo: Repo, workspace: Path, *, force: bool) -> Action:
    """Say what the attributes of a workspace need.  What counts is what git makes of all attribute files."""
    path = workspace / ".gitattributes"
    old = content(path)
    where = shown_path(repo, path)
    driver = _effective(repo, workspace)
    action = Action("file", f"diff={NAME} for *.toml", where, "keep", old, old, path=path)
    block = _BLOCK.search(old or "")
    if driver == NAME and block is None:
        return replace(action, note="named by a line that init did not write")
    if driver == NAME and block is not None and block[0].endswith(f"\n{_LINE}"):
        return action
    if driver not in (NAME, "unspecified") and not force:
        return replace(action, state="conflict", note=f"these files have diff={driver} already; --force takes over")
    if path.is_symlink():
        return replace(action, state="conflict", note="git 2.32 and later ignore a .gitattributes that is a symlink")
    new = added(removed(old or ""))
    return replace(action, state="update" if block else "add", new=new, note="commit this file")


def plan_removal(repo: Repo, workspace: Path) -> Action | None:
    """Say what would take our lines out again; None where there are none."""
    path = workspace / ".gitattributes"
    old = content(path)
    if old is None or not _BLOCK.search(old) or path.is_symlink():
        return None
    where = shown_path(repo, path)
    return Action("file", f"diff={NAME} for *.toml", where, "remove", old, removed(old) or None, path=path)


def added(old: str) -> str:
    """Put our lines at the end of a text: git lets the last line win."""
    glue = "" if not old or old.endswith("\n") else "\n"
    return f"{old}{glue}{_MARK}{_GLUE if glue else ''}\n{_LINE}"


def removed(old: str) -> str:
    """Take our lines out of a text; every other byte stays."""
    return _BLOCK.sub("", old)


def content(path: Path) -> str | None:
    """Read a text so that writing it back gives the same bytes; None where there is no file."""
    try:
        return path.read_bytes().decode("utf-8", "surrogateescape")
    except FileNotFoundError:
        return None
    except OSError as error:
        raise process.unreadable(path, error) from error


def shown_path(repo: Repo, path: Path) -> str:
    """Name a file as seen from the top of the work tree."""
    for base in (repo.top, repo.common_dir.parent):
        if base is not None and path.is_relative_to(base):
            return str(path.relative_to(base))
    return str(path)


def _effective(repo: Repo, workspace: Path) -> str:
    """Ask git which driver a recipe of the workspace would have, from all attribute files together."""
    probe = str(workspace / "any-recipe.toml")
    out = process.read(repo, "check-attr", "-z", "diff", "--", probe)
    return process.text(out).split("\0")[2]
