"""``git formula init``: write a workspace to start from, and arm this clone so that git knows recipes.

The starter's texts are the files in ``setup/starter``.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Final

from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.git import repository
from formula_vcs.git.running import shown
from formula_vcs.model.values import replace
from formula_vcs.setup import arm, schemas
from formula_vcs.setup.before_init import BeforeInit
from formula_vcs.toml.atomic import alone, unwritable, write_whole
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, find_workspace
from formula_vcs.workspace.verdict_store import use_of

if TYPE_CHECKING:
    import argparse

STARTER: Final = Path(__file__).parents[1] / "setup" / "starter"
_DONE: Final = {
    "add": "set",
    "update": "replaced",
    "remove": "removed",
    "keep": "kept",
    "conflict": "LEFT ALONE",
}
_PLANNED: Final = {**_DONE, "add": "would set", "update": "would replace", "remove": "would remove"}
_ARMED: Final = {"keep": "armed"}
_NOT_ARMED: Final = "NOT ARMED"
_WIDTH: Final = 14


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument(
        "dir",
        nargs="?",
        default=".",
        metavar="DIR",
        help="a new folder for a workspace, or a folder of a clone",
    )
    mode = parser.add_mutually_exclusive_group()
    mode.add_argument("--undo", action="store_true", help="take out what init wrote for git; recipes stay")
    mode.add_argument("--status", action="store_true", help="say what is armed here; ends with 1 if something is not")
    parser.add_argument("--dry-run", action="store_true", help="say what would be done, and do nothing")
    parser.add_argument(
        "--force", action="store_true", help="replace values of other programs, keep their hooks beside"
    )
    parser.add_argument(
        "--hooks",
        choices=("auto", "plain", "pre-commit", "none"),
        default="auto",
        help="auto: through pre-commit where .pre-commit-config.yaml names formula-check, else plain scripts",
    )
    parser.add_argument(
        "--no-diff-driver",
        action="store_true",
        help="leave `git diff` as it is; hunk headers and word diffs only",
    )
    parser.add_argument("--git", action="store_true", help="run `git init` where DIR is in no repository")


def run(args: argparse.Namespace) -> int:
    """Write or find the workspace, then arm, disarm or describe the clone around it."""
    folder = Path(os.path.abspath(args.dir))  # noqa: PTH100 - resolve() would follow a link that the user stands in
    repo = _repository(folder)
    _refuse_bare(repo)
    if args.undo or args.status:
        return _existing(folder, repo, args)
    found = _workspaces(folder)
    roots = found or [folder]
    actions = [] if repo is None else _plan(repo, roots, args)
    if repo is not None and not args.dry_run:
        arm.refuse_unwritable(repo, actions)
    if not found:
        _write_starter(folder, dry_run=args.dry_run)
    if repo is None and args.git and not args.dry_run:
        arm.create_repository(folder)
        print(f"{'set':<{_WIDTH}}a git repository in {_name(folder)}")
        repo = repository.open_repo(folder)
        actions = _plan(repo, roots, args)
    if repo is None:
        _say_next(folder, git_is_coming=args.git)
        return OK
    return _arm(repo, actions, dry_run=args.dry_run)


def _existing(folder: Path, repo: repository.Repo | None, args: argparse.Namespace) -> int:
    if not folder.is_dir():
        raise UserError(f"no such folder: {_name(folder)}")
    if repo is None:
        raise UserError(f"not a git repository: {_name(folder)} (nor any folder above it)")
    roots = _workspaces(folder) or [folder]
    return _say_status(repo, roots) if args.status else _undo(repo, roots, dry_run=args.dry_run)


def _plan(repo: repository.Repo, roots: list[Path], args: argparse.Namespace) -> list[arm.Action]:
    options = arm.Options(
        hooks=args.hooks,
        diff_driver=not args.no_diff_driver,
        force=args.force,
        program=arm.installed_program(),
    )
    return _of_all(arm.plan(repo, root, options) for root in roots)


def _arm(repo: repository.Repo, actions: list[arm.Action], *, dry_run: bool) -> int:
    if dry_run:
        _say(actions, _PLANNED)
    else:
        with alone(repo.common_dir):
            before = BeforeInit(repo)
            before.note(actions)
            _say(_carry_out(repo, actions), _DONE)
            before.settle(actions)
        _say_hints(repo, actions)
        actions = [*actions, *_overruled(repo, actions)]
    return BLOCKED if any(action.state == "conflict" for action in actions) else OK


def _overruled(repo: repository.Repo, actions: list[arm.Action]) -> list[arm.Action]:
    """Say which attributes that were written do not count, since another file of git's decides first."""
    written = [action.path for action in actions if action.does_something and action.path is not None]
    folders = [path.parent for path in written if path.name == ".gitattributes"]
    found = [plan for folder in folders if (plan := arm.attributes_of(repo, folder)).state == "conflict"]
    for plan in found:
        print(shown(f"\n{plan.where} does not count: .git/info/attributes decides first; take its line for *.toml out"))
    return found


