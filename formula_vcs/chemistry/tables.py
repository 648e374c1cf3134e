"""The one reader of the tables of substances: what `compile_tables` made of `data/*.toml`, loaded when asked for."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

COMPILED: Final = Path(__file__).with_name("compiled")


@lru_cache(maxsize=8)
def load(name: str) -> dict[str, Any]:
    """Give a table by the name of its file in `data/`, INCI names folded as `inci_key` folds them.

    It is ours, so it is taken as it stands; a test compiles it again and compares.
    """
    found: dict[str, Any] = json.loads((COMPILED / f"{name}.json").read_text(encoding="utf-8"))
    return found
