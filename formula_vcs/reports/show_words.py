"""The parts of a sheet in words, whatever the format: nothing escaped yet."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from formula_vcs.diff.change_words import plain
from formula_vcs.figures.composition import ChargeShare
from formula_vcs.figures.cost import cost_per_kg
from formula_vcs.figures.figure import Figure
from formula_vcs.figures.figure_table import matters
from formula_vcs.figures.missing import by_ingredient
from formula_vcs.figures.standards import ClaimOutcome
from formula_vcs.law.limit_use import percent
from formula_vcs.law.max_use import stated_uses, use_source
from formula_vcs.model.amount import Held
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.recipe import STEP_RANGES, Charge, Recipe, Step
from formula_vcs.model.values import dataclass, replace
from formula_vcs.reports import figure_words
from formula_vcs.reports.sheets import IngredientSheet, Label, RecipeSheet, facts_of
from formula_vcs.words.numbers import shown

CAUTION: Final = "Figures are arithmetic on stated data: the safety assessor, the responsible person and law decide."
NO_LABEL: Final = "none: a premix is labelled as part of the products that it goes into"
ONE_PERCENT: Final = {
    "EU": "below 1 %: free in order from here",
    "US": "not above 1 %: free in order from here",
}
ACTIVE: Final = "active ingredients of a drug, apart (21 CFR 701.3(d), 201.66)"
INACTIVE: Final = "inactive ingredients"
COLORANTS: Final = "colorants: free in order, after the others"


def pct(value: Fraction) -> str:
    """Write a percentage: two decimals, more where it has them, never 100 where it is less."""
    return figure_words.below_all(value, 2, 6)


def header(sheet: RecipeSheet) -> str:
    """Say what kind of product it is, where it is sold, and in what sizes."""
    own = sheet.recipe
    words = [", ".join(filter(None, (own.product or "no product type", _form(own))))]
    words += _for_whom(own)
    if own.names["markets"]:
        words.append(", ".join(own.names["markets"]))
    if own.pack is not None:
        into = "" if own.packaging is None else f" in {own.packaging}"
        words.append(f"pack {own.pack}{into}")
    batch = sheet.terms.batch or sheet.formula.batch
    if batch is not None:
        words.append(f"batch {batch}")
    return "; ".join(words)


def _form(own: Recipe) -> str:
    form, kind = own.get("form") or "", own.get("emulsion")
    return form if kind is None else f"{kind} emulsion" if form in ("", "emulsion") else f"{form}, {kind} emulsion"


def _for_whom(own: Recipe) -> list[str]:
    """Say whom a product is for, how it leaves its pack and where it goes, as far as its header states it."""
    spray, alcohol = own.get("spray"), own.get("hydroalcoholic", bool)
    sprays = {"none": "no spray", "pump": "pump spray", None: ""}
    said = (
        f"for {own.get('for')}" if own.get("for") else "",
        sprays.get(spray, str(spray)),
        {True: "hydroalcoholic", False: "not hydroalcoholic", None: ""}[alcohol],
        f"mixed {own.get('mixed')}" if own.get("mixed") else "",
        f"on {', '.join(own.names['area'])}" if own.names["area"] else "",
    )
    return [words for words in said if words]


@dataclass(frozen=True, slots=True)
class ChargeRow:
    """One charge: what it is called, its %, its amount where the recipe is not in %, and a remark."""

    ingredient: str
    pct: str
    amount: str
    remark: str


@dataclass(frozen=True, slots=True)
class PhaseRows:
    """A phase with its charges and their sum in %."""

    phase: str
    title: str
    rows: tuple[ChargeRow, ...]
    total: str


def phases(sheet: RecipeSheet) -> list[PhaseRows]:
    """Give the charges by phase."""
    lines: dict[str, list[ChargeShare]] = {name: [] for name in sheet.recipe.phases}
    for line in sheet.sums.composition.lines:
        lines.setdefault(line.charge.phase, []).append(line)
    return [
        PhaseRows(
            name,
            sheet.recipe.phases.get(name, ""),
            tuple(_charge(sheet, line) for line in own),
            pct(sum((line.pct for line in own), Fraction(0))),
        )
        for name, own in lines.items()
    ]


def _charge(sheet: RecipeSheet, line: ChargeShare) -> ChargeRow:
    charge = line.charge
    unknown = any(charge is other for other in sheet.sums.composition.unknown)
    amount = "" if sheet.recipe.amounts == "percent" or charge.amount is None else str(charge.amount)
    return ChargeRow(charge.ingredient, "not settled" if unknown else pct(line.pct), amount, _remark(sheet, charge))


def _remark(sheet: RecipeSheet, charge: Charge) -> str:
    words = ["the balance"] if charge.balance else []
    for name, value in charge.more.items():
        if name in ("for", "at_most", "at_least", "rebuilds"):
            words.append(f"{name.replace('_', ' ')} {plain(value)}")
    title = sheet.formula.title(charge.ingredient)
    if not words and title != charge.ingredient:
        words.append(title)
    if sheet.formula.premix_of(charge.ingredient) is not None:
        words.append("premix")
    elif charge.ingredient not in sheet.formula.ingredients:
        words.append("no such ingredient")
    return ", ".join(words)


def totals(sheet: RecipeSheet) -> list[tuple[str, str]]:
    """Give the sum of all charges in %, and in a recipe from a book that of the amounts with the total it claims."""
    composition = sheet.sums.composition
    whole = sum((line.pct for line in composition.lines), Fraction(0))
    found = [("total", pct(whole))]
    if sheet.recipe.amounts != "percent":
        figure = sheet.figures["total"]
        value = composition.total * 1000 if composition.measure == "kg" else composition.total
        claimed = f", the book says {sheet.recipe.total}" if sheet.recipe.total is not None else ""
        found.append(("amounts", f"{figure_words.alone('total', value)} {figure.unit}{claimed}"))
    return found


def claim(sheet: RecipeSheet, judged: ClaimOutcome) -> str:
    """Say what became of a claim, why, and whom to ask for what is missing."""
    return f"{judged.verdict}: {'; '.join([judged.because, *map(sheet.formula.whom_to_ask, judged.missing)])}"


def conversions(sheet: RecipeSheet) -> Iterator[str]:
    """Say which volumes were taken as masses, and by which density."""
    for conversion in sheet.sums.composition.conversions:
        grams = shown(conversion.mass * 1000, 2, 6)
        yield f"{conversion.charge.key}: {conversion.volume} at {conversion.density} taken as {grams} g"


@dataclass(frozen=True, slots=True)
class FigureRow:
    """A figure in words: its value (and in ``dry`` its value without water), or "not known".

    ``estimate`` is empty, or "estimate" with the range that it may lie in.
    """

    name: str
    value: str
    unit: str
    dry: str = ""
    estimate: str = ""


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures with and without a counterpart without water; what is missing, and what one must know, each once."""

    plain: tuple[FigureRow, ...]
    contents: tuple[FigureRow, ...]
    missing: tuple[str, ...]
    notes: tuple[str, ...]


