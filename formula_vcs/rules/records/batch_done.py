"""How a batch was made and what was measured of it, against what was asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.figures.density import pack_mass
from formula_vcs.figures.tolerance import off_target
from formula_vcs.figures.weighing import mass_text
from formula_vcs.model.batch import BatchStep
from formula_vcs.model.finding import Finding
from formula_vcs.model.quantity import Quantity, Range
from formula_vcs.model.recipe import STEP_VALUES
from formula_vcs.model.spec_line import SpecLine
from formula_vcs.rules.records.batch_case import BatchRule, BatchView
from formula_vcs.rules.rule import COMMON_PRACTICE
from formula_vcs.words.numbers import shown
from formula_vcs.words.quoting import quoted

# --- The steps of a batch as they were done


class BatchSteps(BatchRule):
    """Every step of the recipe was done, in its order, inside its set points.

    Why: a gum that was hydrated for 5 minutes in place of 8 is the reason that the batch is thin, and nobody finds it
    in a drawer of paper. What was done is held against the step's `target` (the sheet's, scaled to the equipment), else
    against the recipe. A set point that is one value is met within 5 %, a time within 10 %, a temperature within 2 K, a
    rest by any longer one: common practice. A step done again stands again, and its last measurement counts.

    So:
        [[step]]
        id     = "hydrate-gum"
        target = { speed = "6000 rpm", time = "8 min", temp = "20 to 25 degC" }
        speed  = "5900 rpm"
        time   = "8 min"
        temp   = "22 degC"
    """

    id = "batch-steps"
    source = COMMON_PRACTICE

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Compare the steps with the recipe's."""
        steps = seen.batch.steps
        for step in steps:
            yield from self._values(seen, step)
        if seen.formula is None:
            return
        known = list(seen.steps)
        for step in steps:
            if step.id not in seen.steps:
                words = f"the recipe that it was made from has no step '{step.id}'"
                yield self.deviates(seen, words, step.path, (step.id,))
        done = [step.id for step in steps if step.id in seen.steps and step.again == 1]
        for name in known:
            if name not in done:
                words = f"step '{name}' of the recipe is missing"
                yield from self.missing(seen, words, ("step", steps[0].name) if steps else (), (name,))
        yield from self._order(seen, done, known)

    def _order(self, seen: BatchView, done: Sequence[str], known: Sequence[str]) -> Iterator[Finding]:
        wanted = [name for name in known if name in done]
        if list(done) == wanted:
            return
        first = next(name for name, right in zip(done, wanted, strict=True) if name != right)
        right = wanted[done.index(first)]
        words = f"step '{first}' was done where the recipe has '{right}': the order is another one"
        yield self.deviates(seen, words, ("step", first), (first, right, "order"))

    def _values(self, seen: BatchView, step: BatchStep) -> Iterator[Finding]:
        recipe = seen.steps.get(step.id)
        targets = step.target
        if not step.recorded:
            words = f"nothing is recorded of step '{step.name}'"
            yield from self.missing(seen, words, step.path, (step.id,))
            return
        for name in (*STEP_VALUES, "measured"):
            found = step.done.get(name)
            at = "accept" if name == "measured" else name
            wanted = targets.get(at) or (recipe.facts.get(at) if recipe is not None else None)
            if not isinstance(wanted, Range | str):
                continue
            names = (f"{step.id}/{name}", step.id)
            if found is None:
                # what is recorded of a step need not repeat what was kept, but a measurement is the step
                if name == "measured":
                    words = f"step '{step.name}' was to measure, and no value is recorded"
                    yield from self.missing(seen, words, step.path, names)
                continue
            words = off_target(name, found, wanted)
            if words and not (name == "measured" and self._again(seen, step)):
                yield self.deviates(seen, f"step '{step.name}', {name}: {words}", (*step.path, name), names)

    def _again(self, seen: BatchView, step: BatchStep) -> bool:
        """Say whether a measurement was made again later: then the last one counts."""
        return any(other.id == step.id and other.index > step.index for other in seen.batch.steps)


# --- What a batch measured, and how much of it came out


# A balance and a drum that is weighed in a hurry: more than this over what went in is no weighing error any more.
_CLOSE: Final = Fraction(1, 200)
_LEAST: Final = Fraction(9, 10)
_UNDER: Final = Fraction(2, 100)


