"""Write a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Final

from formula_vcs.errors import UserError

_PLAIN: Final = 0o666
_EXECUTABLE: Final = 0o777


def write_whole(path: Path, data: bytes, *, executable: bool = False) -> None:
    """Put ``data`` in place of a file: a killed process leaves the old file or the new one.

    An existing file keeps its permissions; a script is made executable.

    :raises UserError: the folder or the file cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            Path(name).chmod(_mode(path, executable=executable))
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise unwritable(path, error) from error


def remove(path: Path, *, folder_too: bool = False) -> None:
    """Remove a file, and with ``folder_too`` its folder where that is then empty.

    :raises UserError: the file cannot be removed.
    """
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise unwritable(path, error) from error
    if folder_too:
        # Not empty is the usual case, and no failure.
        with suppress(OSError):
            path.parent.rmdir()


def unwritable(path: Path, error: OSError) -> UserError:
    """Say in one line why a file cannot be written."""
    return UserError(f"cannot write {path}: {error.strerror or error}")


def _mode(path: Path, *, executable: bool) -> int:
    """Keep the mode of a file; a new one gets what the umask allows (mkstemp would make it private)."""
    umask = os.umask(0)
    os.umask(umask)
    wanted = (_EXECUTABLE if executable else _PLAIN) & ~umask
    if not path.exists():
        return wanted
    return path.stat().st_mode & 0o7777 | (wanted & 0o111)
