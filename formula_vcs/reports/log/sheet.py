"""The versions of a recipe over time, with figures, laid out once for every format."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs import __version__
from formula_vcs.diff.change import Change
from formula_vcs.diff.change_words import ARROW
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Figure
from formula_vcs.figures.figure_table import figures
from formula_vcs.history.blame import TrailStop
from formula_vcs.history.crossing import Crossing, TermsAt, Threshold
from formula_vcs.history.version_of_recipe import UNDER, Version
from formula_vcs.model.approval import RoleStanding
from formula_vcs.model.facts import Path
from formula_vcs.model.values import dataclass, field
from formula_vcs.reports import figure_words
from formula_vcs.reports.short_words import brief
from formula_vcs.words.late_pattern import late_pattern

SHARE: Final = "share"  # the column of a charge that was asked for
DEFAULTS: Final = ("cost_per_kg", "natural_origin")
BEGINS: Final = {
    "added": "the recipe begins",
    "cut": "older versions are not in this clone",
    "removed": "the recipe is removed",
    "unread": "the file does not parse",
    "merged": "a merge puts both sides together",
}
AGAIN: Final = "the recipe is back"
ONLY_UNDER: Final = "only a file moved that the recipe rests on"


@dataclass(frozen=True, slots=True)
class LogRow:
    """One version: its changes (those asked for), what the recipe then was, its figures by name, who approved it."""

    version: Version
    changes: tuple[Change, ...]
    figures: Mapping[str, Figure]
    approvals: tuple[RoleStanding, ...] = ()

    @property
    def approved(self) -> str:
        """Say which roles approved the version, and who for them; empty where none did."""
        who = ", ".join(f"{one.role} ({one.who}{', on condition' if one.condition else ''})" for one in self.approvals)
        return f"approved by {who}" if who else ""

    @property
    def under(self) -> bool:
        """Say whether only something that the recipe rests on moved."""
        return bool(self.changes) and all(c.where.startswith(UNDER) for c in self.changes if not c.derived)

    @property
    def words(self) -> list[str]:
        """Say in full what changed, one sentence a change; what only follows last."""
        texts = [change.text for change in self.changes]
        status = self.version.status
        texts += [self.approved] if self.approved else []
        if status == "added" and self.version.parents:
            return [AGAIN, *texts]
        return [BEGINS[status], *texts] if status in BEGINS else texts


@dataclass(frozen=True, slots=True)
class When:
    """The question when a figure crossed a line, and its answer; ``now`` is the figure at the end."""

    line: Threshold
    crossings: tuple[Crossing, ...]
    now: Figure | None

    @property
    def began(self) -> Crossing | None:
        """Give the version that began past the line, where the oldest one did."""
        return next((crossing for crossing in self.crossings if crossing.before is None), None)

    @property
    def first(self) -> Crossing | None:
        """Give the first version that crossed the line."""
        return next((one for one in self.crossings if not one.back and one.before is not None), None)


@dataclass(frozen=True, slots=True)
class LogSheet:
    """The versions of one recipe, oldest first.

    ``names`` are the figures shown; ``charge`` is the one that was asked for.  ``left_out`` counts older versions that
    -n or --since leave out.  ``as_of`` is the one day of all prices, None where each commit has its own.  ``marks`` are
    the values that claims of the last version ask of its figures, each with the claim in words.
    """

    recipe: str
    title: str
    revision: str
    commit: str
    rows: tuple[LogRow, ...]
    names: tuple[str, ...]
    charge: str | None
    as_of: str | None
    cut: bool
    first_parent: bool
    left_out: int = 0
    when: When | None = None
    marks: Mapping[str, tuple[Fraction, str]] = field(default_factory=dict)


def row(  # noqa: PLR0917 - what a row shows
    version: Version,
    stop: TrailStop,
    names: Sequence[str],
    terms: TermsAt,
    charge: str | None,
    approvals: tuple[RoleStanding, ...] = (),
) -> LogRow:
    """Work out the figures of one version."""
    found: dict[str, Figure] = {}
    if version.there and version.formula is not None:
        sums = Breakdown(version.formula)  # not kept with the formula: there may be thousands of versions
        if charge is not None:
            found[SHARE] = _share(sums, stop.paths, charge)
        found.update(figures(sums, terms(version), names))
    return LogRow(version, stop.changes, found, approvals)


def _share(sums: Breakdown, paths: Collection[Path], charge: str) -> Figure:
    """Add up the shares of a charge under the names that it then had."""
    shares = [sums.composition.pct(one.key) for one in sums.formula.recipe.charges if one.path in paths]
    if any(share is None for share in shares):
        return Figure(SHARE, None, "%", (f"{charge}: the amount is not settled",))
    return Figure(SHARE, sum((share for share in shares if share is not None), Fraction(0)), "%")


def made(sheet: LogSheet) -> str:
    """Say of which commit and which days' prices it is, and by what it was made."""
    prices = f"prices of {sheet.as_of}" if sheet.as_of is not None else "prices of each version's day"
    return f"up to commit {sheet.commit[:10]}; {prices}; made by git-formula {__version__}"


