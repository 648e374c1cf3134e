"""A house pack adds and tightens."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Final

from formula_vcs.law.annex_store import annex_row, entries_cited, entry_known
from formula_vcs.law.compliance import house_rows
from formula_vcs.law.duty_table import as_shipped, house_duties, house_kinds, table_of
from formula_vcs.law.limit_use import percent
from formula_vcs.law.packs_in_force import law_of, pack_names, shipped, unknown_product
from formula_vcs.model.evidence import KINDS
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.law_row import EVERYTHING, LawRow
from formula_vcs.model.workspace import Workspace
from formula_vcs.rules.rule import FORMAT, FileRule
from formula_vcs.toml.takers import nearest

# How ids of rows of the annexes begin: a house row that begins so is meant to repeat one.
ANNEXES_IDS: Final = ("eu-ii-", "eu-iii-", "eu-iv-", "eu-v-", "eu-vi-")


class HouseRule(FileRule):
    """A row of the house does not loosen a row that ships.

    Why: a house pack may add rows of its own and repeat a shipped one, by its id, with a tighter limit.  A looser
    one has no effect, the shipped row stays in force, and this finding says so: whoever wants to go further accepts
    the finding of that row in the recipe, with a reason, under review.  A row that repeats an id that nothing ships
    with, or cites an entry of the annexes that is not in force, is a slip and blocks too.

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
    cited = {entry for row in shipped_rows.values() for entry in entries_cited(row.citation)}
    bases = {basis for _, _, gives in shipped()["substances"].values() for basis in gives}
    for row in house_rows(workspace):
        if row.basis and row.basis not in bases:
            words = f"row '{row.id}': nothing counts as '{row.basis}'; known: {', '.join(sorted(bases))}"
            yield _say(row, words, "as")
        yield from _strays(row, shipped_rows, cited)
        yield from _unknown_products(row)
        other = shipped_rows.get(row.id) or annex_row(row.id)
        if other is not None and _looser(row, other):
            words = (
                f"row '{row.id}' would loosen the shipped row of that name ({other.citation}"
                f"{', ' + percent(other.at_most) if other.at_most is not None and not other.per_pack else ''}), "
                "which stays in force; a recipe accepts a finding of it by [[accept]]"
            )
            yield _say(row, words, "")


def judge_house_duties(workspace: Workspace) -> Iterator[Finding]:
    """Say what is wrong with the house's own rows of the table of duties, and with its kinds of evidence."""
    rows, own = house_duties(workspace), house_kinds(workspace)
    if not rows and not own:
        return
    known = table_of(workspace).kinds
    shipped_ids = {row.id for same in as_shipped().lines.values() for row in same}
    for path, kinds in rows.items():
        strange = next((kind for kind in kinds if kind not in known), None)
        if strange is not None:
            hint = nearest(strange, known) or f"; known: {', '.join(known)}"
            yield _of_duties(path, f"row '{path[3]}': '{strange}' is no kind of evidence{hint}")
        if path[3] in shipped_ids:
            yield _of_duties(path, f"a row that ships is called '{path[3]}'; give yours an id of its own, it only adds")
    named = {kind for kinds in rows.values() for kind in kinds}
    for path in own:
        kind = path[3]
        if kind in KINDS:
            yield _of_duties(path, f"'{kind}' is a kind of evidence that ships; rows may name it, its words stay")
        elif any(other[3] == kind for other in own[: own.index(path)]):
            yield _of_duties(path, f"another file of the house names the kind of evidence '{kind}' already")
        elif kind not in named:
            words = f"no row says which change outdates '{kind}', so its proofs cover whatever changes"
            yield _of_duties(path, words, "warn")


def _of_duties(path: Path, words: str, severity: Severity = "block") -> Finding:
    file, at = f"rules/{path[1]}.toml", path[2:]
    return Finding("house-rule", severity, words, file, at=at, source=FORMAT, subject="/".join(at))


def _strays(row: LawRow, shipped_rows: Collection[str], cited: set[tuple[str, str]]) -> Iterator[Finding]:
    """Say where a row is meant for something that there is not: a shipped row, or an entry of the annexes."""
    if row.id.startswith(ANNEXES_IDS) and row.id not in shipped_rows and annex_row(row.id) is None:
        hint = nearest(row.id, shipped_rows)
        yield _say(row, f"row '{row.id}': no row that ships has this id, so it tightens none{hint}", "id")
    for annex, entry in entries_cited(row.citation):
        if (annex, entry) not in cited and not entry_known(annex, entry):
            words = f"row '{row.id}' cites Annex {annex.upper()}/{entry}, and no such entry is in force"
            yield _say(row, words, "entry")


def _unknown_products(row: LawRow) -> Iterator[Finding]:
    """Say where a row asks for a product that there is not, as it would be about none and say nothing."""
    for name, scope in (("where", row.where), ("unless", row.unless)):
        strange = unknown_product(scope)
        if strange:
            yield _say(row, f"row '{row.id}': {strange}", name)


def _say(row: LawRow, words: str, key: str) -> Finding:
    at = (*row.at, key) if key else row.at
    return Finding("house-rule", "block", words, row.file, at=at, source=FORMAT, subject=f"{row.id}/{key}")


def _looser(row: LawRow, other: LawRow) -> bool:
    """Say whether a row allows anything that another one of its id does not."""
    if row.kind != other.kind or row.per_pack != other.per_pack:
        return other.kind == "prohibited" or row.kind not in ("prohibited", other.kind)
    if row.at_most is not None and other.at_most is not None and row.at_most > other.at_most:
        return True
    return row.where not in {other.where, EVERYTHING} or row.unless not in {other.unless, EVERYTHING}
