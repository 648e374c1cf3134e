"""A substance stays inside its limit in the product."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from formula_vcs.figures.density import pack_mass
from formula_vcs.law.compliance import ApplicableRow, Compliance, in_force
from formula_vcs.law.limit_use import ON, PRACTICE_TOLERANCE, LimitUse, amount, percent, uses
from formula_vcs.law.otc_drug import Active, actives
from formula_vcs.model.finding import Finding
from formula_vcs.model.law_row import LawRow
from formula_vcs.rules.law.allowed_substances import PackRule
from formula_vcs.rules.rule import Case
from formula_vcs.words.numbers import shown


class Limit(PackRule):
    """A substance does not exceed what the law of the recipe's markets, or a rule of the house, allows it.

    Why: limits hold for the product ready for use, from every source together, and many are counted as something
    else: benzoates as benzoic acid, fluorides as fluorine.  The factors follow from molar masses.  Where the atomic
    weights themselves decide on which side an amount lies, the finding says "on the limit" and picks none.  Charges
    kept for adjusting count at their `at_most` too, the balance giving way.

    Not so:
        sodium-benzoate = 0.60          # in a leave-on: 0.5085 % as benzoic acid, 0.5 % allowed

    So:
        sodium-benzoate = 0.58          # 0.4915 %
    """

    id = "limit"

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare every amount with its limit."""
        found = case.finished
        if found is None:
            return
        hits = in_force(found, case.day)
        for use in uses(found, hits):
            yield from self._of(case, found, use)
        for active in actives(found, case.day):
            if active.state != "inside":
                yield self._active(case, found, active)
        for hit in hits:
            if hit.row.kind == "window":
                yield from self._window(case, found, hit)
            elif hit.row.per_pack:
                yield from self._pack(case, found, hit)

    def _of(self, case: Case, found: Compliance, use: LimitUse) -> Iterator[Finding]:
        at, row, amounts = found.main_charge(list(use.keys)), use.row, use.amount
        if amounts.unknown:
            names = ", ".join(f"'{name}'" for name in amounts.unknown)
            words = f"{names}: nobody here knows how much {row.basis} it is; limit {percent(use.allowed)}"
            yield self.of_row(case, row, f"{words}, {row.citation}", at, names, severity="warn")
        what = described(found, list(use.keys), amounts.used, row, use.allowed)
        if use.state == "over":
            note = f"; {row.note}" if row.note and row.severity == "warn" else ""
            words = f"{what}; {allowed(use.allowed, found, row)}{note}"
            yield self.of_row(case, row, words, at, "/".join(use.keys))
        elif use.state == ON:
            words = (
                f"{what}, which is on the limit of {percent(use.allowed)}: the molar masses do not say on which side"
            )
            yield self.of_row(case, row, f"{words} ({row.citation})", at, "/".join(use.keys), severity="warn")
        elif amounts.adjusted > use.allowed:
            most = percent(amounts.adjusted, use.allowed)
            words = f"{what}, and {most} with every adjustment at its 'at_most'; {allowed(use.allowed, found, row)}"
            yield self.of_row(case, row, words, at, "/".join(use.keys))

    def _window(self, case: Case, found: Compliance, hit: ApplicableRow) -> Iterator[Finding]:
        row = hit.row
        amounts = amount(found, hit.keys, row.basis)
        if any(low <= amounts.least and amounts.used <= high for low, high in row.windows):
            return
        choices = " or ".join(_range(low, high) for low, high in row.windows)
        edges = [edge for window in row.windows for edge in window]
        nearest = min(edges, key=lambda edge: abs(edge - amounts.used))
        ends = amounts.used if amounts.used > nearest else amounts.least
        what = described(found, hit.keys, ends, row, nearest)
        words = f"{what}; {choices} is what {found.a_product} may hold in {row.citation}"
        yield self.of_row(case, row, words, found.main_charge(hit.keys), "/".join(hit.keys))

    def _active(self, case: Case, found: Compliance, active: Active) -> Finding:
        """Word what a monograph of the United States does not allow of an active ingredient."""
        row, at = active.row, found.main_charge([active.key])
        if active.state == "without":
            others = " or ".join(row.others)
            words = (
                f"{found.spelled(active.key)}, {percent(active.pct)}: the monograph ({row.drug}) names it only "
                f"together with {others} ({row.citation})"
            )
            return self.of_row(case, row, words, at, active.key)
        windows = dict.fromkeys((one.windows[0], one.basis) for one in active.rows)
        choices = " or ".join(_range(low, high) + (f" as {basis}" if basis else "") for (low, high), basis in windows)
        edge = min(row.windows[0], key=lambda one: abs(one - active.used))
        what = described(found, [active.key], active.used, row, edge)
        words = f"{what}; {choices} is what {found.a_product} may hold in {row.citation}"
        note = f"; {row.note}" if row.note else ""
        return self.of_row(case, row, f"{words}{note}", at, active.key)

    def _pack(self, case: Case, found: Compliance, hit: ApplicableRow) -> Iterator[Finding]:
        row, pack = hit.row, case.recipe.pack
        amounts = amount(found, hit.keys, row.basis)
        mass = None if pack is None else pack_mass(case.sums, pack).mass
        names = ", ".join(found.spelled(key) for key in hit.keys)
        if mass is None or row.at_most is None:
            words = f"{names}: how much is in one pack is not known (pack size, density); limit by {row.citation}"
            yield self.of_row(case, row, words, ("pack",), "pack", severity="warn")
            return
        held = amounts.used / 100 * mass
        if held > row.at_most:
            as_what = f" as {row.basis}" if row.basis else ""
            words = (
                f"{names}: a pack of {pack} holds {shown(held * 1_000_000, 1, 1)} mg{as_what}; "
                f"{shown(row.at_most * 1_000_000, 0, 1)} mg is what {row.citation} allows"
            )
            yield self.of_row(case, row, words, ("pack",), "pack")


