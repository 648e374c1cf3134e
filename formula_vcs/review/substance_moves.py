"""What became more or less in a recipe: substances, and the roles that they have."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.chemistry.roles import Need, Role, roles
from formula_vcs.diff.counterfactuals import Chosen, Counterfactuals, smallest
from formula_vcs.figures.breakdown import Breakdown, breakdown_of
from formula_vcs.figures.substance_parts import Part, Parts, parts_of, percent, total
from formula_vcs.law.compliance import compliance_of
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import SEVERITIES, Finding, Severity
from formula_vcs.model.formula import Formula
from formula_vcs.model.pair import class_tag
from formula_vcs.model.values import dataclass
from formula_vcs.rules.registry import RULES

# --- Substances that somebody cares about, before and after, in % w/w of the product: through premixes and blends


# Why a substance is worth a line, in the order in which the table has them.
REGULATED: Final = "regulated"
CLAIMED: Final = "claimed"
_ACTING: Final[dict[str, tuple[tuple[str, ...], tuple[str, ...]]]] = {
    "preserving": (("preservative",), ("preservative", "antimicrobial")),
    "UV-filtering": (("UV filter",), ("uv filter",)),
    "active": (("retinoid", "ascorbate", "self-tanner", "soluble fluoride"), ()),
    "chelating": (("chelator",), ("chelator", "chelating agent", "sequestrant")),
}
KINDS: Final = (REGULATED, *_ACTING, CLAIMED)
_LIMITS: Final = frozenset({"prohibited", "limit", "sum", "window"})
_SHORTEST: Final = 4  # letters of a name from which on a claim can be meant by it


@dataclass(frozen=True, slots=True)
class SubstanceMove:
    """One substance whose share of the product moved, in % w/w on both sides (0 where it is not there).

    ``kinds`` are of `KINDS`; ``name`` and ``cas`` are as the materials write them.
    """

    key: str
    name: str
    cas: str
    kinds: tuple[str, ...]
    before: Fraction
    after: Fraction

    @property
    def difference(self) -> Fraction:
        """Give after less before, in % of the product."""
        return self.after - self.before


def substance_moves(past: Formula, present: Formula) -> tuple[SubstanceMove, ...]:
    """Give what moved of the substances that a law limits, or that preserve, act, filter, chelate or are claimed.

    Nothing where an amount of either side is still open: what is not known did not move.
    """
    sides = breakdown_of(past), breakdown_of(present)
    if any(sums.composition.is_open or not sums.formula.recipe.charges for sums in sides):
        return ()
    old, new = (sums.substances for sums in sides)
    nothing = Fraction(0)
    moved = {
        key for key in {*old, *new} if key != "aqua" and old.get(key, nothing) != new.get(key, nothing)
    }  # fmt: skip
    if not moved:
        return ()
    kinds: dict[str, set[str]] = {}
    for sums in sides:
        for key, kind in _kinds(sums):
            if key in moved:
                kinds.setdefault(key, set()).add(kind)
    found = [
        SubstanceMove(
            key, *(sides[1].names.get(key) or sides[0].names[key]), tuple(kind for kind in KINDS if kind in own),
            old.get(key, nothing), new.get(key, nothing),
        )
        for key, own in kinds.items()
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda move: (KINDS.index(move.kinds[0]), -abs(move.difference), move.key)))


def _kinds(sums: Breakdown) -> Iterator[tuple[str, str]]:
    """Give the substances of a product that are worth a line, each with why."""
    parts = parts_of(sums)
    for key in _limited(sums):
        yield key, REGULATED
    for kind, (classes, functions) in _ACTING.items():
        for part in parts.acting(classes, functions):
            yield part.grain.key, kind
    for part in parts.all:
        if any(tag.startswith("function:") and "active" in tag.partition(":")[2].split() for tag in part.grain.tags):
            yield part.grain.key, "active"
    for key in _claimed(sums, parts):
        yield key, CLAIMED


def _limited(sums: Breakdown) -> Iterator[str]:
    """Give the substances that a row of a law or of the house limits in this kind of product."""
    if sums.formula.recipe.is_premix:
        return
    for hit in compliance_of(sums).hits:
        if hit.row.kind in _LIMITS:
            yield from hit.keys


def _claimed(sums: Breakdown, parts: Parts) -> Iterator[str]:
    """Give the substances that a claim of the recipe names."""
    claims = [claim.casefold() for claim in sums.formula.recipe.claims]
    for part in parts.all if claims else ():
        key = part.grain.key
        if len(key) >= _SHORTEST and any(key in claim for claim in claims):
            yield key


# --- Roles that a change left empty, or more than half: who held them, what they were there for, which change it was


_MOST_CHANGES: Final = 60  # of more changes none is named: each would have to be tried
_NAMED: Final = 3


@dataclass(frozen=True, slots=True)
class RoleChange:
    """A role that nobody holds now, or less than half is left of: amounts in % of the product, ``needs`` in words.

    ``holders`` name who held it: substance, material and % of the product.  ``causes`` are the ids of a smallest set of
    changes that does it; None where there are too many to try.
    """

    role: str
    before: Fraction
    after: Fraction
    empty: bool
    holders: tuple[tuple[str, str, Fraction], ...]
    needs: tuple[str, ...]
    severity: Severity
    says: str
    at: Path
    causes: tuple[str, ...] | None

    @property
    def words(self) -> str:
        """Say it: who is gone, what it was there for, and what follows."""
        named = [f"{name} ('{material}', {percent(pct)})" for name, material, pct in self.holders[:_NAMED]]
        more = f" and {len(self.holders) - _NAMED} more" if len(self.holders) > _NAMED else ""
        for_what = f"there for {', and for '.join(self.needs) or 'nothing that is stated here'}"
        if self.empty:
            left = f"; {percent(self.after)} is left, too little to count" if self.after else ""
            says = f"; {self.says}" if self.needs else ""
            return f"no {self.role} is left: {', '.join(named)}{more} was {for_what}{left}{says}"
        moved = f"{percent(self.before)} \u2192 {percent(self.after)}"
        return f"less than half of the {self.role} is left: {moved}; it is {for_what}"


def role_changes(past: Formula, present: Formula, trials: Counterfactuals) -> tuple[RoleChange, ...]:
    """Give the roles that the old version held and the new one does not, or holds less than half of."""
    if not past.recipe.charges or not present.recipe.charges or past.recipe.is_premix:
        return ()
    old, new = (parts_of(breakdown_of(side)) for side in (past, present))
    if old.sums.composition.is_open or new.sums.composition.is_open:
        return ()
    found = (_changed(role, old, new, trials) for role in roles())
    return tuple(one for one in found if one is not None)


def _changed(role: Role, old: Parts, new: Parts, trials: Counterfactuals) -> RoleChange | None:
    if role.emulsion and not old.water_in_oil:
        return None
    holders = held(role, old)
    before, after = total(holders), total(held(role, new))
    if before < role.floor or not _lost(role, before, after):
        return None
    empty = after < role.floor
    needs = [need for need in role.needs if _met(need, new)]
    if not needs and (not role.always or any(_met(need, old) for need in role.needs)):
        return None  # what it was there for went with it
    severities: list[Severity] = [*(need.severity for need in needs), "note"]
    worst = min(severities, key=SEVERITIES.index)
    amounts: dict[tuple[str, str], Fraction] = {}
    for part in holders:
        key = (part.grain.spelled, part.grain.material)
        amounts[key] = amounts.get(key, Fraction(0)) + part.pct
    ranked = sorted(((name, material, pct) for (name, material), pct in amounts.items()), key=lambda one: -one[2])
    return RoleChange(
        role.id, before, after, empty, tuple(ranked), tuple(need.words for need in needs),
        worst if empty else "note", role.says, _place(holders, new), _causes(role, before, empty, trials),
    )  # fmt: skip


def _lost(role: Role, before: Fraction, after: Fraction) -> bool:
    return after < role.floor or after * 2 < before


def held(role: Role, parts: Parts) -> list[Part]:
    """Give the parts that hold a role: by class or function; of a buffer, acid and salt where both are there."""
    found = parts.acting(role.classes, role.functions)
    bases = parts.called([class_tag("base")]) if role.both else []
    for acids, salts in role.both:
        acid, salt = parts.called(acids), parts.called(salts)
        if acid and (salt or bases):
            known = {id(part) for part in found}
            found += [part for part in (*acid, *salt) if id(part) not in known]
    return [part for part in found if part.pct > 0]


def _met(need: Need, parts: Parts) -> bool:
    """Say whether a product has what a role is there for."""
    recipe = parts.sums.formula.recipe
    if need.spec and need.spec not in recipe.spec:
        return False
    if need.emulsion and not parts.water_in_oil:
        return False
    if need.form and not any((recipe.get("form") or "").casefold().startswith(form) for form in need.form):
        return False
    if need.water and parts.water < need.water:
        return False
    if not (need.substances or need.classes or need.functions):
        return True
    tags = {*need.substances, *map(class_tag, need.classes), *(f"function:{name}" for name in need.functions)}
    return total(parts.called(tags)) > need.above


def _place(holders: Sequence[Part], new: Parts) -> Path:
    """Give the charge of a holder that is still there, else the place where the largest stood."""
    still = {charge.key: charge.path for charge in new.sums.formula.recipe.charges}
    largest = max(holders, key=lambda part: part.pct)
    phase, _, name = largest.charge.partition("/")
    return next((still[part.charge] for part in holders if part.charge in still), ("phase", phase, "charge", name))


def _causes(role: Role, before: Fraction, empty: bool, trials: Counterfactuals) -> tuple[str, ...] | None:
    """Give a smallest set of the changes that does as much."""
    if len(trials.changes) > _MOST_CHANGES:
        return None

    def holds(chosen: Chosen) -> bool:
        after = total(held(role, parts_of(trials.sums(chosen))))
        return after < role.floor if empty else _lost(role, before, after)

    return tuple(trials.changes[i].id for i in sorted(smallest(len(trials.changes), holds)))


def as_finding(change: RoleChange, recipe: str, file: str) -> Finding:
    """Give a role that is empty as a finding of the review."""
    rule = RULES["role-empty"]
    return Finding(
        rule.id, change.severity, change.words, file, at=change.at, recipe=recipe, source=rule.source,
        subject=change.role,
    )  # fmt: skip