def _undo(repo: repository.Repo, roots: list[Path], *, dry_run: bool) -> int:
    actions = _of_all(arm.plan_undo(repo, root) for root in roots)
    if dry_run:
        _say(actions, _PLANNED)
    else:
        arm.refuse_unwritable(repo, actions)
        with alone(repo.common_dir):
            before = BeforeInit(repo)
            actions = [_given_back(action, before) for action in actions]
            whole = before.unchanged(actions)
            _say(_carry_out(repo, actions), _DONE)
            before.give_back(whole, actions)
    if not actions:
        print("nothing of init's is here")
    return OK


def _given_back(action: arm.Action, before: BeforeInit) -> arm.Action:
    """Let the value of another program come back that ours took the place of."""
    value = before.value(action.key) if action.kind == "config" else None
    return action if value is None else replace(action, new=value, note="as it was before")


def _carry_out(repo: repository.Repo, actions: list[arm.Action]) -> Iterable[arm.Action]:
    """Carry out one by one, so that each line is printed when it is true."""
    for action in actions:
        arm.carry_out(repo, [action])
        yield action


def _say_status(repo: repository.Repo, roots: list[Path]) -> int:
    actions = _of_all(arm.status(repo, root) for root in roots)
    for action in actions:
        missing = action.state != "keep"
        note = f" ({action.note})" if action.note and action.state in ("keep", "conflict") else ""
        print(f"{_NOT_ARMED if missing else 'armed':<{_WIDTH}}{shown(action.what)}, in {shown(action.where)}{note}")
    _say_verdicts(repo)
    armed = all(action.state == "keep" for action in actions)
    print("all is armed here" if armed else "`git formula init` arms what is not")
    return OK if armed else BLOCKED


def _say_verdicts(repo: repository.Repo) -> None:
    """Say what this clone remembers of earlier checks; it may be deleted at any time."""
    found = use_of(repo)
    why_not = f"; not used: {found.why_not}" if found.why_not else ""
    words = f"{found.files} files, {found.size / 1024:.0f} kB" if found.files else "nothing yet"
    print(shown(f"{'verdicts':<{_WIDTH}}of earlier checks, in {found.where}: {words}{why_not}"))


def _of_all(plans: Iterable[list[arm.Action]]) -> list[arm.Action]:
    """Join the plans of several workspaces: what they share in the clone is done once."""
    return list(dict.fromkeys(action for plan in plans for action in plan))


def _say(actions: Iterable[arm.Action], words: dict[str, str]) -> None:
    for action in actions:
        note = f" ({action.note})" if action.note else ""
        line = f"{words[action.state]:<{_WIDTH}}{action.what}, in {action.where}{note}"
        print(shown(line), flush=True)


def _say_hints(repo: repository.Repo, actions: list[arm.Action]) -> None:
    if any(action.state == "conflict" for action in actions):
        print("\nWhat was left alone belongs to another program: see the notes above.")
    committed = [action.where for action in actions if action.path is not None and action.path.name == ".gitattributes"]
    changed = [action for action in actions if action.does_something]
    if any(action.where in committed for action in changed):
        print(
            f"\nCommit {shown(' and '.join(committed))}: then each clone knows the names of the drivers. What they run "
            "is each clone's own: run `git formula init` once in every clone, or git merges recipes line by line there."
        )
    uses = any(action.kind == "pre-commit" for action in actions)
    if changed and not uses and repository.read_config(repo, "formula.hooks") != "none":
        print("A team that uses pre-commit names the hook in .pre-commit-config.yaml instead, and runs init again:\n")
        print(arm.FRAMEWORK_SNIPPET, end="")


