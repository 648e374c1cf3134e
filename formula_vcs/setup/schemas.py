"""The schemas that ship, for editors: copies in a workspace, the line that names one, the catalogs that editors take.

A file names its schema by a path from itself (``#:schema ../.schemas/ingredient.json``), because that works without a
network and in every clone.  Made by `.ci/compile` (`toml/file_schema.py`).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from itertools import takewhile
from pathlib import Path
from typing import Final

from formula_vcs.workspace.snapshot import FOREIGN, kind_of

FOLDER: Final = Path(__file__).parents[1] / "toml" / "schemas"
IN_WORKSPACE: Final = ".schemas"
EDITOR_FILE: Final = ".taplo.toml"
IMPORT: Final = "import"
_LINE: Final = "#:schema "
# kind of file by the name that a person gives it
NAMES: Final[Mapping[str, str]] = {
    "recipe": "recipe",
    "ingredient": "ingredients",
    "packaging": "packaging",
    "equipment": "equipment",
    "lot": "lots",
    "batch": "batches",
    "evidence": "evidence",
    "rule": "rules",
    "trust": "approvals",
    "workspace": "workspace",
    IMPORT: IMPORT,
}
# kind of file: where it lies, as `toml/file_schema.py` has it, which is not loaded to read what it made
_FILES: Final[Mapping[str, str]] = {
    "workspace": "workspace.toml",
    "recipe": "*.toml",
    "approvals": "approvals/trust.toml",
    IMPORT: "import.toml",
    **{
        kind: f"{kind}/*.toml"
        for kind in ("ingredients", "packaging", "equipment", "lots", "batches", "evidence", "rules")
    },
}
# What the reader of import.toml takes; what it does not know there it leaves alone.
IMPORT_SCHEMA: Final = {
    "$schema": "http://json-schema.org/draft-07/schema#",
    "title": "import.toml: what `git formula import` was told",
    "type": "object",
    "properties": {
        "names": {
            "description": "a name on a sheet, and the ingredient that it means",
            "type": "object",
            "additionalProperties": {"description": "an ingredient's id", "type": "string"},
        },
        "table": {
            "description": "a kind of table, by its heads, and what was answered about it",
            "type": "array",
            "items": {
                "type": "object",
                "properties": {"heads": {"description": "the heads of the columns", "type": "string"}},
                "required": ["heads"],
            },
        },
    },
}


def schema_text(name: str) -> str:
    """Give a schema by the name that a person gives the kind of file."""
    return (FOLDER / f"{name}.json").read_text("utf-8")


def schema_line(path: str) -> str:
    """Give the line that names the schema of a file of the workspace."""
    up = "../" * path.count("/") or "./"
    kind = IMPORT if path == f"{IMPORT}.toml" else kind_of(path)
    name = next(name for name, known in NAMES.items() if known == kind)
    return f"#:schema {up}{IN_WORKSPACE}/{name}.json\n"


def named(path: str, text: str, root: Path) -> str:
    """Give a new file's text with the line that names its schema, where the workspace has it."""
    line = schema_line(path)
    if not (root / IN_WORKSPACE / line.rstrip().rpartition("/")[2]).is_file():
        return text
    head = list(takewhile(lambda one: one.startswith("#"), text.splitlines(keepends=True)))
    rest = text[sum(map(len, head)) :]
    # another file's text, which this one was begun from, may have named it from its own folder
    return "".join([line, *(one for one in head if not one.startswith(_LINE)), rest])


def workspace_files() -> dict[str, str]:
    """Give the files that editors want in a workspace, by their paths: the schemas, and what names them by file."""
    schemas = {f"{IN_WORKSPACE}/{name}.json": schema_text(name) for name in NAMES}
    return {**schemas, EDITOR_FILE: editor_text()}


def _globs(name: str) -> list[str]:
    return [_FILES[NAMES[name]]]


def editor_text() -> str:
    """Give the rules by which taplo, and the editors that use it, find the schema of a file."""
    rules = ["# Which schema a file has, for editors: made by `git formula schema --write`."]
    for name in _ordered():
        where = ", ".join(f'"{glob}", "**/{glob}"' for glob in _globs(name))
        rules += ["", "[[rule]]", f"include = [{where}]"]
        if name == "recipe":
            others = [glob for other in NAMES if other != "recipe" for glob in _globs(other)]
            others += [EDITOR_FILE, *sorted(FOREIGN - {f"{IMPORT}.toml"})]
            apart = ", ".join(
                f'"{glob}", "**/{glob}"' for glob in [*others, EDITOR_FILE, *sorted(FOREIGN - {f"{IMPORT}.toml"})]
            )
            rules.append(f"exclude = [{apart}]")
        rules.append(f'schema = {{ path = "{IN_WORKSPACE}/{name}.json" }}')
    return "\n".join(rules) + "\n"


def catalog_text(folder: Path = FOLDER) -> str:
    """Give a catalog as SchemaStore has it, with the addresses of the schemas on this disk."""
    entries = [
        {
            "name": f"git formula: {name}",
            "description": json.loads(schema_text(name))["title"],
            "fileMatch": [f"**/{glob}" for glob in _globs(name)],
            "url": (folder / f"{name}.json").resolve().as_uri(),
        }
        for name in _ordered()
    ]
    head = {"$schema": "https://json.schemastore.org/schema-catalog.json", "version": 1}
    return json.dumps({**head, "schemas": entries}, indent=2) + "\n"


def _ordered() -> list[str]:
    """Put recipes last: their pattern fits every file, and the first that fits counts."""
    return [*(name for name in NAMES if name != "recipe"), "recipe"]
