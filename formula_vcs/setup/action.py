"""One thing that arming a clone does, before it is done."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from formula_vcs.model.values import dataclass

State = Literal["add", "keep", "update", "conflict", "remove"]
Kind = Literal["config", "file", "pre-commit"]


@dataclass(frozen=True, slots=True)
class Action:
    """What would be done, where, and what is there now.

    ``state`` is ``add`` (nothing there), ``keep`` (done already), ``update`` (our older text, or with force
    another's), ``conflict`` (another program's, left alone) or ``remove``.  ``what`` says it to people,
    ``where`` names the file.  ``kind`` says how it is carried out: ``config`` sets the key ``key``, ``file``
    writes or removes ``path``, ``pre-commit`` has the framework install or uninstall the hook types in
    ``key``.  ``aside`` is where a file that stands in the way is kept (or, on removal, comes back from).
    """

    kind: Kind
    what: str
    where: str
    state: State
    old: str | None
    new: str | None
    note: str = ""
    key: str = ""
    path: Path | None = None
    executable: bool = False
    aside: Path | None = None

    @property
    def does_something(self) -> bool:
        """Say whether carrying it out would change anything."""
        return self.state in ("add", "update", "remove")


@dataclass(frozen=True, slots=True)
class Options:
    """How to arm a clone.

    ``hooks`` is ``auto`` (through pre-commit where its configuration names our hook, plain otherwise),
    ``plain``, ``pre-commit`` or ``none``.  ``program`` is the installed git-formula, for shells that lack it
    on PATH.
    """

    hooks: str = "auto"
    diff_driver: bool = True
    force: bool = False
    program: str = ""
