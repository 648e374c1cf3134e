"""What the product is and must be: pH and the rest of the spec, name, claims, markets, pack and batch."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.diff.change_words import ARROW
from formula_vcs.evidence.drift.drift import Drift, DriftSides, short
from formula_vcs.figures.pack_cost import packaging_of
from formula_vcs.law.compliance import markets
from formula_vcs.model.formula import Formula
from formula_vcs.model.packaging import Packaging
from formula_vcs.model.quantity import Range
from formula_vcs.model.recipe import Recipe

PH = "pH"


def drifts(sides: DriftSides) -> Iterator[Drift]:
    """Compare the header and the spec; a window inside the one that was tested is no drift."""
    yield from _spec(sides)
    old, new = sides.old.recipe, sides.new.recipe
    if old.title != new.title:
        yield Drift("name", "title", f"it is called '{new.title}' and was '{old.title}'", detail=new.title)
    for name in ("product", "form", "emulsion", "for", "spray", "hydroalcoholic", "mixed"):
        was, now = (_stated(recipe, name) for recipe in (old, new))
        if was != now:
            words = f"{name} {was or 'not stated'} {ARROW} {now or 'not stated'}"
            yield Drift("product", name, words, detail=str(now))
    was, now = (", ".join(sorted(recipe.names["area"])) for recipe in (old, new))
    if was != now:
        yield Drift("product", "area", f"area {was or 'not stated'} {ARROW} {now or 'not stated'}", detail=now)
    yield from _spec_words(sides)
    yield from _sets(sides)
    yield from _pack(sides)
    yield from _packaging(sides)
    yield from _batch(sides)


def _stated(recipe: Recipe, name: str) -> str | None:
    found: str | bool | None = recipe.get(name, (str, bool))
    return ("yes" if found else "no") if isinstance(found, bool) else found


def _spec(sides: DriftSides) -> Iterator[Drift]:
    was, now = (_windows(formula) for formula in (sides.old, sides.new))
    for name in sorted(was):
        before, after = was[name], now.get(name)
        when = PH if name == PH else "spec"
        if after is None:
            yield Drift(when, name, f"{name}: {before} was tested, and no {name} is stated now")
        elif not inside(after, before):
            yield Drift(when, name, f"{name} {after} lies beyond {before}, which was tested", detail=str(after))


def _spec_words(sides: DriftSides) -> Iterator[Drift]:
    """Give what is judged in words and reads otherwise, and what is measured in another way than it was."""
    was, now = (formula.recipe.spec_lines for formula in (sides.old, sides.new))
    for name, line in was.items():
        after = now.get(name)
        if after is None:
            if line.words:
                yield Drift("spec", name, f"{name}: '{line.asks}' was tested, and no {name} is stated now")
            continue
        if (line.words or after.words) and line.asks != after.asks:
            yield Drift("spec", name, f"{name}: '{line.asks}' was tested, '{after.asks}' is stated now")
        if (line.method, line.temp) != (after.method, after.temp) and (line.method or line.temp):
            yield Drift("spec", name, f"{name} was tested as {line}, and is stated as {after} now", detail=str(after))


def _windows(formula: Formula) -> dict[str, Range]:
    """Give the spec; a pH that it does not state is the one that the steps set."""
    found = dict(formula.recipe.spec)
    for step in formula.recipe.steps:
        accepts = step.span("accept")
        if step.measure == PH and accepts is not None:
            found.setdefault(PH, accepts)
    return found


def inside(window: Range, tested: Range) -> bool:
    """Say whether a window lies within another, ends included; an open end is beyond every other."""
    if window.dimension != tested.dimension:
        return False
    low = tested.low is None or (window.low is not None and window.low.base >= tested.low.base)
    return low and (tested.high is None or (window.high is not None and window.high.base <= tested.high.base))


def _sets(sides: DriftSides) -> Iterator[Drift]:
    was, now = (set(formula.recipe.claims) for formula in (sides.old, sides.new))
    for claim in sorted(was ^ now):
        yield Drift("claims", claim, f"claim '{claim}' {'was not' if claim in now else 'is no longer'} stated")
    if not sides.conditions.market:
        for market in sorted(set(markets(sides.new)) - set(markets(sides.old))):
            yield Drift("markets", market, f"it is sold in {market} too")


def _pack(sides: DriftSides) -> Iterator[Drift]:
    was, now = sides.conditions.pack or sides.old.recipe.pack, sides.new.recipe.pack
    if was is not None and now is not None and was != now:
        yield Drift("pack", "pack", f"pack {was} {ARROW} {now}", detail=str(now))


def _packaging(sides: DriftSides) -> Iterator[Drift]:
    """Give another packaging, and pieces of the same one that are others: what the product touches was tested."""
    before, after = sides.old.recipe.packaging, sides.new.recipe.packaging
    if before is not None and before != after:
        yield Drift("pack", "packaging", f"packaging {before} {ARROW} {after or 'not stated'}", detail=str(after))
        return
    was, now = (pieces_of(packaging_of(formula)) for formula in (sides.old, sides.new))
    for name in sorted(was.keys() | now.keys() if was and now else ()):
        if was.get(name) != now.get(name):
            words = f"packaging {before}, {name}: {was.get(name, 'none')} {ARROW} {now.get(name, 'none')}"
            yield Drift("pack", f"packaging/{name}", words, detail=now.get(name, ""))


def pieces_of(pack: Packaging | None) -> dict[str, str]:
    """Say of each piece who makes it and which it is, as its file states it."""
    if pack is None:
        return {}
    keys = ("title", "kind", "supplier", "code")
    return {item.id: ", ".join(str(item.facts[key,]) for key in keys if (key,) in item.facts) for item in pack.items}


def _batch(sides: DriftSides) -> Iterator[Drift]:
    """Take the batch that was tested where a proof states it, else the one that the recipe was made for then."""
    was, now = sides.conditions.size or sides.old.batch, sides.new.batch
    if was is not None and now is not None and was.comparable(now) and now.base > was.base > 0:
        factor = now.base / was.base
        yield Drift("batch", "batch", f"batch {was} {ARROW} {now}, {short(factor)} times", factor)
