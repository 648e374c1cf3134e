"""Tables that ship with the package: constants with their sources, one TOML file each in `figures/data/`."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any


@lru_cache(maxsize=8)
def load(name: str) -> dict[str, Any]:
    """Read a table of the package, once.  It is ours, so it is taken as it stands; a test holds its shape."""
    return tomllib.loads((Path(__file__).parents[1] / "figures" / "data" / f"{name}.toml").read_text(encoding="utf-8"))