class BatchResults(BatchRule):
    """The results of a batch lie inside the spec of the version that was made.

    Why: the spec may have been widened since; what counts is the one that was agreed when the batch was made. A result
    outside it stays on record as it was measured, with a [[deviation]] that says who let the batch go, or did not.
    Words of the spec are judged by somebody, who records whether the product conforms, and what was seen where not.

    So:
        [result]
        pH        = "5.0"
        viscosity = "21.4 Pa*s"
        odour     = true
        colour    = { conforms = false, seen = "yellowish" }
    """

    id = "batch-results"
    source = COMMON_PRACTICE

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Compare the results with the spec."""
        if seen.formula is None:
            return
        spec = seen.formula.recipe.spec_lines
        told: dict[str, Quantity | bool] = {**seen.batch.results, **seen.batch.judged}
        for name, value in told.items():
            line = spec.get(name)
            if line is None:
                near = f"; its spec has {', '.join(spec)}" if spec else ""
                words = f"'{name}' was measured, and the recipe's spec does not ask for it{near}"
                yield self.say_about(seen.case, words, ("result", name), severity="note")
                continue
            yield from self._held(seen, line, value)
            yield from self._temperature(seen, line)
        for name, line in spec.items():
            if ("result", name) not in seen.batch.facts:
                words = f"no result of '{name}' is recorded (spec {line})"
                yield from self.missing(seen, words, ("result",), (name,))

    def _held(self, seen: BatchView, line: SpecLine, value: Quantity | bool) -> Iterator[Finding]:
        """Hold one result against its line: a value against a range, a judgement against words."""
        name, at, asks = line.name, ("result", line.name), line.asks
        if isinstance(asks, str):
            if value is False:
                saw = seen.batch.beside(name, "seen")
                words = f"'{name}' does not conform to the spec '{asks}' of the version that was made"
                yield self.deviates(seen, words + (f": {quoted(saw)}" if saw else ""), at, (name,))
            elif value is not True:
                words = (
                    f"'{name}' is {value}, and the spec is in words, '{asks}': write true where it conforms, or false"
                )
                yield self.say_about(seen.case, words, at, on_value=True)
        elif isinstance(value, bool):
            words = f"'{name}' says only whether it conforms; the spec {asks} wants the value that was measured"
            yield self.say_about(seen.case, words, at, on_value=True)
        elif asks.dimension != value.dimension:
            words = f"'{name}' is {value}, and the spec {asks} measures something else"
            yield self.say_about(seen.case, words, at, on_value=True)
        elif not asks.contains(value):
            words = f"'{name}' is {value}, outside the spec {asks} of the version that was made"
            yield self.deviates(seen, words, at, (name,))

    def _temperature(self, seen: BatchView, line: SpecLine) -> Iterator[Finding]:
        """Say where a result was measured at another temperature than the one its limits are for."""
        measured: Quantity | None = seen.batch.beside(line.name, "temp", Quantity)
        if measured is not None and line.temp is not None and not line.temp.contains(measured):
            words = f"'{line.name}' was measured at {measured}; its spec is for {line.temp}"
            yield self.deviates(seen, words, ("result", line.name, "temp"), (line.name,))


class BatchYield(BatchRule):
    """What came out of a batch fits what went in, and the packs fit what came out.

    Why: more out than in is a weighing that was never written down, or a wrong unit. Much less than planned is product
    that stuck, boiled off or went to waste, and somebody should know where. Expected is `yield`, else 90 % or more:
    common practice. Up to 0.5 % over what went in is what a balance and a wet drum make of it.

    So:
        made  = "24.6 kg"
        packs = 326
    """

    id = "batch-yield"

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Compare what went in, what came out and what was filled."""
        batch = seen.batch
        if batch.made is None:
            if ("made",) not in batch.facts:
                words = "what came out of the batch ('made') is not recorded"
                yield from self.missing(seen, words, (), ("made", "yield"))
        else:
            yield from self._out(seen, batch.made)
        if batch.packs is not None:
            yield from self._packs(seen, batch.packs)

    def _out(self, seen: BatchView, made: Quantity) -> Iterator[Finding]:
        going_in = seen.going_in
        if going_in is None:
            return
        if made.base > going_in * (1 + _CLOSE):
            words = f"{made} came out, and only {mass_text(going_in)} went in"
            yield self.say_about(seen.case, words, ("made",), on_value=True)
            return
        planned = None if seen.formula is None else seen.formula.recipe.yields
        stated = seen.batch.get("yield", Quantity) or planned
        expected = _LEAST if stated is None else stated.base - _UNDER
        if going_in and made.base < going_in * expected:
            share = shown(made.base / going_in * 100, 1, 1)
            source = "common practice" if stated is None else f"planned {stated}"
            words = (
                f"{made} of {mass_text(going_in)} came out, {share} %; expected {shown(expected * 100, 0, 1)} % or more"
            )
            yield self.deviates(seen, f"{words} ({source})", ("made",), ("yield", "made"))

    def _packs(self, seen: BatchView, packs: int) -> Iterator[Finding]:
        pack = seen.batch.pack or (seen.formula.recipe.pack if seen.formula is not None else None)
        there = seen.batch.made.base if seen.batch.made is not None else seen.going_in
        if pack is None or there is None or not packs:
            return
        mass = pack.base if pack.dimension == "mass" else self._of_volume(seen, pack)
        if mass is None:
            return
        words = f"{packs:,} packs of {pack} are {shown(packs * mass, 1, 2)} kg"
        if packs * mass > there * (1 + _CLOSE):
            words = f"{words}, more than the {mass_text(there)} there was to fill"
            yield self.deviates(seen, words, ("packs",), ("packs", "yield"))
        elif packs * mass < there * (_LEAST - _UNDER):
            words = f"{words}, {shown(packs * mass / there * 100, 1, 1)} % of the {mass_text(there)} there was to fill"
            yield self.deviates(seen, words, ("packs",), ("packs", "yield"))

    def _of_volume(self, seen: BatchView, pack: Quantity) -> Fraction | None:
        """Weigh a pack's volume: by the density that the batch measured, else by the recipe's."""
        measured = seen.batch.results.get("density")
        if seen.formula is not None:
            return pack_mass(breakdown_of(seen.formula), pack, measured).mass
        if measured is not None and measured.dimension == "density":
            return pack.base * measured.base
        return None
