"""The line in `.gitattributes` that names our diff and merge drivers for the TOML of a workspace.

It stands in the workspace's own folder, is committed, and is harmless in a clone that is not armed: git then
uses its plain text diff and merge.  No textconv and no program is named here, only a driver that each clone fills in
itself.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from formula_vcs.git import running
from formula_vcs.model.values import replace
from formula_vcs.setup.action import Action
from formula_vcs.words.late_pattern import late_pattern

if TYPE_CHECKING:
    from pathlib import Path

    from formula_vcs.git.running import Repo

NAME: Final = "formula"
KINDS: Final = ("diff", "merge")
ATTRIBUTES: Final = tuple(f"{kind}={NAME}" for kind in KINDS)
"""What a recipe file carries."""

WHAT: Final = f"{' and '.join(ATTRIBUTES)} for *.toml"

_LINE: Final = f"*.toml {' '.join(ATTRIBUTES)}\n"
_MARK: Final = "# git-formula: recipes get readable hunk headers, word diffs and `git diff` in a chemist's words"
# Says that the line feed in front is ours too, so that taking the lines out gives back every byte.
_GLUE: Final = " (and the line feed above)"
# Any line that we ever wrote below our mark.
_BLOCK: Final = late_pattern(
    rf"(?:\n{re.escape(_MARK + _GLUE)}|^{re.escape(_MARK)})\n\*\.toml(?: (?:diff|merge)={NAME})+\n",
    re.MULTILINE,
)


def plan(repo: Repo, workspace: Path, *, force: bool) -> Action:
    """Say what the attributes of a workspace need.  What counts is what git makes of all attribute files."""
    path = workspace / ".gitattributes"
    old = content(path)
    where = shown_path(repo, path)
    drivers = _effective(repo, workspace)
    action = Action("file", WHAT, where, "keep", old, old, path=path)
    block = _BLOCK.search(old or "")
    named = set(drivers.values()) == {NAME}
    if named and block is None:
        return replace(action, note="named by a line that init did not write")
    if named and block is not None and block[0].endswith(f"\n{_LINE}"):
        return action
    others = [f"{kind}={driver}" for kind, driver in drivers.items() if driver not in (NAME, "unspecified")]
    if others and not force:
        words = " and ".join(others)
        return replace(action, state="conflict", note=f"these files have {words} already; --force takes over")
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
    return Action("file", WHAT, where, "remove", old, removed(old) or None, path=path)


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
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        raise running.unreadable(path, error) from error


def attribute(repo: Repo, path: str, name: str) -> str:
    """Ask git what an attribute of a path is: a value, "set", "unset" or "unspecified"."""
    return running.text(running.read(repo, "check-attr", "-z", name, "--", path)).split("\0")[2]


def shown_path(repo: Repo, path: Path) -> str:
    """Name a file as seen from the top of the work tree."""
    for base in (repo.top, repo.common_dir.parent):
        if base is not None and path.is_relative_to(base):
            return str(path.relative_to(base))
    return str(path)


def _effective(repo: Repo, workspace: Path) -> dict[str, str]:
    """Ask git which drivers a recipe of the workspace would have, from all attribute files together."""
    probe = str(workspace / "any-recipe.toml")
    out = running.text(running.read(repo, "check-attr", "-z", *KINDS, "--", probe)).split("\0")
    return dict(zip(out[1::3], out[2::3], strict=False))
