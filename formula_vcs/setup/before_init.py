"""What the files of a clone were before it was armed, so that taking that back gives every byte back.

Kept in the clone itself (``formula/before-init.json`` in git's folder), never in a file that is committed.  A file that
somebody changed since is not given back whole: there only our own lines and values go.
"""

from __future__ import annotations

import base64
import hashlib
import json
import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from formula_vcs.setup import hooks
from formula_vcs.toml.atomic import remove, unwritable, write_whole

if TYPE_CHECKING:
    from formula_vcs.git.running import Repo
    from formula_vcs.setup.action import Action

_FILE: Final = Path("formula") / "before-init.json"
_FILES: Final = "files"
_VALUES: Final = "values"
State = dict[str, Any]


class BeforeInit:
    """The record of one clone: each file as it was (``was``), and a name for what arming made of it (``now``)."""

    def __init__(self, repo: Repo) -> None:
        """Read the record; there is none in a clone that was never armed, or by an earlier version of us."""
        self._repo = repo
        self._path = repo.common_dir / _FILE
        self._files: dict[str, State] = {}
        self._values: dict[str, str] = {}
        with suppress(OSError, ValueError):
            found = json.loads(self._path.read_text("utf-8"))
            self._files, self._values = dict(found[_FILES]), dict(found[_VALUES])

    def value(self, key: str) -> str | None:
        """Give the value of another program that ours took the place of."""
        return self._values.get(key)

    def note(self, actions: Iterable[Action]) -> None:
        """Note what the files are that some actions would change, before they do.

        :raises UserError: the record cannot be written.
        """
        actions = [action for action in actions if action.does_something]
        for path in self._touched(actions):
            here, known = _state(path), self._files.get(str(path))
            if known is None:
                self._files[str(path)] = {"was": here, "now": None}
            elif known["now"] != _name(here):
                known["was"] = None  # somebody else's work is in it by now
        for action in actions:
            if action.kind == "config" and action.state == "update" and action.old is not None and action.note:
                self._values.setdefault(action.key, action.old)
        if actions:
            self._save()

    def settle(self, actions: Iterable[Action]) -> None:
        """Note what the actions made of the files."""
        actions = [action for action in actions if action.does_something]
        for path in self._touched(actions):
            self._files[str(path)]["now"] = _name(_state(path))
        if actions:
            self._save()

    def unchanged(self, actions: Iterable[Action]) -> list[Path]:
        """Name the files of some actions, about to be taken back, that are still what arming made of them."""
        known = ((path, self._files.get(str(path))) for path in self._touched(list(actions)))
        return [path for path, one in known if one and one["was"] is not None and one["now"] == _name(_state(path))]

    def give_back(self, paths: Iterable[Path], actions: Iterable[Action]) -> None:
        """Put files back as they were, and forget all that was noted of what the actions took back.

        :raises UserError: a file cannot be written.
        """
        for path in paths:
            _put(path, self._files[str(path)]["was"])
        for path in self._touched(list(actions)):
            self._files.pop(str(path), None)
        self._values.clear()
        if self._files:
            self._save()
        else:
            remove(self._path, folder_too=True)

    def _touched(self, actions: list[Action]) -> list[Path]:
        found = [self._repo.common_dir / "config"] if actions else []
        for action in actions:
            found += [path for path in (action.path, action.aside) if path is not None]
            if action.kind == "pre-commit":
                folder = hooks.folder(self._repo)
                found += [folder / f"{name}{end}" for name in hooks.TYPES for end in ("", ".legacy")]
        return list(dict.fromkeys(found))

    def _save(self) -> None:
        text = json.dumps({_FILES: self._files, _VALUES: self._values}, indent=1)
        write_whole(self._path, text.encode("utf-8"))


def _state(path: Path) -> State:
    if path.is_symlink():
        return {"link": os.fsdecode(path.readlink())}
    if not path.is_file():
        return {}
    try:
        data = path.read_bytes()
    except OSError as error:
        raise unwritable(path, error) from error
    return {"mode": path.stat().st_mode & 0o7777, "data": base64.b64encode(data).decode("ascii")}


def _name(state: State) -> str:
    return hashlib.sha256(json.dumps(state, sort_keys=True).encode("utf-8")).hexdigest()


def _put(path: Path, state: State) -> None:
    if _state(path) == state:
        return
    if "data" in state:
        write_whole(path, base64.b64decode(state["data"]))
        path.chmod(state["mode"])
        return
    remove(path)
    if "link" in state:
        try:
            path.symlink_to(state["link"])
        except OSError as error:
            raise unwritable(path, error) from error
