"""Write a file whole or not at all: whoever reads it, after a kill or a full disk too, finds the old one or the new."""

from __future__ import annotations

import os
import stat
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from formula_vcs.errors import UserError
from formula_vcs.words.late_pattern import late_pattern

_PLAIN: Final = 0o666
_EXECUTABLE: Final = 0o777
_NAME: Final = 100  # of a file's name in that of the file beside it: names end at 255 bytes
_PATIENCE: Final = 20.0  # seconds; what is done under the lock takes hundredths of one
_PAUSE: Final = 0.01
_STREAM: Final = late_pattern(r"/dev/(stdout|stderr)|(?:/dev|/proc/self)/fd/(\d{1,6})")
_NUMBERS: Final = {"stdout": 1, "stderr": 2}


def write_atomic(path: Path, data: bytes, *, executable: bool = False) -> None:
    """Put ``data`` in place of a file, on the disk before it has the name.

    The mode of an existing file is kept; a script is made executable.  A link is replaced by a file: nothing is
    written where it leads.  Raises OSError, with the old file untouched.
    """
    beside = _written_beside(path, data, _mode(path, executable=executable))
    try:
        beside.replace(path)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise
    _sync_folder(path.parent)


def write_new(path: Path, data: bytes) -> None:
    """Write a file that is not there yet; of two who do so at once one has it.

    :raises FileExistsError: the name is taken; what has it was left alone.
    :raises OSError: the folder cannot be written.
    """
    beside = _written_beside(path, data, _PLAIN & ~_umask())
    try:
        _give_name(beside, path)
    finally:
        beside.unlink(missing_ok=True)
    _sync_folder(path.parent)


def write_whole(path: Path, data: bytes, *, executable: bool = False) -> None:
    """Put ``data`` in place of a file, making its folder where there is none; else as `write_atomic`.

    :raises UserError: the folder or the file cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomic(path, data, executable=executable)
    except OSError as error:
        raise unwritable(path, error) from error


def write_output(name: str, data: bytes) -> None:
    """Write a report to what a person named: a file whole or not at all, a device or a pipe as it flows.

    Only a file is ever replaced: what stands for a device, a terminal or a pipe (``/dev/null``, ``/dev/stdout``, a
    FIFO) is written to and stays what it is.

    :raises UserError: it cannot be written.
    """
    path = Path(name)
    try:
        stream = _own_stream(name)
        if stream is not None:
            _pour(stream, data)
        elif _flows(path):
            with path.open("wb", buffering=0) as file:
                _pour(file.fileno(), data)
        else:
            write_atomic(path, data)
    except BrokenPipeError:
        raise
    except OSError as error:
        raise UserError(f"'{name}' cannot be written: {error.strerror}") from None


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Let one process at a time change the files of a folder: for as long as they are read again and written.

    The lock is the folder itself, so nothing is left behind by a kill.  Where the file system has no locks it is
    done without.

    :raises UserError: another process has had the lock for too long.
    """
    import fcntl

    number = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        late = time.monotonic() + _PATIENCE
        while True:
            try:
                fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > late:
                    msg = f"another program writes in '{folder.name}' and does not come to an end; nothing was written"
                    raise UserError(msg) from None
                time.sleep(_PAUSE)
            except OSError:  # no locks here
                break
        yield
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


# --- how


def _own_stream(name: str) -> int | None:
    """Give the number of what this process holds open already: the shell may have put a file behind it."""
    found = _STREAM.fullmatch(os.path.normpath(name))
    return None if found is None else _NUMBERS.get(found[1]) or int(found[2])


def _flows(path: Path) -> bool:
    """Say whether a name, or what it leads to, is written to and not replaced."""
    try:
        found = path.stat().st_mode
    except OSError:
        return False
    return not stat.S_ISREG(found) and not stat.S_ISDIR(found)


def _pour(number: int, data: bytes) -> None:
    view = memoryview(data)
    while view:
        view = view[os.write(number, view) :]


def _written_beside(path: Path, data: bytes, mode: int) -> Path:
    """Write a file beside another one, on the disk when this returns, and give its passing name.

    Where the system can, the file has no name before it is whole, so that a kill leaves nothing behind.
    """
    number, name = _nameless(path.parent), ""
    if number is None:
        number, name = tempfile.mkstemp(prefix=f".{path.name[:_NAME]}.", suffix=".tmp", dir=path.parent)
    try:
        with os.fdopen(number, "wb") as file:
            os.fchmod(number, mode)
            file.write(data)
            file.flush()
            os.fsync(number)
            name = name or _named(number, path)
    except BaseException:
        if name:
            with suppress(OSError):
                Path(name).unlink()
        raise
    return Path(name)


def _nameless(folder: Path) -> int | None:
    flags = getattr(os, "O_TMPFILE", 0)
    if not flags or not Path("/proc/self/fd").exists():
        return None
    try:
        return os.open(folder, flags | os.O_RDWR | os.O_CLOEXEC, 0o600)
    except OSError:  # not every file system has files without a name; a folder that is not there is said later
        return None


def _named(number: int, path: Path) -> str:
    """Give a file without a name one beside another file's."""
    name = str(path.parent / f".{path.name[:_NAME]}.{os.urandom(4).hex()}.tmp")
    # a folder has to be given for the link of /proc to be followed; to a whole path it says nothing
    os.link(f"/proc/self/fd/{number}", name, src_dir_fd=number, follow_symlinks=True)
    return name


def _give_name(file: Path, path: Path) -> None:
    try:
        path.hardlink_to(file)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links: take the name first, then put the file there
        path.touch(exist_ok=False)
        file.replace(path)


def _mode(path: Path, *, executable: bool) -> int:
    """Keep the mode of a file; a new one gets what the umask allows."""
    wanted = (_EXECUTABLE if executable else _PLAIN) & ~_umask()
    try:
        found = path.lstat().st_mode
    except OSError:
        return wanted
    return stat.S_IMODE(found) | (wanted & 0o111 if executable else 0) if stat.S_ISREG(found) else wanted


def _umask() -> int:
    # the only way to read it is to set it
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _sync_folder(folder: Path) -> None:
    """Make the new name last too, where the file system can."""
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