_DRY: Final = "_without_water"


def figures(sheet: RecipeSheet) -> Figures:
    """Give every figure but the total, which stands under the charges."""
    own = {name: figure for name, figure in sheet.figures.items() if matters(figure)}
    paired = [name for name in own if f"{name}{_DRY}" in own]
    alone = [name for name in own if name not in paired and not name.endswith(_DRY) and name != "total"]
    everything = [figure for name, figure in own.items() if name != "total"]
    return Figures(
        tuple(_figure(own[name]) for name in alone),
        tuple(replace(_figure(own[name]), dry=_value(own[f"{name}{_DRY}"])) for name in paired),
        tuple(one.words for one in by_ingredient(fact for figure in everything for fact in figure.missing)),
        tuple(dict.fromkeys(note for figure in everything for note in figure.basis)),
    )


def _figure(figure: Figure) -> FigureRow:
    unit = "" if figure.value is None else figure.unit
    estimate = _estimate(figure) if figure.estimate and figure.value is not None else ""
    return FigureRow(figure_words.called(figure.name), _value(figure), unit, estimate=estimate)


def _estimate(figure: Figure) -> str:
    if figure.span is None:
        return "estimate"
    low, high = (figure_words.estimated(figure.name, end, figure.span) for end in figure.span)
    return f"estimate, {low} to {high}"


def _value(figure: Figure) -> str:
    if figure.value is None:
        return figure_words.absent(figure)
    return figure_words.estimated(figure.name, figure.value, figure.span)


def steps(recipe: Recipe) -> list[tuple[str, str]]:
    """Give the steps shortly: id, and what is done where, with what, how hard, how long, how warm."""
    return [(step.id, _step(step)) for step in recipe.steps]


def _step(step: Step) -> str:
    words: list[str] = []
    if step.measure:
        accept = step.span("accept")
        words.append(f"measure {step.measure}" + (f", accept {accept}" if accept is not None else ""))
    if step.adjust:
        words.append(f"adjust with {', '.join(step.adjust)}")
    if step.joins:
        words.append(f"from {', '.join(step.joins)}")
    if step.add:
        words.append(f"add {', '.join(map(str, step.add))}")
    if step.shear:
        words.append(
            "no shear" if step.shear == "none" else step.shear if step.shear == "fold" else f"{step.shear} shear"
        )
    work = [str(step.span(name)) for name in STEP_RANGES if name != "rest" and step.span(name) is not None]
    mixer = [step.mixer] if step.mixer else []
    if mixer or work:
        words.append(", ".join([*mixer, *work]))
    rest = step.span("rest")
    if rest is not None:
        words.append(f"rest {rest}")
    return (f"{step.into}: " if step.into else "") + "; ".join(words)