def _say_next(folder: Path, *, git_is_coming: bool) -> None:
    here = _name(folder)
    if git_is_coming:
        print(f"would set     a git repository in {here}, and arm it")
        return
    print(f"\n{here} is in no git repository, so nothing is armed.")
    print(f"Next: `git init {here}`, then `git formula init {here}` (or both at once, with --git)")


# The workspace


def _workspaces(folder: Path) -> list[Path]:
    """Find the workspace that a folder lies in, else all below it."""
    if not folder.is_dir():
        return []
    around = find_workspace(folder)
    if around is not None:
        return [around]
    found: list[Path] = []
    for place, folders, names in os.walk(folder):
        another = Path(place) != folder and (".git" in folders or ".git" in names)
        if WORKSPACE_FILE in names and not another:
            found.append(Path(place))
        if WORKSPACE_FILE in names or another:
            folders.clear()
        folders[:] = sorted(name for name in folders if not name.startswith(".") and name != "node_modules")
    return found


def starter_texts() -> dict[Path, bytes]:
    """Give the files of the starter workspace: each names its schema, which stands beside it for editors."""
    files = {path.relative_to(STARTER).with_suffix(""): path for path in sorted(STARTER.rglob("*.toml.txt"))}
    texts = {name: schemas.schema_line(name.as_posix()).encode() + path.read_bytes() for name, path in files.items()}
    return {**texts, **{Path(name): text.encode() for name, text in schemas.workspace_files().items()}}


def _write_starter(folder: Path, *, dry_run: bool) -> None:
    """Write the starter workspace, all of it or nothing.

    :raises UserError: a file or a folder stands in the way, or the place cannot be written.
    """
    # named *.toml.txt in the package, so that the package itself does not look like a workspace
    texts = starter_texts()
    _refuse_in_the_way(folder, texts)
    written: list[Path] = []
    inside = {(folder / name).parent for name in texts}
    made = sorted({place for one in inside for place in _missing_folders(one)}, reverse=True)
    try:
        for name, text in texts.items():
            if not dry_run:
                written.append(folder / name)
                write_whole(folder / name, text)
    except UserError:
        _take_back(written, made)
        raise
    for name in dict.fromkeys(Path(name.parts[0]) if name.parts[0] == schemas.IN_WORKSPACE else name for name in texts):
        print(f"{'would write' if dry_run else 'wrote':<{_WIDTH}}{_name(folder / name)}")


def _refuse_in_the_way(folder: Path, texts: dict[Path, bytes]) -> None:
    parent = next(place for place in (folder, *folder.parents) if os.path.lexists(place))
    if not parent.is_dir():
        raise UserError(f"{_name(parent)} is a file, not a folder")
    if not os.access(parent, os.W_OK | os.X_OK):
        raise unwritable(folder, PermissionError(errno.EACCES, os.strerror(errno.EACCES)))
    for name, text in texts.items():
        file = folder / name
        # A starter that was killed half way is finished: its files are there with our very text.
        if os.path.lexists(file) and not (file.is_file() and file.read_bytes() == text):
            raise UserError(f"{_name(file)} is there already, but no {WORKSPACE_FILE}: nothing was written")
    for inside in {(folder / name).parent for name in texts} - {folder}:
        if os.path.lexists(inside) and not inside.is_dir():
            raise UserError(f"{_name(inside)} is a file, not a folder")


def _missing_folders(folder: Path) -> list[Path]:
    return [place for place in (folder, *folder.parents) if not place.exists()]


def _take_back(files: list[Path], folders: list[Path]) -> None:
    """Remove what was written before something failed, deepest folder first."""
    for file in files:
        file.unlink(missing_ok=True)
    for folder in folders:
        if folder.is_dir():
            folder.rmdir()


def _repository(folder: Path) -> repository.Repo | None:
    try:
        return repository.open_repo(folder)
    except UserError as error:
        if "not a git repository" in str(error):
            return None
        raise


def _refuse_bare(repo: repository.Repo | None) -> None:
    if repo is not None and repo.top is None:
        raise UserError(f"{_name(repo.git_dir)} is bare, or inside .git: there are no files here to work on")


def _name(path: Path) -> str:
    """Name a path as seen from here, where that is short."""
    relative = os.path.relpath(path)
    return shown(relative if not relative.startswith("..") else str(path))
