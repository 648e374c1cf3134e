"""A comparison laid out for people, whatever the format: rows of words and of rounded numbers, nothing escaped yet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.diff import shapley
from formula_vcs.diff.change import Change
from formula_vcs.diff.effects import Effect
from formula_vcs.diff.exposures import told_once
from formula_vcs.figures.figure import Figure
from formula_vcs.figures.missing import by_ingredient
from formula_vcs.model.finding import SEVERITIES, Finding
from formula_vcs.model.values import dataclass, replace
from formula_vcs.reports import figure_words, short_words
from formula_vcs.review.compare import Comparison, Review
from formula_vcs.review.grade_swaps import Swap
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.numbers import rounded

ARROW: Final = "\u2192"
brief: Final = short_words.brief
counted: Final = short_words.counted
MANY: Final = 4  # files of one folder that are listed one by one
CAUTION: Final = (
    "A review is arithmetic: the safety assessor, the responsible person, the certifier and local law decide."
)
# how shares were got where they are not the mean over all orders, or why there are none
EVENED: Final = {
    shapley.MANY: "more changes than can be tried in every order: the smaller ones share what they bring together",
    shapley.TOGETHER: "changes that count only together share evenly",
    shapley.UNTRIED: "how much each change brought is not worked out: there are too many changes, or too many lines",
    "": "how much each change brought is not known: a figure in between lacks data",
}
NOT_SOUGHT: Final = "(which change is not known: more would have to be tried than is done for one recipe)"
_SIGNS: Final = {
    "added": "+", "removed": "\u2212", "step-added": "+", "step-removed": "\u2212",
    "moved": "\u00bb", "step-moved": "\u00bb", "grade-swap": "\u21c4",
}  # fmt: skip
_STYLES: Final = {"+": "more", "\u2191": "more", "\u2212": "less", "\u2193": "less"}
# as changes/words.py writes an amount or a shift; what does not fit is shown as it was said
_NUMBERS: Final = late_pattern(
    r"(?P<name>.+): (?P<old>[\d.]+) \u2192 (?P<new>[\d.]+) (?P<unit>%|parts), "
    r"(?P<by>\S+) (?P<points>points|parts)(?: \((?P<relative>\S+) % of it\))?"
)


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One change, by its id.  Where it is one of a number, its parts stand apart to be aligned.

    ``follows`` marks derived ones.
    """

    sign: str
    text: str
    name: str = ""
    old: str = ""
    new: str = ""
    unit: str = ""
    by: str = ""
    relative: str = ""
    follows: bool = False
    id: str = ""
    more: tuple[str, ...] = ()

    @property
    def style(self) -> str:
        """Name the colour of the sign."""
        return _STYLES.get(self.sign, "")


def rows(changes: Iterable[Change], swaps: Iterable[Swap] = ()) -> list[ChangeRow]:
    """Give the changes in their order, what only follows from others last, and once where it follows for many.

    Under a swap stands what the two materials' files state differently.
    """
    # of one file whose supplier changed, each fact that moved is a change of its own
    more = {swap.change: tuple(_differences(swap)) for swap in swaps if swap.old != swap.new}
    changes = list(changes)
    made = [_row(change, more.get(change.id, ())) for change in changes if not change.derived]
    derived = {change.id: change for change in changes if change.derived}
    return made + [_row(replace(derived[told.changes[0]], text=told.text)) for told in told_once(derived.values())]


def _differences(swap: Swap) -> Iterable[str]:
    """Say what two materials state differently, a line a topic, the most important first."""
    topics: dict[str, list[str]] = {}
    for one in swap.differences:
        if one.topic != "code":
            topics.setdefault(one.topic, []).append(f"{one.what} {one.old} {ARROW} {one.new}".strip())
    for topic, lines in topics.items():
        rest = f" and {len(lines) - MOST_SAID} more" if len(lines) > MOST_SAID else ""
        yield f"{topic}: {'; '.join(lines[:MOST_SAID])}{rest}"
    if not topics:
        yield "the two files state the same"


MOST_SAID: Final = 6  # differences of one topic that are written out


def _row(change: Change, more: tuple[str, ...] = ()) -> ChangeRow:
    text = change.text
    match = _NUMBERS.fullmatch(text)
    if match is None or change.kind == "exposure":
        return ChangeRow(_SIGNS.get(change.kind, "~"), text, follows=change.derived, id=change.id, more=more)
    by = match["by"]
    relative = f"{match['relative']} %" if match["relative"] else ""
    return ChangeRow(
        "\u2191" if by.startswith("+") else "\u2193" if by.startswith(figure_words.MINUS) else "~",
        text, match["name"], match["old"], match["new"], match["unit"], f"{by} {match['points']}", relative,
        follows=change.derived, id=change.id,
    )  # fmt: skip