def label_rows(label: Label) -> Iterator[tuple[str, str, str]]:
    """Give (name, %, what starts here): the 1 % line, the colorants, or nothing."""
    part = "ordered"
    begins = {"active": ACTIVE, "ordered": INACTIVE, "free": ONE_PERCENT[label.market], "colorant": COLORANTS}
    for line in label.lines:
        starts = ""
        if line.part != part:
            part = line.part
            starts = begins[part]
        yield line.inci, shown(line.pct, 2, 6), starts


def ingredient_facts(sheet: IngredientSheet) -> list[tuple[str, str]]:
    """Give what is known of a material, one line each."""
    own = sheet.ingredient
    found = [
        ("supplier", own.get("supplier") or ""),
        ("code", own.get("code") or ""),
        ("functions", ", ".join(own.functions)),
        ("density", "" if own.density is None else str(own.density)),
        ("made by", "" if own.recipe is None else f"recipe {own.recipe}"),
        ("price", _price(sheet)),
    ]
    for table in ("origin", "handling"):
        found += [(name.replace("_", " "), value) for name, value in facts_of(own, table).items()]
    found += [(f"at most in {name}", _most_used(own, name, share)) for name, share in stated_uses(own).items()]
    return [(name, value) for name, value in found if value]


def _most_used(own: Ingredient, name: str, share: Fraction) -> str:
    source = use_source(own, name)
    return f"{percent(share)} of the product" + (f"; {source}" if source else "")


def _price(sheet: IngredientSheet) -> str:
    price = sheet.price
    if isinstance(price, str):
        made = None if sheet.sums is None else cost_per_kg(sheet.sums, sheet.terms)
        if made is None or made.value is None:
            return f"{price} (as of {sheet.terms.day})"
        return f"{figure_words.alone(made.name, made.value)} {made.unit} by its recipe, prices of {sheet.terms.day}"
    per_kg = f" = {shown(price.per_kg, 2, 4)} {price.currency}/kg" if price.price.cost.dimension != "price" else ""
    remark = f"; {price.remark.partition(': ')[2]}" if price.remark else ""
    return f"{price.price}{per_kg}, in force on {sheet.terms.day}{remark}"


def composition(sheet: IngredientSheet) -> list[tuple[str, str, str]]:
    """Give (INCI name, %, CAS number) of a material, a premix seen through."""
    if sheet.sums is None:
        own = sheet.ingredient
        return [(inci, _held(one), own.get("substances", inci, "cas") or "") for inci, one in own.held.items()]
    ordered = sorted(sheet.sums.substances.items(), key=lambda item: (-item[1], item[0]))
    return [(sheet.sums.names[key][0], shown(share, 2, 4), sheet.sums.names[key][1]) for key, share in ordered]


def _held(one: Held) -> str:
    """Write a share of a material; of a range its middle, with the ends."""
    if one.least == one.most:
        return pct(one.middle)
    return f"{pct(one.middle)} ({shown(one.least, 0, 4)} to {shown(one.most, 0, 4)})"


def limits(sheet: RecipeSheet) -> list[tuple[str, str]]:
    """Give each limit that the product is under: the substance, and used, allowed, margin and worst weighing."""
    return [
        (what, f"{used} of {allowed}, {worst} at the worst weighing; {source}")
        for what, used, allowed, worst, source in limit_rows(sheet)
    ]


def limit_rows(sheet: RecipeSheet) -> list[tuple[str, str, str, str, str]]:
    """Give each limit that the product is under, those of the law before those of the materials' own papers: what,
    used, allowed, at the worst weighing, by what.
    """
    return [
        (
            " + ".join(sheet.sums.names[key][0] if key in sheet.sums.names else key for key in use.keys),
            percent(use.amount.used, use.allowed) + (f" as {use.row.basis}" if use.row.basis else ""),
            percent(use.allowed),
            percent(max(use.amount.worst, use.amount.adjusted), use.allowed),
            use.row.source,
        )
        for use in sheet.limits
    ] + [
        (
            use.material.title or use.material.id,
            percent(use.amount.used, use.allowed),
            percent(use.allowed),
            percent(max(use.amount.worst, use.amount.adjusted), use.allowed),
            f"max use for {use.meant}, {use_source(use.material, use.meant) or 'no source stated'}",
        )
        for use in sheet.max_uses
        if use.allowed is not None
    ]
