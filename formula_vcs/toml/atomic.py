"""Write a file whole or not at all."""

from __future__ import annotations

import os
import stat
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Final

from formula_vcs.errors import UserError

_PLAIN: Final = 0o666
_EXECUTABLE: Final = 0o777
_RUN: Final = 0o111


def write_whole(path: Path, data: bytes, *, executable: bool = False) -> None:
    """Write a file as `write_atomic` does, its folders too where they are missing.

    :raises UserError: the folder or the file cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomic(path, data, executable=executable)
    except OSError as error:
        raise unwritable(path, error) from error


def write_atomic(path: Path, data: bytes, *, executable: bool = False) -> None:
    """Write a file so that whoever reads it, after a crash too, finds the old content or the new.

    An existing file keeps its permissions; a script is made executable.  A link is replaced by a file: nothing is
    written where it leads.

    :raises OSError: it cannot be written; the old file is untouched.
    """
    _write(path, data, _mode(path, executable=executable), lambda made: made.replace(path))


def write_new(path: Path, data: bytes) -> None:
    """Write a file under a passing name and give it its own only if that is free.

    :raises FileExistsError: something of that name is there; it is left alone.
    :raises OSError: it cannot be written.
    """
    _write(path, data, _new_mode(_PLAIN), lambda made: _take_name(made, path))


def _write(path: Path, data: bytes, mode: int, place: Callable[[Path], object]) -> None:
    """Write beside a file, on the disk for good before ``place`` gives it its name, and that name for good too."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".tmp", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            os.fchmod(file.fileno(), mode)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        place(Path(name))
    finally:
        with suppress(OSError):
            Path(name).unlink(missing_ok=True)
    _sync_folder(path.parent)


def _take_name(made: Path, path: Path) -> None:
    try:
        path.hardlink_to(made)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links: take the name first, then put the file there
        path.touch(exist_ok=False)
        made.replace(path)


def _sync_folder(folder: Path) -> None:
    """Make the new name last too, where the file system can."""
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


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
    """Keep the mode of a file; a new one, or one in place of a link, gets what the umask allows."""
    new = _new_mode(_EXECUTABLE if executable else _PLAIN)
    try:
        found = path.lstat().st_mode
    except FileNotFoundError:
        return new
    return stat.S_IMODE(found) | (new & _RUN if executable else 0) if stat.S_ISREG(found) else new


def _new_mode(wanted: int) -> int:
    # The only way to read the umask is to set it.
    mask = os.umask(0)
    os.umask(mask)
    return wanted & ~mask
