"""Which reader turns the data of a file into facts, by the kind of the file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from formula_vcs.model.facts import Facts
from formula_vcs.toml import (
    batch_file,
    ingredient_file,
    price_list,
    recipe_file,
    record_files,
    rules_file,
    workspace_file,
)

# The kinds are those of `snapshot.kind_of`: workspace, recipe, or the name of the folder.
READERS: Final[Mapping[str, Callable[[dict[str, Any]], Facts]]] = {
    "workspace": workspace_file.read_workspace,
    "recipe": recipe_file.read_recipe,
    "ingredients": ingredient_file.read_ingredient,
    "equipment": workspace_file.read_equipment,
    "packaging": price_list.read_packaging,
    "rules": rules_file.read_rules,
    "batches": batch_file.read_batch,
    "lots": record_files.read_lot,
    "evidence": record_files.read_evidence,
    "approvals": record_files.read_approvals,
}


def facts_of(kind: str, data: dict[str, Any]) -> Facts:
    """Read the data of a file of a kind; of a kind without a reader, one fact a top-level key."""
    return READERS.get(kind, workspace_file.read_record)(data)