class LimitMargin(PackRule):
    """A limit that the nominal amounts meet is still met at the worst weighing inside their tolerances.

    Why: a balance is right within something.  A charge states `tolerance = "2 %"`, or workspace.toml one by
    ingredient, by function or for all; where the limit holds for the nominal amount alone, every other batch breaks
    it.  Where no file states a tolerance the one of common practice is what the weigh sheet allows: a limit that only
    this breaks is a note.
    """

    id = "limit-margin"
    legal = False
    severity = "warn"

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the worst weighing of every limited substance with its limit."""
        found = case.finished
        if found is None:
            return
        for use in uses(found, in_force(found, case.day)):
            amounts = use.amount
            if use.state != "inside" or amounts.adjusted > use.allowed or amounts.unknown:
                continue
            at = found.main_charge(list(use.keys))
            what = described(found, list(use.keys), amounts.used, use.row, use.allowed)
            limit = f"the limit of {percent(use.allowed)} ({use.row.citation})"
            nominal = f"{what}: only the nominal amount meets {limit}; the worst weighing comes to"
            name = "/".join(use.keys)
            if amounts.stated > use.allowed:
                yield self.of_row(case, use.row, f"{nominal} {percent(amounts.worst, use.allowed)}", at, name)
            elif amounts.used == use.allowed:
                yield self.of_row(case, use.row, f"{what}: exactly on the limit, {limit}", at, name, severity="note")
            elif amounts.worst > use.allowed:
                words = f"{nominal} {percent(amounts.worst, use.allowed)} inside the {PRACTICE_TOLERANCE}"
                yield self.of_row(case, use.row, words, at, name, severity="note")


def described(found: Compliance, keys: list[str], used: Fraction, row: LawRow, against: Fraction) -> str:
    """Write the amount of some substances, and what it counts as."""
    least, whole = (sum(ends, Fraction(0)) for ends in zip(*map(found.ends, keys), strict=True))
    names = " + ".join(f"{found.spelled(key)}{found.by_number(key, row)}" for key in keys).rstrip(",")
    counted = f", {percent(used, against)} as {row.basis}" if row.basis and used not in (least, whole) else ""
    edge = None if counted else against
    if least == whole:
        return f"{names}: {percent(whole, edge)}{counted}"
    low, high = percent(least, edge).removesuffix(" %"), percent(whole, edge)
    return f"{names}: {low} to {high} by the ranges that are stated{counted}"


def allowed(limit: Fraction, found: Compliance, row: LawRow) -> str:
    """Write what is allowed, in which product, and by what."""
    mixed = found.formula.recipe.get("mixed")
    said = f"{percent(limit)} is allowed in {found.a_product}"
    if not row.mixed:
        return f"{said} ({row.citation})"
    if mixed is not None:
        return f"{said} mixed {mixed} ({row.citation}: {percent(limit * found.share_of(row))} after mixing)"
    return f"{said} ({row.citation}, after mixing; what is mixed before use states 'mixed', \"1 to 1\")"


def _range(low: Fraction, high: Fraction) -> str:
    if not low:
        return f"at most {percent(high)}"
    return percent(low) if low == high else f"{percent(low).removesuffix(' %')} to {percent(high)}"
