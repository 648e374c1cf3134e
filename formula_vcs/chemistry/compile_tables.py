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
from formula_vcs.chemistry.class_tables import needed_text
from formula_vcs.chemistry.tables import COMPILED
from formula_vcs.model.ingredient import inci_key

DATA: Final = Path(__file__).with_name("data")


def parsed(name: str) -> dict[str, Any]:
    """Read one file of `data/`."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def charge(data: Mapping[str, Any]) -> dict[str, Any]:
    """Give {"names": {INCI: [charge, kind]}, "rules": [[pattern, needed, charge, kind]], "salts": {INCI: [g/mol ...]}}.

    One of the texts in ``needed`` is in each name that the pattern fits; none where nothing can be said.
    """
    return {
        "names": {inci_key(name): [row["charge"], row["kind"]] for row in data["class"] for name in row["names"]},
        "rules": [[rule["name"], needed_text(rule["name"]), rule["charge"], rule["kind"]] for rule in data["rule"]],
        "salts": {inci_key(name): salt for name, salt in data["salts"].items()},
    }


def classes(data: Mapping[str, Any]) -> dict[str, Any]:
    """Give the classes of each INCI name and CAS number, those of its charge among them."""
    return class_tables.classes(data, parsed("charge"))


def acids(data: Mapping[str, Any]) -> dict[str, Any]:
    """Give {"acids": {id: row}, "forms": {INCI: [[id, g/mol, base, units, ion]]}, "hydrates", "says", "strong"}.

    A row has its source, how far its pKa may be off, and the forms as they were written.
    """
    rows: dict[str, Any] = {}
    forms: dict[str, list[list[Any]]] = {}
    hydrates: dict[str, dict[str, float]] = {}
    says: dict[str, str] = {}
    for name, row in data["acid"].items():
        known = data["sources"].get(row["source"].removeprefix("@"), {})
        verified = row.get("verified") or known.get("verified", "seen")
        off = row.get("off") or known.get("off") or (0.03 if verified == "seen" else 0.2)
        kept = {key: value for key, value in row.items() if key != "forms"}
        rows[name] = {"charge": 0, **kept, "source": known.get("text", row["source"]), "verified": verified, "off": off}
        for inci, form in row["forms"].items():
            at = form if isinstance(form, dict) else {"mass": form[0], "base": form[1]}
            forms.setdefault(inci_key(inci), []).append(
                [name, at["mass"], at["base"], at.get("of", 1), at.get("ion", 1)]
            )
            if "cas" in at:
                hydrates[inci_key(inci)] = at["cas"]
            if "says" in at:
                says[inci_key(inci)] = at["says"]
    strong = {inci_key(name): value for name, value in data["strong"].items()}
    return {"acids": rows, "forms": forms, "hydrates": hydrates, "says": says, "strong": strong}


def neutral(data: Mapping[str, Any]) -> dict[str, Any]:
    """Give the kinds as they stand, and where each name, pattern and function finds its own.

    A pattern is [pattern, needed, but, place], as in `charge`.
    """
    kinds: list[dict[str, Any]] = []
    names: dict[str, int] = {}
    patterns: list[list[Any]] = []
    functions: dict[str, list[Any]] = {}
    for place, row in enumerate(data["kind"]):
        kinds.append({key: value for key, value in row.items() if key not in ("names", "patterns", "functions", "but")})
        but = "|".join(row.get("but", ()))
        for name in row.get("names", ()):
            names.setdefault(inci_key(name), place)
        patterns += [[pattern, needed_text(pattern), but, place] for pattern in row.get("patterns", ())]
        functions |= {name: [but, place] for name in row.get("functions", ())}
    return {"kinds": kinds, "names": names, "patterns": patterns, "functions": functions}


def preservatives(data: Mapping[str, Any]) -> dict[str, Any]:
    """Give {"rows": [row], "names": {INCI: place}, "weakened": [row]}."""
    plain = {
        "cover": None,
        "source": "common practice, no source",
        "verified": "from memory",
        "booster": False,
        "needs": "",
    }
    rows = [plain | {key: value for key, value in row.items() if key != "names"} for row in data["preservative"]]
    names = {inci_key(name): place for place, row in enumerate(data["preservative"]) for name in row["names"]}
    weak = {"by": [], "names": [], "oil": False, "above": 0, "times": 0, "source": plain["source"]}
    weakened = [weak | row | {"names": [inci_key(name) for name in row.get("names", ())]} for row in data["weakened"]]
    return {"rows": rows, "names": names, "weakened": weakened}


TABLES: Final[dict[str, Callable[[Mapping[str, Any]], Any]]] = {
    "acids": acids,
    "charge": charge,
    "classes": classes,
    "neutral": neutral,
    "pairs": class_tables.pairs,
    "preservatives": preservatives,
    "roles": lambda data: {"rows": data["role"]},
}


def compiled(name: str) -> str:
    """Give the text of a compiled table."""
    return json.dumps(TABLES[name](parsed(name)), ensure_ascii=False, indent=0, separators=(",", ":")) + "\n"


if __name__ == "__main__":
    for table in TABLES:
        (COMPILED / f"{table}.json").write_text(compiled(table), encoding="utf-8")
