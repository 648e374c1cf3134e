"""A house's logo: a PNG or JPEG of the workspace, looked at before anything opens it."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Final

from formula_vcs.errors import UserError
from formula_vcs.reports.papers.letterhead import Logo

MOST_BYTES: Final = 512 * 1024
MOST_PIXELS: Final = 2000  # a side: a picture of few bytes can be of very many pixels
_PNG: Final = b"\x89PNG\r\n\x1a\n"
_JPEG: Final = b"\xff\xd8\xff"
_FRAMES: Final = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}


def logo_at(root: Path, name: str) -> Logo:
    """Read a logo by its path in the workspace.

    :raises UserError: it lies outside, is no file, is too large, or is no PNG or JPEG.
    """
    path = root / name
    try:
        inside = path.resolve(strict=True).is_relative_to(root.resolve())
        if not inside or Path(name).is_absolute():
            raise UserError(f"logo '{name}' lies outside the workspace")
        if not path.is_file():
            raise UserError(f"logo '{name}' is no file")
        if path.stat().st_size > MOST_BYTES:
            raise UserError(f"logo '{name}' has {path.stat().st_size:,} bytes; {MOST_BYTES:,} is the most")
        data = path.read_bytes()
    except (OSError, ValueError, RuntimeError) as error:
        raise UserError(f"logo '{name}' cannot be read: {getattr(error, 'strerror', None) or error}") from None
    return logo_of(data, name)


def logo_of(data: bytes, name: str) -> Logo:
    """Look at the bytes of a logo.

    :raises UserError: they are no PNG or JPEG, or of too many pixels.
    """
    if data.startswith(_PNG) and data[12:16] == b"IHDR" and len(data) > 32:
        width, height = struct.unpack(">II", data[16:24])
        kind = "png"
    elif data.startswith(_JPEG):
        width, height = _jpeg_size(data)
        kind = "jpeg"
    else:
        raise UserError(f"logo '{name}' is no PNG or JPEG; other kinds of picture can hold more than a picture")
    if not 0 < width <= MOST_PIXELS or not 0 < height <= MOST_PIXELS:
        raise UserError(f"logo '{name}' is {width} x {height} pixels; {MOST_PIXELS} a side is the most")
    return Logo(data, kind, width, height)


def _jpeg_size(data: bytes) -> tuple[int, int]:
    """Find the frame of a JPEG, and its size; (0, 0) where there is none."""
    place = 2
    while place + 9 < len(data):
        if data[place] != 0xFF:
            return 0, 0
        marker = data[place + 1]
        length = struct.unpack(">H", data[place + 2 : place + 4])[0]
        if marker in _FRAMES:
            height, width = struct.unpack(">HH", data[place + 5 : place + 9])
            return width, height
        place += 2 + length
    return 0, 0
