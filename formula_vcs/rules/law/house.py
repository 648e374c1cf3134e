"""A house pack adds and tightens."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.law.compliance import house_rows
from formula_vcs.law.limit_use import percent
from formula_vcs.law.packs_in_force import law_of, pack_names, shipped
from formula_vcs.model.finding import Finding
from formula_vcs.model.law_row import EVERYTHING, Row
from formula_vcs.model.workspace import Workspace
from formula_vcs.rules.rule import FORMAT, FileRule


class HouseRule(FileRule):
    """A row of the house does not loosen a row that ships.

    Why: a house pack may add rows of its own and repeat a shipped one, by its id, with a tighter limit.  A looser
    one has no effect, the shipped row stays in force, and this finding says so: whoever wants to go further accepts
    the finding of that row in the recipe, with a reason, under review.

    So:
        [[accept]]
        rule  = "limit"
        about = "eu-v-29"
        why   = "..."
    """

    id = "house-rule"
    source = FORMAT


def judge_house(workspace: Workspace) -> Iterator[Finding]:
    """Say every row of the house that would loosen a shipped one, or counts as something that nobody knows."""
    if not house_rows(workspace):
        return
    shipped_rows = {row.id: row for row in law_of((), pack_names()).all_rows()}
    bases = {basis for _, _, gives in shipped()["substances"].values() for basis in gives}
    for row in house_rows(workspace):
        if row.basis and row.basis not in bases:
            words = f"row '{row.id}': nothing counts as '{row.basis}'; known: {', '.join(sorted(bases))}"
            yield _say(row, words, "as")
        other = shipped_rows.get(row.id)
        if other is not None and _looser(row, other):
            words = (
                f"row '{row.id}' would loosen the shipped row of that name ({other.citation}"
                f"{', ' + percent(other.at_most) if other.at_most is not None and not other.per_pack else ''}), "
                "which stays in force; a recipe accepts a finding of it by [[accept]]"
            )
            yield _say(row, words, "")


def _say(row: Row, words: str, key: str) -> Finding:
    at = (*row.at, key) if key else row.at
    return Finding("house-rule", "block", words, row.file, at=at, source=FORMAT, subject=f"{row.id}/{key}")


def _looser(row: Row, other: Row) -> bool:
    """Say whether a row allows anything that another one of its id does not."""
    if row.kind != other.kind or row.per_pack != other.per_pack:
        return other.kind == "prohibited" or row.kind not in ("prohibited", other.kind)
    if row.at_most is not None and other.at_most is not None and row.at_most > other.at_most:
        return True
    return row.where not in {other.where, EVERYTHING} or row.unless not in {other.unless, EVERYTHING}