def columns(sheet: LogSheet) -> tuple[str, ...]:
    """Name the columns of numbers."""
    return (SHARE, *sheet.names) if sheet.charge is not None else sheet.names


def called(sheet: LogSheet, name: str) -> str:
    """Give the words for a column."""
    return str(sheet.charge) if name == SHARE else figure_words.called(name)


def unit(sheet: LogSheet, name: str) -> str:
    """Give the unit of a column at the last version that has one; figures of other units say theirs."""
    units = [row.figures[name].unit for row in sheet.rows if name in row.figures and row.figures[name].unit]
    return units[-1] if units else ""


def shown(figure: Figure | None) -> str:
    """Write a figure as it is shown beside others of its kind."""
    if figure is None:
        return ""
    return "?" if figure.value is None else figure_words.alone(figure.name, figure.value)


def several(row: LogRow, room: int) -> str:
    """Say in short words what a version changed, and which roles approved it.

    As many changes as fit into some columns are told, and how many more there are.
    """
    roles = ", ".join(one.role for one in row.approvals)
    words = _changed(row, room - len(roles))
    return f"{words}; approved: {roles}" if roles else words


def _changed(row: LogRow, room: int) -> str:
    status = row.version.status
    if status == "added" and row.version.parents:
        return AGAIN
    if status in BEGINS or not row.changes:
        return BEGINS.get(status, row.version.commit.subject)
    real = [change for change in row.changes if not change.derived] or list(row.changes)
    words = [_brief(change, row.version.commit.day) for change in sorted(real, key=_weight)]
    shown = 1
    while shown < len(words):
        more = len(_MORE.format(99)) if shown + 1 < len(words) else 0
        if len("; ".join(words[: shown + 1])) + more > room:
            break
        shown += 1
    rest = _MORE.format(len(words) - shown) if len(words) > shown else ""
    return f"{'; '.join(words[:shown])}{rest}"


_MORE: Final = " +{} more"
_PRICE: Final = late_pattern(
    r"(?:\+|\u2192) (?P<cost>[^;]*?)(?: from [^;]*?)?(?: since (?P<since>\d{4}-\d\d-\d\d))?(?:;|$)"
)
_LONG: Final = 24  # letters of a value from which on it is left to the other formats
_ORDER: Final = (
    "added", "removed", "amount", "grade-swap", "moved", "split", "joined", "balance", "spec", "claim",
    "step-added", "step-removed", "step-moved", "step-changed",
)  # fmt: skip


def _weight(change: Change) -> int:
    return _ORDER.index(change.kind) if change.kind in _ORDER else len(_ORDER)


def _brief(change: Change, day: str) -> str:
    """Name a change with its two values, where they are short; ``day`` is that of the commit."""
    name, head = change.text.partition(" (")[0], brief(change)
    if change.kind == "price":
        return _price(change, day)
    if change.kind == "claim" or (change.where.count("/") == 1 and change.where.startswith("ingredient/")):
        return change.text
    if change.kind == "moved":
        return f"{change.text.partition(':')[0]} {change.old} {ARROW} {change.new}"
    if change.kind == "added":
        return f"+{name} {change.new or ''}".rstrip()
    if change.kind == "removed":
        return f"{figure_words.MINUS}{name} {change.old or ''}".rstrip()
    if change.old is None or change.new is None or max(len(change.old), len(change.new)) > _LONG:
        return head
    if change.kind == "grade-swap":
        return f"{change.old} {ARROW} {change.new}"
    return f"{name if change.kind == 'amount' else head} {change.old} {ARROW} {change.new}"


def _price(change: Change, day: str) -> str:
    """Name the first price that came, with the day from which on it holds where that is another one."""
    name = change.text.partition(",")[0]
    found = _PRICE.search(change.text)
    if found is None:
        return f"{name} price"
    since = f" since {found['since']}" if found["since"] not in (None, day) else ""
    return f"{name} price {found['cost']}{since}"
