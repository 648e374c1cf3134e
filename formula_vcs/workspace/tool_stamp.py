"""What judges here: this package as it is installed, the Python it runs on, and the other packages around it.

Imported before anything else at every commit: it imports next to nothing.
"""

from __future__ import annotations

import os
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Iterator

try:  # the same sums as hashlib's, without loading OpenSSL
    from _sha256 import sha256  # type: ignore[import-not-found, unused-ignore]
except ImportError:
    from hashlib import sha256

# pathlib would take longer to load than all the rest
_PACKAGE = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))  # noqa: PTH100, PTH120
_INSTALLED = (".dist-info", ".egg-info")
_AT_START: list[str] = []


def checksum(data: bytes) -> str:
    """Give the SHA-256 of some bytes in 64 hex digits."""
    return str(sha256(data).hexdigest())


def tool_stamp() -> str:
    """Give 32 hex digits that differ wherever another tool would judge.

    They name each file of the package by size, inode and the times of its last change, so an edited checkout is
    another tool too; and each installed distribution by its name and version.

    :raises OSError: the package cannot be looked at, as in an archive.
    """
    parts = [sys.version, sys.implementation.name, str(sys.flags), *_files(str(_PACKAGE)), *_distributions()]
    data = [part.encode("utf-8", "surrogateescape") for part in parts]
    return checksum(b"".join(b"%d:%b" % (len(part), part) for part in data))[:32]


def note_start() -> None:
    """Look once, before anything else is loaded: what judges cannot be older than that."""
    try:
        _AT_START.append(tool_stamp())
    except OSError:
        _AT_START.clear()


def stamp_at_start() -> str:
    """Give the stamp that was noted as the program started; empty where none was."""
    return _AT_START[-1] if _AT_START else ""


def _files(folder: str) -> Iterator[str]:
    waiting = [folder]
    while waiting:
        with os.scandir(waiting.pop()) as inside:
            for entry in sorted(inside, key=lambda one: one.name):
                if entry.is_dir():
                    if entry.name != "__pycache__":
                        waiting.append(entry.path)
                    continue
                stat = entry.stat()
                yield f"{entry.path} {stat.st_size} {stat.st_ino} {stat.st_mtime_ns} {stat.st_ctime_ns}"


def _distributions() -> Iterator[str]:
    for place in sys.path:
        try:
            names = os.listdir(place or ".")  # noqa: PTH208 - as above
        except OSError:  # an archive, or a folder that is not there
            yield place
            continue
        yield from sorted(f"{place} {name}" for name in names if name.endswith(_INSTALLED))