def beside(changes: Sequence[Change]) -> list[ChangeRow]:
    """Give the changes beside the recipes; of a folder that came or went at large only how many files."""
    files: dict[tuple[str, str], list[Change]] = {}
    for change in changes:
        if change.where.count("/") <= 1 and (change.old is None) != (change.new is None):
            folder = (change.new or change.old or "").rpartition("/")[0]
            files.setdefault((folder, "added" if change.old is None else "removed"), []).append(change)
    many = {key: group for key, group in files.items() if len(group) > MANY}
    folded = {change.id for group in many.values() for change in group}
    found = [
        ChangeRow(_SIGNS[verb], f"{folder or 'top folder'}: {counted(len(group), 'file')} {verb}")
        for (folder, verb), group in many.items()
    ]
    return found + [_file(change) for change in changes if change.id not in folded]


def _file(change: Change) -> ChangeRow:
    verb = change.text.rpartition(": ")[2]
    return ChangeRow(_SIGNS.get(verb, "~"), change.text, id=change.id)


@dataclass(frozen=True, slots=True)
class EffectPart:
    """What one change, or several small ones together, brought of a difference; no ``value`` where it is not seen."""

    text: str
    value: str
    amount: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class MovedFigure:
    """One figure that moved; ``by`` names the one change that brought all of it, where several were made."""

    name: str
    before: str
    after: str
    unit: str
    difference: str
    sign: int
    by: str = ""
    parts: tuple[EffectPart, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Moves:
    """The figures that moved, the names of those that moved by less than is shown, and what is missing to know more."""

    moved: tuple[MovedFigure, ...]
    less: tuple[str, ...]
    missing: tuple[str, ...]


def moves(review: Review) -> Moves:
    """Lay out what the changes of a recipe do to its figures."""
    changes = {change.id: change for change in review.changes}
    real = [change for change in review.changes if not change.derived]
    found: list[MovedFigure] = []
    less: list[str] = []
    for effect in review.effects:
        before, after = (at(effect, figure) for figure in (effect.before, effect.after))
        if before is None or after is None or effect.before.unit != effect.after.unit:
            found.append(_unknown(effect))
        elif before == after or not review.listed.get(effect.figure, "listed"):
            less.append(figure_words.called(effect.figure))
        else:
            found.append(_known(effect, (before, after), changes, _like(effect, review.effects), one=len(real) == 1))
    return Moves(tuple(found), tuple(less), tuple(_missing(review.effects)))


def _missing(effects: Iterable[Effect]) -> list[str]:
    """Say what figures lack, by ingredient; what only one side lacks says which."""
    effects = list(effects)
    before, after = (
        dict.fromkeys(fact for effect in effects for fact in (effect.before if side else effect.after).missing)
        for side in (True, False)
    )
    both = [one.words for one in by_ingredient(fact for fact in before if fact in after)]
    gone = [f"before: {one.words}" for one in by_ingredient(fact for fact in before if fact not in after)]
    came = [f"now: {one.words}" for one in by_ingredient(fact for fact in after if fact not in before)]
    return [*both, *gone, *came]


def folded(less: Sequence[str]) -> str:
    """Say the figures that are not listed, in one line; one that is there without water too is named once."""
    dry = ", without water"
    both = {name for name in less if f"{name}{dry}" in less}
    names = [
        f"{name} with and without water" if name in both else name
        for name in less
        if name.removesuffix(dry) not in both or name in both
    ]
    return f"not listed, as unasked or within their uncertainty: {'; '.join(names)}"


def counted_away(less: Sequence[str]) -> str:
    """Say the same in one line of a terminal: their names where they fit, else how many there are."""
    whole = folded(less)
    if len(whole) <= ONE_LINE:
        return whole
    return f"{counted(len(less), 'more figure')}, unasked or within their uncertainty (--figure all)"


ONE_LINE: Final = 76  # columns that part 2 leaves


def at(effect: Effect, figure: Figure) -> Decimal | None:
    """Give a side of an effect as it is shown, rounded; None where it is not known."""
    return None if figure.value is None else rounded(figure.value, _places(effect))


def _places(effect: Effect) -> int:
    """Give the decimals that both sides are shown to: of a total no more than it has."""
    most = figure_words.places(effect.figure)
    if effect.figure != "total" or effect.before.value is None or effect.after.value is None:
        return most
    return next(
        (n for n in range(2, most) if all(v == rounded(v, n) for v in (effect.before.value, effect.after.value))), most
    )


def _unknown(effect: Effect) -> MovedFigure:
    sides: list[str] = []
    for figure in (effect.before, effect.after):
        if figure.value is None:
            sides.append(figure_words.absent(figure))
        else:
            sides.append(f"{figure_words.alone(effect.figure, figure.value)} {figure.unit}".rstrip())
    return MovedFigure(figure_words.called(effect.figure), sides[0], sides[1], "", "", 0)


def _known(
    effect: Effect, sides: tuple[Decimal, Decimal], changes: dict[str, Change], like: str, *, one: bool
) -> MovedFigure:
    before, after = sides
    difference = after - before
    unit = effect.after.unit
    points = " points" if unit == "%" else ""
    notes: list[str] = []
    if effect.shares and like and not one:
        notes.append(f"in the same parts as {like}")
    if effect.evened or not effect.shares:
        notes.append(EVENED[effect.evened])
    parts = () if one or like else tuple(_parts(effect, difference, changes))
    seen = [part for part in parts if part.value]
    by = ", ".join(part.text for part in parts) if len(seen) == 1 else ""
    return MovedFigure(
        figure_words.called(effect.figure) + (" (estimate)" if effect.after.estimate else ""),
        f"{before:f}", f"{after:f}", unit, f"{figure_words.sign(difference)}{points}", _sign(difference),
        by, () if by else parts, tuple(notes),
    )  # fmt: skip


def _like(effect: Effect, others: Sequence[Effect]) -> str:
    """Name an earlier figure whose difference is shared in exactly the same parts, where several changes share it."""
    if len(effect.shares) < 2:
        return ""
    for other in others:
        if other is effect:
            return ""
        if _in_parts(other) == _in_parts(effect):
            return figure_words.called(other.figure)
    return ""


def _in_parts(effect: Effect) -> dict[str, Fraction]:
    whole = effect.difference
    return {share.change: share.value / whole for share in effect.shares} if whole else {}


def _sign(value: Decimal) -> int:
    return (value > 0) - (value < 0)


@dataclass(frozen=True, slots=True)
class Substance:
    """One substance that moved, as it is shown: amounts and difference in % and points of the product."""

    name: str
    why: str
    before: str
    after: str
    difference: str
    relative: str
    sign: int


def substances(review: Review) -> list[Substance]:
    """Give the regulated, preserving, active ... substances that moved by as much as is shown."""
    found: list[Substance] = []
    for move in review.substances:
        decimals = 3 if max(move.before, move.after) >= _SCARCE else 5
        before, after = rounded(move.before, decimals), rounded(move.after, decimals)
        if before == after:
            continue
        relative = figure_words.sign(rounded(move.difference / move.before * 100, 1)) if move.before else ""
        found.append(
            Substance(
                move.name, ", ".join(move.kinds), f"{before:f}", f"{after:f}",
                figure_words.sign(after - before), f"{relative} %" if relative else "",
                _sign(after - before),
            )
        )  # fmt: skip
    return found


SUBSTANCES: Final = "substances, % of the product"
_SCARCE: Final = Fraction(1, 100)  # % of the product below which two decimals more are shown


def shared(effect: Effect, review: Review, most: int) -> list[EffectPart]:
    """Give what each change brought, the largest first, no more than ``most`` by themselves; they add up as shown."""
    before, after = at(effect, effect.before), at(effect, effect.after)
    if before is None or after is None or not effect.shares:
        return []
    changes = {change.id: change for change in review.changes}
    return list(_parts(effect, after - before, changes, most))


def _parts(
    effect: Effect, difference: Decimal, changes: dict[str, Change], most: int | None = None
) -> Iterable[EffectPart]:
    """Give the shares, the largest first; those too small to be seen together in one."""
    decimals = _places(effect)
    shares = sorted(effect.shares, key=lambda share: -abs(share.value))
    values = figure_words.parts([share.value for share in shares], decimals, difference)
    small: list[Decimal] = []
    for position, (share, value) in enumerate(zip(shares, values, strict=True)):
        if value and rounded(share.value, decimals) and (most is None or position < most):
            yield EffectPart(brief(changes[share.change]), figure_words.sign(value), value)
        else:
            small.append(value)
    if small:
        together = sum(small, Decimal(0))
        text = f"{counted(len(small), 'smaller change')}{' together' if len(small) > 1 else ''}"
        yield EffectPart(text, figure_words.sign(together), together) if together else EffectPart(f"and {text}", "")


def cured(review: Review) -> list[tuple[Finding, tuple[str, ...] | None]]:
    """Give the findings that are gone, each with the ids of the changes that cured it; None where not all was tried."""
    return list(zip(review.gone, review.cures or ((),) * len(review.gone), strict=True))


def still_counted(review: Review, besides: str = "") -> str:
    """Count the findings that were there before, those of one severity left out, with their rules."""
    counts: dict[str, dict[str, None]] = {}
    numbers: dict[str, int] = {}
    for finding in review.still:
        if finding.severity != besides:
            counts.setdefault(finding.severity, {})[finding.rule] = None
            numbers[finding.severity] = numbers.get(finding.severity, 0) + 1
    there = (severity for severity in SEVERITIES if severity in counts)
    said = [f"{numbers[severity]} {severity} ({', '.join(counts[severity])})" for severity in there]
    return f"still there, as before: {'; '.join(said)}" if said else ""


def because(causes: Sequence[str] | None, changes: Iterable[Change]) -> list[str]:
    """Give the words of the changes that bring a finding, or say why none is named."""
    if causes is None:
        return [NOT_SOUGHT]
    if not causes:
        return []
    wanted = set(causes)
    known = {change.id: change for change in changes if change.id in wanted}
    return [known[cause].text for cause in causes if cause in known]


def whole(review: Review) -> str:
    """Say a recipe that came, went or cannot be read, with what it holds."""
    charges = sum(change.kind in ("added", "removed") for change in review.changes if not change.derived)
    if review.status == "added":
        return f"new recipe, {counted(charges, 'charge')}"
    if review.status == "removed":
        return f"recipe removed, it had {counted(charges, 'charge')}"
    return "its file cannot be read, so it is not compared" if review.status == "unread" else ""


def verdict(reviews: Iterable[Review]) -> list[str]:
    """Name what blocks: ``total (hand-cream)``, each once."""
    found: dict[str, None] = {}
    for review in reviews:
        for finding in worst(review):
            if finding.severity == "block":
                found[f"{finding.rule} ({review.recipe})"] = None
    return list(found)


def blocked_by(comparison: Comparison) -> list[str]:
    """Name all that blocks, what is loosened first."""
    loosened = [finding.rule for finding in comparison.guarded if finding.severity == "block"]
    return [*dict.fromkeys(loosened), *verdict(comparison.reviews)]


def calm(comparison: Comparison) -> str:
    """Say that nothing blocks, and not more than that where what judges is loosened."""
    return "nothing blocks, but what judges it is loosened" if comparison.guard else "nothing blocks"


def worst(review: Review) -> list[Finding]:
    """Give the findings of the new side, the worst first."""
    both = [*(item.finding for item in review.new), *review.still]
    return sorted(both, key=lambda finding: SEVERITIES.index(finding.severity))


def said(review: Review) -> str:
    """Give the verdict on one recipe in a line."""
    found = worst(review)
    blocking = list(dict.fromkeys(finding.rule for finding in found if finding.severity == "block"))
    if blocking:
        return f"blocked by {', '.join(blocking)}"
    counts = [
        f"{sum(finding.severity == severity for finding in found)} {severity}"
        for severity in SEVERITIES
        if any(finding.severity == severity for finding in found)
    ]
    return f"nothing blocks; {', '.join(counts)}" if counts else "nothing blocks"


def blocking_news(comparison: Comparison) -> int:
    """Count the new findings that block."""
    return sum(item.finding.severity == "block" for review in comparison.reviews for item in review.new)


def alike(comparison: Comparison) -> tuple[list[Review], list[str]]:
    """Part the recipes that differ in meaning from those whose layout alone does."""
    differ = [review for review in comparison.reviews if review.status != "same"]
    return differ, [review.recipe for review in comparison.reviews if review.status == "same"]


def unchanged(comparison: Comparison) -> list[str]:
    """Say in a line or two what is not listed."""
    differ, same = alike(comparison)
    lines: list[str] = []
    if same:
        lines.append(f"No change in meaning, in layout or comments only: {', '.join(same)}.")
    if not differ and not comparison.beside and not same:
        only = " Some files differ in layout or comments only." if comparison.touched else ""
        return [f"No change in meaning.{only}" if only else "No difference."]
    if comparison.same:
        verb = "is" if comparison.same == 1 else "are"
        lines.append(f"{counted(comparison.same, 'recipe')} {verb} unchanged.")
    return lines
