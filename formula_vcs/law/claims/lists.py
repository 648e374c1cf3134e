"""The lists of a standard: what is in a recipe that they forbid, and what they do not know."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fnmatch import fnmatchcase

from formula_vcs.law.claims.part import ClaimCondition
from formula_vcs.law.compliance import Compliance
from formula_vcs.law.packs_in_force import law_of
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.law_row import LawRow


def rows(pack: str) -> list[LawRow]:
    """Give the rows of a list pack."""
    return list(law_of((), (pack,)).all_rows())


def forbidden(found: Compliance, pack: str) -> Iterator[ClaimCondition]:
    """Fail for every substance that the lists forbid, one condition a row."""
    for row in rows(pack):
        if row.kind != "prohibited":
            continue
        names = [held.spelled for key, held in found.totals.items() if held.pct > 0 and _on(row, key)]
        if names:
            yield ClaimCondition(False, f"{', '.join(names)}: not allowed by {row.source}")


def _on(row: LawRow, key: str) -> bool:
    return key in row.names or any(fnmatchcase(key, pattern) for pattern in row.like)


def allowed(pack: str, *ids: str) -> dict[str, LawRow]:
    """Give the names that positive lists of a pack hold, each with its row."""
    return {key: row for row in rows(pack) if row.id in ids for key in row.names}


def materials(found: Compliance, wanted: Callable[[Ingredient], bool]) -> Iterator[tuple[str, Ingredient]]:
    """Give the raw materials of a recipe that are of a kind."""
    for name, share in found.sums.leaves.items():
        material = found.formula.ingredients.get(name)
        if material is not None and share and wanted(material):
            yield name, material
