"""Who made a batch, who checked it, and whether its record was left alone once it was finished."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding
from formula_vcs.model.recipe import STEP_VALUES
from formula_vcs.rules.records.batch_case import BatchRule, BatchView, charge_names
from formula_vcs.rules.rule import COMMON_PRACTICE, Edit


class BatchPeople(BatchRule):
    """A batch names who made it, and where the recipe asks for a second check, another person who looked.

    Why: one pair of eyes reads 1.00 as 10.0 twice. A recipe asks for it with `second_check = true` on a charge or a
    step; the batch then names `checked_by` on that charge or step, or for the whole batch, and it is not the same
    person.

    So:
        made_by    = "Jonah Merrick"
        checked_by = "Ailsa Thorne"
    """

    id = "batch-people"
    source = COMMON_PRACTICE

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Look for the names."""
        batch = seen.batch
        if batch.made_by is None and ("made_by",) not in batch.facts:
            yield from self.missing(seen, "nobody is named who made it ('made_by')", (), ("made_by", "people"))
        for charge in batch.charges:
            recipe = seen.charges.get(charge.key)
            if recipe is not None and recipe.more.get("second_check") is True:
                names = charge_names(charge.key, "people")
                maker = charge.weighed_by or batch.made_by
                yield from self._second(seen, f"'{charge.key}'", (maker, charge.checked_by), charge.path, names)
        for step in batch.steps:
            asked = seen.steps.get(step.id)
            if asked is not None and asked.facts.get("second_check") is True:
                maker = step.done_by or batch.made_by
                names = (step.id, "people")
                yield from self._second(seen, f"step '{step.name}'", (maker, step.checked_by), step.path, names)

    def _second(
        self, seen: BatchView, what: str, people: tuple[str | None, str | None], at: Path, names: tuple[str, ...]
    ) -> Iterator[Finding]:
        maker, checker = people
        checker = checker or seen.batch.checked_by
        if checker is None:
            words = f"the recipe asks that a second person checks {what}, and nobody is named ('checked_by')"
            yield from self.missing(seen, words, at, names)
        elif maker is not None and _same(maker, checker):
            words = f"{what} was made and checked by the same person, {maker}"
            yield self.deviates(seen, words, at, names)


def _same(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()


class BatchEdited(BatchRule):
    """A batch that is closed is not edited any more.

    Why: the record is evidence of what happened, and evidence that changes later is none. What was wrong in it is put
    right in a new file, or told in the note of the next batch. The commit that first held `closed` is where it ends; a
    later commit that changes the meaning of the file is named here, one that takes it away, and a change that is not
    committed yet. In a shallow clone only the commits that are there are looked at.
    """

    id = "batch-edited"
    source = COMMON_PRACTICE

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Look through the commits of the file."""
        record = seen.case.record
        for edit in seen.case.pins.edits(record.file, record.facts):
            words = f"closed on {edit.closed}, and edited since: {edit.what}"
            yield self.say_about(seen.case, words, ("closed",), subject=edit.commit or "work tree")

    @classmethod
    def gone(cls, file: str, edit: Edit) -> Finding:
        """Word a closed record that is not there any more."""
        words = f"closed on {edit.closed}, and taken away since: {edit.what}"
        return Finding(cls.id, cls.severity, words, file, line=1, column=1, source=cls.source, subject="gone")


class BatchDeviation(BatchRule):
    """A [[deviation]] is about something of the batch.

    Why: a deviation decides that something may stand; one about a name that is nowhere decides nothing, and is most
    often a slip of the pen. It may be about a charge ("A/glycerin" or "glycerin"), a lot, a step or a value of it
    ("hydrate-gum", "hydrate-gum/time"), a result, or one of: version, approval, order, made, made_by, packs, people,
    yield, lots.

    So:
        [[deviation]]
        about      = "hydrate-gum/time"
        why        = "power cut after 5 min; stirred 3 min by hand"
        decided_by = "Ailsa Thorne"
    """

    id = "batch-deviation"
    severity = "warn"

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Look every deviation's name up."""
        known = {name.casefold() for name in _known(seen)}
        for number, row in enumerate(seen.batch.deviations, 1):
            about = row.about.strip()
            if about and about.casefold() not in known:
                from formula_vcs.toml.takers import nearest

                words = f"[[deviation]] is about '{about}', which is nothing of this batch{nearest(about, known)}"
                yield self.say_about(seen.case, words, ("deviation", str(number), "about"), subject=about)


def _known(seen: BatchView) -> Iterator[str]:
    yield from ("version", "approval", "order", "made", "made_by", "packs", "people", "yield", "lots")
    batch = seen.batch
    for key in dict.fromkeys((*(charge.key for charge in batch.charges), *seen.charges)):
        yield from charge_names(key)
    for name in dict.fromkeys((*(step.id for step in batch.steps), *seen.steps)):
        yield name
        yield from (f"{name}/{value}" for value in (*STEP_VALUES, "measured"))
    yield from batch.results
    yield from seen.formula.recipe.spec if seen.formula is not None else ()
    for lot in batch.lots:
        yield from (lot, f"lot {lot}")


class BatchEquipment(BatchRule):
    """The equipment and the balances that a batch names have files.

    Why: what was done is worked out from the machine's data, and a comparison of two batches asks whether they were
    made on the same. Equipment counts as it was when the batch was made, or as it is now.

    So:
        equipment = ["anchor-vessel"]         # equipment/anchor-vessel.toml
    """

    id = "batch-equipment"
    severity = "warn"

    def check_batch(self, seen: BatchView) -> Iterator[Finding]:
        """Look every name up."""
        from formula_vcs.toml.takers import nearest

        batch = seen.batch
        known = seen.case.snapshot.ids("equipment")
        for name in batch.equipment:
            if seen.equipment(name) is None:
                words = f"there is no equipment '{name}' (equipment/){nearest(name, known)}"
                yield self.say_about(seen.case, words, ("equipment", name))
        named = [(row.balance, row.path) for charge in batch.charges for row in charge.weighings]
        for balance, path in named:
            if balance is not None and seen.equipment(balance) is None:
                words = f"there is no balance '{balance}' (equipment/){nearest(balance, known)}"
                yield self.say_about(seen.case, words, (*path, "balance"))
