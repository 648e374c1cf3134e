"""From books to a plan: which table is what, what would be written, what is left, what has to be asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Final

from formula_vcs.model.values import dataclass, field
from formula_vcs.sheets.answers import (
    IMPORT_FILE,
    KINDS,
    Answers,
    ImportQuestion,
    SheetRemark,
    TableOutcome,
    data_of,
    import_text,
)
from formula_vcs.sheets.cell_values import mark_of, said
from formula_vcs.sheets.draft import Draft, PlannedFile
from formula_vcs.sheets.export_recipes import TO_BE_READ
from formula_vcs.sheets.find_tables import FoundTable, headlines, tables_of
from formula_vcs.sheets.grid import Book, Grid, column_name
from formula_vcs.sheets.header_words import BATCHES, fold
from formula_vcs.sheets.match_names import NameMatcher
from formula_vcs.sheets.table_job import TableJob
from formula_vcs.sheets.take_allergens import take_allergens
from formula_vcs.sheets.take_formulas import take_formulas
from formula_vcs.sheets.take_materials import take_materials
from formula_vcs.sheets.take_prices import take_prices
from formula_vcs.sheets.take_weighings import batch_of, weighings_csv
from formula_vcs.toml.facts_to_toml import CannotWrite
from formula_vcs.words.quoting import quoted
from formula_vcs.workspace.snapshot import Snapshot

KINDS_IN_ORDER: Final = ("materials", "prices", "allergens", "formulas", "weighings")
"""Materials come first, so that formulas find them."""


@dataclass(frozen=True)
class BatchWeighings:
    """BatchWeighings of one batch, as `batch record` takes them."""

    batch: str
    place: str
    table: bytes


@dataclass
class ImportPlan:
    """What an import would do; nothing is written yet."""

    outcomes: list[TableOutcome] = field(default_factory=list)
    changes: list[PlannedFile] = field(default_factory=list)
    weighings: list[BatchWeighings] = field(default_factory=list)
    left: list[SheetRemark] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def questions(self) -> list[ImportQuestion]:
        """Give what is to be asked, each once."""
        found: dict[str, ImportQuestion] = {}
        for outcome in self.outcomes:
            for question in outcome.questions:
                found.setdefault(question.key, question)
        return list(found.values())

    @property
    def unclear(self) -> int:
        """Count what cannot be read as one value."""
        return sum(len(outcome.unclear) for outcome in self.outcomes)


def plan_import(books: Sequence[Book], snapshot: Snapshot, answers: Answers) -> ImportPlan:
    """ImportPlan what the books would change in a workspace.

    :raises CannotWrite: a file on file cannot be changed without touching something else.
    """
    plan = ImportPlan()
    draft = Draft(snapshot)
    matcher = NameMatcher(draft, answers.names)
    jobs: list[TableJob] = []
    for book in books:
        plan.notes += [f"{book.name} {note}" for note in book.notes]
        for grid in book:
            jobs += [
                TableJob(book.name, table, draft, matcher, answers, outcome)
                for table, outcome in _tables(book, grid, answers, plan)
            ]
    for job in sorted(jobs, key=lambda job: KINDS_IN_ORDER.index(job.out.kind)):
        _take(job, plan)
    plan.changes = draft.changes()
    remembered = _remembered(snapshot, answers, plan)
    if remembered is not None:
        plan.changes.append(remembered)
    return plan


def _tables(book: Book, grid: Grid, answers: Answers, plan: ImportPlan) -> Iterator[tuple[FoundTable, TableOutcome]]:
    if answers.sheets and grid.name not in answers.sheets:
        return
    if not grid.rows:
        return
    if grid.hidden and grid.name not in answers.sheets:
        plan.left.append(SheetRemark(f"{book.name}: {grid.name}", "is a hidden sheet; --sheet with its name takes it"))
        return
    if grid.hidden_columns:
        names = ", ".join(column_name(column) for column in sorted(grid.hidden_columns)[:10])
        plan.left.append(SheetRemark(f"{book.name}: {grid.name}", f"hidden columns are left: {names}"))
    tables = tables_of(grid)
    if not tables:
        plan.left.append(
            SheetRemark(
                f"{book.name}: {grid.name}", "no table was found: a row of heads is wanted, like 'Raw material' and '%'"
            )
        )
    covered: set[int] = set()
    for table in tables:
        if any(fold(column.head) in TO_BE_READ for column in table.columns):
            words = "is an overview that was exported to be read, and says nothing to import"
            plan.left.append(SheetRemark(f"{book.name}: {grid.name}", words))
            continue
        given = answers.columns(table.heads)
        table = table.renamed(given) if given else table  # noqa: PLW2901 - what a person said about its columns
        outcome = TableOutcome(f"{book.name}: {grid.name}!{table.head_row}", "", table.heads)
        outcome.asked.update(f"column.{role}" for role in given.values())
        outcome.kind = _kind(table, answers, outcome)
        plan.outcomes.append(outcome)
        covered.update(line.row for line in table.lines)
        for column in table.columns:
            outcome.mapping.append((column.head, _meaning(column.role, column.unit)))
        for cell in table.below:
            if cell.row not in covered and not any(cell in other.above for other in tables if other is not table):
                outcome.leave(table.at(cell), f"{quoted(cell.text)}: stands below the table")
        if outcome.kind:
            yield table, outcome


def _meaning(role: str, unit: str) -> str:
    return f"{role.replace('_', ' ') or 'not known, left'}{f', {unit}' if unit and role else ''}"


def _kind(table: FoundTable, answers: Answers, outcome: TableOutcome) -> str:
    """Say what a table is, by its columns and numbers; asks where two readings fit."""
    told = answers.of(table.heads, "kind")
    if told in KINDS:
        outcome.asked.add("kind")
        return told
    for kind, fits in _SIGNS:
        if fits(table):
            return kind
    return _by_sum(table, outcome) if table.roles & {"pct", "amount"} else ""


def _weighed(table: FoundTable) -> bool:
    about_batch = table.roles & {"target", "lot"} or headlines(table).find(BATCHES)
    return "weighed" in table.roles and bool(about_batch)


def _of_allergens(table: FoundTable) -> bool:
    """Say whether names and contents are an allergen statement: its words above say it, or ppm."""
    named = any("allerg" in fold(cell.text) or "alerg" in fold(cell.text) for cell in table.above)
    said_so = named or "allerg" in fold(table.grid.name)
    contents = (
        table.roles & {"pct", "amount"} and table.roles & {"inci", "name"} and not table.roles & {"phase", "recipe"}
    )
    return bool(contents) and (said_so or table.unit("pct") in ("ppm", "mg/kg"))


def _only_prices(table: FoundTable) -> bool:
    others = {"pct", "phase", "inci", "inci_pct", "cas", "density", "recipe", "natural_origin"}
    return "price" in table.roles and not table.roles & others


def _of_materials(table: FoundTable) -> bool:
    roles = table.roles
    if roles & {"inci_pct", "natural", "natural_origin", "organic", "organic_origin", "density"}:
        return True
    if roles & {"pct", "amount"}:
        return False
    return bool(roles & {"price", "cas", "supplier", "code", "function"}) or all(c.role for c in table.columns)


# The first that fits: what only such a table has comes first.
_SIGNS: Final[tuple[tuple[str, Callable[[FoundTable], bool]], ...]] = (
    ("weighings", _weighed),
    ("allergens", lambda table: "allergen" in table.roles or _of_allergens(table)),
    ("prices", _only_prices),
    ("formulas", lambda t: bool(t.roles & {"phase", "recipe"}) and bool(t.roles & {"pct", "amount"})),
    ("materials", _of_materials),
    ("formulas", lambda t: not t.roles & {"pct", "amount"}),
)


def _by_sum(table: FoundTable, outcome: TableOutcome) -> str:
    """Tell a formula from a list of compositions by what adds up to 100: the whole column, or each material."""
    role = "pct" if "pct" in table.roles else "amount"
    mark = mark_of(table.cells(role))
    rows = [line for line in table.lines if not line.total]
    values = [said(line.cell(role), mark) for line in rows]
    if any(value.kind in ("balance", "open") for value in values) or (
        "price" not in table.roles and "cas" not in table.roles
    ):
        return "formulas"
    numbers = [value.number for value in values if value.kind == "number"]
    if abs(sum(numbers, Decimal(0)) - 100) <= 2 or abs(sum(numbers, Decimal(0)) - 1) <= Decimal("0.02"):
        return "formulas"
    groups: dict[str, Decimal] = {}
    name = ""
    for line, value in zip(rows, values, strict=True):
        name = line.text("name") or line.text("code") or name
        groups[name] = groups.get(name, Decimal(0)) + value.number
    if groups and all(total == 100 for total in groups.values()):
        return "materials"
    outcome.asked.add("kind")
    words = f"is this a formula or a list of raw materials? Its amounts add up to {sum(numbers, Decimal(0)):f}"
    outcome.ask(
        ImportQuestion("kind", words, "--as formulas or --as materials", ("formulas", "materials"), outcome.place)
    )
    return ""


_TAKERS: Final[Mapping[str, Callable[[TableJob], None]]] = {
    "formulas": take_formulas,
    "materials": take_materials,
    "prices": take_prices,
    "allergens": take_allergens,
}


def _take(job: TableJob, plan: ImportPlan) -> None:
    taker = _TAKERS.get(job.out.kind)
    if taker is not None:
        taker(job)
        return
    batch = batch_of(job)
    found = weighings_csv(job)
    if not batch:
        job.ask("batch", "which batch was weighed?", "--batch ID", place=job.out.place)
    elif found:
        plan.weighings.append(BatchWeighings(batch, job.out.place, found))


def _remembered(snapshot: Snapshot, answers: Answers, plan: ImportPlan) -> PlannedFile | None:
    """Give ``import.toml`` with what was said in this run, where that is new."""
    from formula_vcs.toml import syntax
    from formula_vcs.workspace.snapshot import Refused

    used: dict[str, frozenset[str]] = {}
    for outcome in plan.outcomes:
        keys = frozenset(outcome.asked) | {question.key for question in outcome.questions}
        used[outcome.heads] = used.get(outcome.heads, frozenset()) | keys
    raw = snapshot.source.read(IMPORT_FILE)
    parsed = None if isinstance(raw, Refused) else syntax.parse(raw)
    if parsed is not None and parsed.errors:
        raise CannotWrite(f"{IMPORT_FILE}:{parsed.errors[0].line}: {parsed.errors[0].message}")
    data = data_of(answers, used)
    old = None if parsed is None else parsed.text
    if not data or (parsed is not None and parsed.data == data):
        return None
    text = import_text(old, {**(parsed.data if parsed is not None else {}), **data})
    return PlannedFile(IMPORT_FILE, old, text)


def overlay(plan: ImportPlan) -> Mapping[str, bytes]:
    """Give the files of a plan as bytes by path."""
    return {change.path: change.new.encode() for change in plan.changes}
