"""Turn `data/*.toml` into plain values: ``python -m formula_vcs.chemistry.compile_tables`` writes `compiled/`.

A hook runs at every commit, and TOML of this size takes it longer to read than everything else together.  A test
compiles the tables again and compares.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

from formula_vcs.chemistry import class_tables
from formula_vcs.chemistry.tables import COMPILED
from formula_vcs.model.ingredient import inci_key

DATA: Final = Path(__file__).with_name("data")


def parsed(name: str) -> dict[str, Any]:
    """Read one file of `data/`."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def charge(data: Mapping[str, Any]) -> dict[str, Any]:
    """Give {"names": {INCI: [charge, kind]}, "rules": [[pattern, charge, kind]], "salts": {INCI: [g/mol, ...]}}."""
    return {
        "names": {inci_key(name): [row["charge"], row["kind"]] for row in data["class"] for name in row["names"]},
        "rules": [[rule["name"], rule["charge"], rule["kind"]] for rule in data["rule"]],
        "salts": {inci_key(name): salt for name, salt in data["salts"].items()},
    }


def classes(data: Mapping[str, Any]) -> dict[str, Any]:
    """Give the classes of each INCI name and CAS number, those of its charge among them."""
    return class_tables.classes(data, parsed("charge"))


TABLES: Final[dict[str, Callable[[Mapping[str, Any]], Any]]] = {
    "charge": charge,
    "classes": classes,
    "pairs": class_tables.pairs,
}


def compiled(name: str) -> str:
    """Give the text of a compiled table."""
    return json.dumps(TABLES[name](parsed(name)), ensure_ascii=False, indent=0, separators=(",", ":")) + "\n"


if __name__ == "__main__":
    for table in TABLES:
        (COMPILED / f"{table}.json").write_text(compiled(table), encoding="utf-8")
