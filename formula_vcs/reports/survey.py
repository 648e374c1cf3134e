"""The survey: what was asked, what would break and why, the table of all recipes, and one scale for their limits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Annotated, Final, Literal, NamedTuple

from formula_vcs.model.values import dataclass
from formula_vcs.reports.document.blocks import (
    GAP,
    Block,
    Column,
    Document,
    Fold,
    Heading,
    Items,
    ListEntry,
    Paragraph,
    Picture,
    Report,
    Row,
    TableBlock,
    Verdict,
)
from formula_vcs.reports.document.data import Exact, Name, SchemaRule
from formula_vcs.reports.document.markup import Markup, element
from formula_vcs.reports.review_document import counted
from formula_vcs.survey.survey import RecipeState, SurveyCause, SurveyedRecipe, causes
from formula_vcs.words.numbers import exact_text, shown, signed

CAUTION: Final = "A passing check is arithmetic: the safety assessor, the responsible person and local law decide."
HOW_TO_READ: Final = (
    "Claims: points to the mark that is nearest. Limit: how much of the nearest limit is used, adjustments made."
)
_MOST_NAMED: Final = 12  # recipes behind one cause
_MOST_BARS: Final = 40
_STATES: Final = {"block": "blocks", "unread": "does not parse", "warn": "warns", "pass": "passes"}


class SurveyShown(NamedTuple):
    """What is shown: the recipes in their order, in groups, how many there are in all, what was asked, the columns."""

    groups: tuple[tuple[str, tuple[SurveyedRecipe, ...]], ...]
    all: int
    asked: tuple[str, ...]
    day: str
    label: bool
    deadline: bool

    @property
    def recipes(self) -> tuple[SurveyedRecipe, ...]:
        """Give all that are shown."""
        return tuple(one for _, group in self.groups for one in group)


def document(found: SurveyShown) -> Document:
    """Say what would break, by cause, then all recipes."""
    recipes = found.recipes
    blocks: list[Block] = [Heading("Survey of recipes"), Paragraph(_how_many(found), "dim")]
    if found.asked:
        blocks.append(Paragraph(f"what if: {'; '.join(found.asked)}"))
    blocks += [GAP, Verdict(tuple(_verdict(found)), _state(found)), GAP]
    blocks += _causes(causes(recipes), asked=bool(found.asked))
    blocks += _duties(recipes)
    for name, group in found.groups:
        if name:
            blocks += [Heading(name, level=2), GAP]
        blocks += [_table(group, found), GAP]
    limited = [one for one in recipes if one.state.limit is not None]
    if limited:
        blocks.append(_bars(sorted(limited, key=lambda one: -one.state.limit.used if one.state.limit else 0)))
    blocks += [GAP, Paragraph(HOW_TO_READ, "dim"), Paragraph(CAUTION)]
    return Document("Survey of recipes", tuple(blocks))


def _how_many(found: SurveyShown) -> str:
    many = counted(len(found.recipes), "recipe")
    return f"{many} on {found.day}" + ("" if len(found.recipes) == found.all else f", of {found.all}")


def _state(found: SurveyShown) -> Literal["good", "warn", "bad"]:
    if any(one.breaks for one in found.recipes) or (not found.asked and any(one.now.blocks for one in found.recipes)):
        return "bad"
    return "warn" if any(one.broken for one in found.recipes) else "good"


def _verdict(found: SurveyShown) -> Iterator[Block]:
    recipes = found.recipes
    if not found.asked:
        tally = [(sum(one.now.status == key for one in recipes), words) for key, words in _STATES.items()]
        yield Paragraph(", ".join(f"{count} {words}" for count, words in tally if count) or "no recipe")
        return
    broken = [one for one in recipes if one.breaks]
    warned = [one for one in recipes if one.broken and not one.breaks]
    if broken or warned:
        yield Paragraph(
            f"{counted(len(broken), 'recipe')} would break; {counted(len(warned), 'recipe')} would newly warn"
        )
    else:
        yield Paragraph("no recipe would break")
    mended = sum(bool(one.mended) and not one.broken for one in recipes)
    if mended:
        yield Paragraph(f"{counted(mended, 'recipe')} would lose a finding")
    yield from _costs(recipes)


def _costs(recipes: Sequence[SurveyedRecipe]) -> Iterator[Block]:
    moved = [(rise, one) for one in recipes if one.then is not None and (rise := one.dearer)]
    up, down = [pair for pair in moved if pair[0] > 0], [pair for pair in moved if pair[0] < 0]
    for pairs, verb in ((up, "dearer"), (down, "cheaper")):
        if pairs:
            rise, most = max(pairs, key=lambda pair: (abs(pair[0]), pair[1].id))
            each = f"{signed(rise, 2, 4)} {most.state.currency}/kg"
            yield Paragraph(f"{counted(len(pairs), 'recipe')} {verb}; most: {most.id}, {each}{_relative(most)}")
    unknown = sum(one.then is not None and one.dearer is None for one in recipes)
    if unknown:
        yield Paragraph(f"{counted(unknown, 'recipe')} with a cost that is not known")


def _relative(one: SurveyedRecipe) -> str:
    if not one.now.cost or one.dearer is None:
        return ""
    return f" ({signed(one.dearer / one.now.cost * 100, 1, 1)} %)"


def _causes(found: Sequence[SurveyCause], *, asked: bool) -> Iterator[Block]:
    if not found:
        return
    yield Heading("What would break, by cause" if asked else "What is wrong, by cause", level=2)
    yield Items(tuple(_cause(one) for one in found), mark="- ")
    yield GAP


def _cause(one: SurveyCause) -> ListEntry:
    names = ", ".join(one.recipes[:_MOST_NAMED])
    more = len(one.recipes) - _MOST_NAMED
    named = f"{counted(len(one.recipes), 'recipe')}: {names}{f' and {more} more' if more > 0 else ''}"
    words = f"{one.finding.severity} [{one.finding.rule}] {one.finding.message}"
    return ListEntry(words, (Paragraph(named, indent=4),))


def _duties(recipes: Sequence[SurveyedRecipe]) -> Iterator[Block]:
    having = [one for one in recipes if one.duties]
    if having:
        yield Heading("What would have to follow", level=2)
        rows = tuple(Row((one.id, duty.duty, duty.owner, duty.touches)) for one in having for duty in one.duties)
        heads = (Column("recipe", most=20), Column("duty", most=26), Column("owner", most=18), Column("report"))
        yield TableBlock(heads, rows, "Work that would follow", heads=True, wrap=True)
        yield GAP


def _table(group: Sequence[SurveyedRecipe], found: SurveyShown) -> TableBlock:
    columns = [Column("recipe", most=20), Column("status"), Column("cost per kg", "point")]
    if found.asked:
        columns.append(Column("change", "point"))
    columns += [Column("claims"), Column("limit", "point")]
    rows = tuple(Row(_cells(one, found), tuple(_below(one, found))) for one in group)
    return TableBlock(
        tuple(columns), rows, "Recipes in their order", empty="no recipe", heads=True, below="what else is known"
    )


def _below(one: SurveyedRecipe, found: SurveyShown) -> Iterator[Paragraph]:
    state = one.state
    if one.then is not None and one.now.status != state.status:
        yield Paragraph(f"as it is now, it {_STATES[one.now.status]}", indent=4, hang=2)
    if one.refused:
        yield Paragraph(f"cannot be changed so: {one.refused}", indent=4, hang=2)
    if state.lacking:
        yield Paragraph(f"cost not known: {'; '.join(state.lacking[:3])}", indent=4, hang=2)
    worth = Counter(worth for _, worth in one.evidence)
    if worth:
        yield Paragraph(f"evidence: {', '.join(f'{count} {said}' for said, count in worth.items())}", indent=4, hang=2)
    if state.deadline is not None:
        yield Paragraph(
            f"from {state.deadline.day}: [{state.deadline.finding.rule}] {state.deadline.finding.message}",
            indent=4,
            hang=2,
        )
    if found.label and state.label:
        yield Paragraph(f"label: {state.label}", indent=4, hang=2)


def _cells(one: SurveyedRecipe, found: SurveyShown) -> tuple[str, ...]:
    state = one.state
    cells = [
        one.id,
        _status(state),
        "not known" if state.cost is None else f"{shown(state.cost, 2, 4)} {state.currency}",
    ]
    if found.asked:
        rise = one.dearer
        cells.append("" if not rise else f"{signed(rise, 2, 4)}{_relative(one)}")
    return (*cells, _claims(state), "" if state.limit is None else f"{shown(state.limit.used * 100, 1, 1)} %")


def _status(state: RecipeState) -> str:
    numbers = [f"{count} {word}" for count, word in ((state.blocks, "block"), (state.warns, "warn")) if count]
    return ", ".join(numbers) or _STATES[state.status]


def _claims(state: RecipeState) -> str:
    """Say how far the claim is away that is nearest to fail, or how many fail or are not known."""
    if not state.claims:
        return ""
    for verdict, words in (("fails", "fail"), ("needs information", "not known")):
        count = sum(one.verdict == verdict for one in state.claims)
        if count:
            return f"{count} {words}"
    margins = [one.margin for one in state.claims if one.margin is not None]
    return signed(min(margins), 2, 2) if margins else "hold"


def _limit(state: RecipeState) -> str:
    limit = state.limit
    return "" if limit is None else f"{shown(limit.used * 100, 1, 1)} % {limit.what}"


def _bars(limited: Sequence[SurveyedRecipe]) -> Fold:
    """Draw how much of its nearest limit each recipe uses, all on one scale."""
    drawn = limited[:_MOST_BARS]
    rows = tuple(
        Row((one.id, _limit(one.state), one.state.limit.citation if one.state.limit is not None else ""))
        for one in drawn
    )
    heads = (Column("recipe", most=20), Column("used", most=26), Column("limit"))
    table = TableBlock(heads, rows, "How much of its nearest limit each recipe uses", heads=True, wrap=True)
    left = len(limited) - len(drawn)
    more = (Paragraph(f"and {counted(left, 'recipe')} more, nearer to none"),) if left else ()
    return Fold(
        "How much of its nearest limit each recipe uses, on one scale", (Picture(_picture(drawn), (table,)), *more)
    )


def _picture(drawn: Sequence[SurveyedRecipe]) -> Markup:
    used = [one.state.limit.used if one.state.limit is not None else Fraction(0) for one in drawn]
    widest = max([*used, Fraction(1)])
    across = 440 / widest
    parts: list[str] = []
    for place, (one, share) in enumerate(zip(drawn, used, strict=True)):
        top = 14 * place
        words = element("text", one.id[:26], x=190, y=top + 10, text_anchor="end", fill="currentColor", font_size="9")
        color = "var(--bad)" if share > 1 else "var(--accent)"
        bar = element("rect", x=196, y=top + 2, width=f"{float(across * share):.1f}", height=9, fill=color)
        parts += [words, bar]
    height = 14 * len(drawn) + 4
    at = f"{196 + float(across):.1f}"
    parts.append(element("line", x1=at, x2=at, y1=0, y2=height, stroke="currentColor", stroke_dasharray="3 2"))
    label = "How much of its nearest limit each recipe uses; the dashed line is the whole limit"
    return element("svg", *parts, role="img", aria_label=label, viewBox=f"0 0 660 {height}", width="100%")


@dataclass(frozen=True, slots=True)
class ClaimState:
    """A claim, and by how many points it holds (below 0: fails); null where it has no number or is not known."""

    claim: Name
    verdict: Annotated[str, SchemaRule(one_of=("holds", "fails", "needs information"))]
    margin: Exact | None


@dataclass(frozen=True, slots=True)
class LimitState:
    """The limit of which most is used: 1 is all of it."""

    what: Name
    used: Exact
    citation: str


@dataclass(frozen=True, slots=True)
class StateRecord:
    """A recipe on a day."""

    status: Annotated[str, SchemaRule(one_of=tuple(_STATES))]
    blocks: int
    warns: int
    cost_per_kg: Exact | None
    currency: str
    missing: tuple[str, ...]
    claims: tuple[ClaimState, ...]
    limit: LimitState | None
    label: str
    deadline: Annotated[str | None, SchemaRule("The day from which the law will not allow it; looked for when asked")]


@dataclass(frozen=True, slots=True)
class RecipeRecord:
    """A recipe as it is, as it would be, and what that breaks."""

    recipe: Name
    title: str
    product: str
    file: str
    markets: tuple[str, ...]
    now: StateRecord
    then: StateRecord | None
    breaks: bool
    refused: str
    broken: Annotated[tuple[str, ...], SchemaRule("What it would have and has not, each as severity [rule] words")]
    mended: tuple[str, ...]
    evidence: Annotated[tuple[str, ...], SchemaRule("What is proved, and what the proof is worth")]
    duties: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CauseRecord:
    """One cause, and the recipes behind it."""

    rule: str
    severity: Annotated[str, SchemaRule(one_of=("block", "warn"))]
    message: str
    recipes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SurveyRecord:
    """Every recipe of a workspace, and what would become of it."""

    day: str
    what_if: tuple[str, ...]
    all: int
    recipes: tuple[RecipeRecord, ...]
    causes: tuple[CauseRecord, ...]


def record(found: SurveyShown) -> SurveyRecord:
    """Give the survey as data."""
    return SurveyRecord(
        found.day, found.asked, found.all, tuple(map(_recipe, found.recipes)),
        tuple(
            CauseRecord(one.finding.rule, one.finding.severity, one.finding.message, one.recipes)
            for one in causes(found.recipes)
        ),
    )  # fmt: skip


def _recipe(one: SurveyedRecipe) -> RecipeRecord:
    said = [tuple(f"{f.severity} [{f.rule}] {f.message}" for f in found) for found in (one.broken, one.mended)]
    return RecipeRecord(
        one.id, one.title, one.product, one.file, one.markets, _state_record(one.now),
        None if one.then is None else _state_record(one.then), one.breaks, one.refused, said[0], said[1],
        tuple(f"{what}: {worth}" for what, worth in one.evidence),
        tuple(f"{duty.duty} ({duty.owner}): {duty.touches}" for duty in one.duties),
    )  # fmt: skip


def _state_record(state: RecipeState) -> StateRecord:
    limit = state.limit
    return StateRecord(
        state.status, state.blocks, state.warns, None if state.cost is None else exact_text(state.cost), state.currency,
        state.lacking,
        tuple(
            ClaimState(one.claim, one.verdict, None if one.margin is None else exact_text(one.margin))
            for one in state.claims
        ),
        None if limit is None else LimitState(limit.what, exact_text(limit.used), limit.citation), state.label,
        None if state.deadline is None else state.deadline.day.isoformat(),
    )  # fmt: skip


REPORT: Final = Report("survey", "survey", document, record)
