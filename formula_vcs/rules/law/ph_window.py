"""The pH in which something is allowed, or preserves."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.figures.interval import at_range_ends
from formula_vcs.figures.preservatives import Free, brings_preservative, free_in_all_water, said, said_of_all
from formula_vcs.law.compliance import in_force
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.law_row import LawRow
from formula_vcs.model.product import has_two_waters
from formula_vcs.model.quantity import Range
from formula_vcs.rules.law.allowed_substances import PackRule
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule
from formula_vcs.words.numbers import shown

# --- The pH that a substance is tied to


class PhWindow(PackRule):
    """The spec keeps the pH where the law wants it for a substance.

    Why: an alkali that adjusts the pH is allowed up to a pH, not up to an amount.  A recipe that states no pH in
    its spec is warned about: the limit cannot be judged.
    """

    id = "ph-window"

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the spec's pH with every window."""
        found = case.finished
        if found is None:
            return
        for hit in in_force(found, case.day):
            row = hit.row
            if row.ph is None or row.kind != "ph":
                continue
            names = " + ".join(found.spelled(key) for key in hit.keys) or f"{found.a_product}"
            spec = case.recipe.spec.get("pH")
            if spec is None:
                words = f"{names}: the pH must be {window(row)} ({row.citation}), and the spec states no pH"
                yield self.of_row(case, row, words, ("spec",), "/".join(hit.keys), severity="warn")
            elif not _inside(spec, row):
                words = f"{names}: the spec lets the pH be {spec}; it must be {window(row)} ({row.citation})"
                yield self.of_row(case, row, words, ("spec", "pH"), "/".join(hit.keys))


def window(row: LawRow) -> str:
    """Write the window of a row: "below 11", "7 to 9.5"."""
    low, high, strict = row.ph or (None, None, False)
    if low is not None and high is not None:
        return f"{shown(low, 0, 2)} to {shown(high, 0, 2)}"
    return f"{'below' if strict else 'at most'} {shown(high, 0, 2)}" if high is not None else "any"


def _inside(spec: Range, row: LawRow) -> bool:
    low, high, strict = row.ph or (None, None, False)
    if high is not None and (spec.high is None or spec.high.base > high or (strict and spec.high.base == high)):
        return False
    return low is None or (spec.low is not None and spec.low.base >= low)


# --- Weak-acid preservatives work at the recipe's pH, and stay dissolved in it


_PUBLISHED = "Henderson, Hasselbalch; pKa in chemistry/data/acids.toml"


def _of(case: Case) -> list[Free]:
    """The free acids of a recipe that has a pH range and a weak-acid preservative; each worked out once."""
    sums = case.sums
    if "pH" not in case.recipe.spec or case.recipe.is_premix or sums.composition.is_open:
        return []
    if not any(map(brings_preservative, sums.substances)):
        return []
    return sums.cached("free acids", lambda: free_in_all_water(sums))


class PreservativeWindow(Rule):
    """A weak-acid preservative is inside the pH window in which it is usually said to work.

    Why: only the undissociated acid goes through a cell wall.  Near its pKa, 0.3 of a pH unit halves it: a benzoate
    that protects a cream at pH 4.8 hardly does at 5.8, and nothing in the percentages shows it.  The finding gives
    the free acid in the water phase at both ends of the spec's pH.  Windows are common practice, and free acid is an
    estimate that replaces no challenge test: a warning.  Exactly on a limit is a note.
    """

    id = "preservative-window"
    severity = "warn"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the upper end of the spec's pH with every preservative's window."""
        words_of = said_of_all if has_two_waters(case.recipe.get("emulsion")) else said
        for free in _of(case):
            window = free.acid.row.get("window")
            if window is None or free.pH[1] < window["high"]:
                continue
            edge = free.pH[1] == window["high"]
            where = "on the limit of" if edge else "above"
            words = (
                f"the spec's pH goes to {free.pH[1]:g}, {where} what {free.acid.title} works to, {window['high']:g} "
                f"({window['source']}): {words_of(free)}"
            )
            severity: Severity = "note" if edge else "warn"
            at = ("spec", "pH")
            yield self.say(case, words, at, subject=free.acid.name, severity=severity, on_value=True)


class FreeAcid(Rule):
    """The free acid of a preservative stays below its solubility at the lowest pH of the spec.

    Why: below it, the salt that dissolved so well falls out as crystals of the acid, weeks later, in the pack.  At a
    pH the free acid is all that counts: sorbic acid dissolves to 0.15 % in water at 20 degC, whatever the salt.  What
    oils and glycols take up is not counted, so the true margin is wider: a warning.
    """

    id = "free-acid"
    severity = "warn"
    source = _PUBLISHED
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the free acid at the lowest pH with the solubility."""
        if has_two_waters(case.recipe.get("emulsion")):
            return
        for free in _of(case):
            limit = free.acid.row.get("solubility")
            if limit is None:
                continue
            most = max((one.in_water[0] for one in self._at_ends(case, free)), default=free.in_water[0])
            if most <= limit["pct"]:
                continue
            memory = "" if limit["verified"] == "seen" else ", from memory"
            words = (
                f"at pH {free.pH[0]:g} {most:.3f} % of the water phase would be free {free.acid.title}, "
                f"and water dissolves {limit['pct']:g} % at {limit['at']} ({limit['source']}{memory})"
            )
            yield self.say(case, words, ("spec", "pH"), subject=free.acid.name, on_value=True)

    def _at_ends(self, case: Case, free: Free) -> Iterator[Free]:
        """An acid by the middle of what is stated as a range, and at both ends."""
        for sums in at_range_ends(case.sums)[1:]:
            yield from (one for one in free_in_all_water(sums) if one.acid.name == free.acid.name)
        yield free
