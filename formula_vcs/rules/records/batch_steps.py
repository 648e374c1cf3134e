"""The steps of a batch as they were done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from formula_vcs.figures.off_target import off_target
from formula_vcs.model.batch import BatchStep
from formula_vcs.model.finding import Finding
from formula_vcs.model.quantity import Range
from formula_vcs.model.recipe import STEP_VALUES
from formula_vcs.rules.records.batch_case import BatchRule, BatchView
from formula_vcs.rules.rule import COMMON_PRACTICE


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
