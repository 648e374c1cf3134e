"""What could explain a result that differs: the differences on record held against the table of causes.

Nothing is proved here.  A row of the table says which way a difference pushes a result; what pushes the way that the
result went could explain it, what pushes the other way could not, and is listed as that.  How they are put in order:

1. kind of evidence: large and on record in both batches; large, asked by the recipe, and not recorded as done; small;
   a difference that no number tells the way of;
2. its size, in units of what is called large for its quantity (`difference.LARGE`);
3. a row with a published source before one of common practice.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from formula_vcs.model.values import dataclass, field, replace
from formula_vcs.trace.cause_file import Cause, Symptom
from formula_vcs.trace.cause_table import causes
from formula_vcs.trace.difference import GRADES, Difference
from formula_vcs.trace.result_rows import ResultRow, ResultTold

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Candidate:
    """A difference that rows of the table are about; ``seen`` are results of premixes in which it showed already."""

    difference: Difference
    causes: tuple[Cause, ...]
    seen: tuple[Difference, ...] = ()


@dataclass(frozen=True, slots=True)
class Explained:
    """One result that went some way, and what is on record for and against.

    ``fits`` push the way that it went, the strongest evidence first.  ``open_`` are differences whose way no number
    tells, or that have a peak, so that either is possible.  ``against`` push the other way.  ``symptom`` is None where
    the table knows no result of that name.  ``told`` says that only a batch's note speaks of it.
    """

    result: str
    way: int
    symptom: Symptom | None
    fits: tuple[Candidate, ...] = ()
    open_: tuple[Candidate, ...] = ()
    against: tuple[Candidate, ...] = ()
    told: str = ""
    important: bool = True

    @property
    def all(self) -> tuple[Candidate, ...]:
        """Give all candidates."""
        return (*self.fits, *self.open_, *self.against)


@dataclass
class Explainer:
    """Explains results of one pair of batches; ``inner`` holds what was explained of premix batches, by the way there.

    A way names the premixes, the outermost first.
    """

    differences: Sequence[Difference]
    inner: Mapping[tuple[str, ...], Sequence[Explained]] = field(default_factory=dict)

    def result(self, row: ResultRow) -> Explained:
        """Explain one result; an outlier inside its spec by little is explained too, but said to matter less."""
        important = bool({row.before.verdict, row.after.verdict} - {"in"}) or abs(row.widths or Fraction(1)) >= _NOTABLE
        return self._explained(row.name, row.way, causes().symptom(row.name), important=important)

    def told(self, item: ResultTold) -> Explained:
        """Explain what a note says."""
        found = self._explained(item.symptom.name, item.way, item.symptom, important=True)
        return replace(found, told=item.batch)

    def _explained(self, name: str, way: int, symptom: Symptom | None, *, important: bool) -> Explained:
        if symptom is None:
            return Explained(name, way, None, important=important)
        rows = causes().of(symptom)
        fits: list[Candidate] = []
        unsure: list[Candidate] = []
        against: list[Candidate] = []
        for item in self.differences:
            if item.part == "results" and item.name == name:
                continue
            found = [row for row in rows if _about(row, item)]
            if not found:
                continue
            pushes = {item.way * row.sign for row in found} - {0}
            place = unsure if len(pushes) != 1 else fits if way in pushes else against
            told = [row for row in found if len(pushes) != 1 or item.way * row.sign in pushes]
            place.append(Candidate(item, tuple(told)))
        fits = self._behind(sorted(fits, key=_strength))
        return Explained(
            name, way, symptom, tuple(fits), tuple(sorted(unsure, key=_strength)),
            tuple(sorted(against, key=_strength)), important=important,
        )  # fmt: skip

    def _behind(self, fits: list[Candidate]) -> list[Candidate]:
        """Put what was measured on a premix under that which explains it in the premix itself."""
        ids = {candidate.difference.id for candidate in fits}
        shown: dict[str, list[Difference]] = {}
        for candidate in fits:
            item = candidate.difference
            if item.what == "result" and item.part == "lots":
                behind = self._inner_fits(item) & ids
                for other in behind:
                    shown.setdefault(other, []).append(item)
        gone = {item.id for items in shown.values() for item in items}
        return [
            replace(candidate, seen=tuple(shown.get(candidate.difference.id, ())))
            for candidate in fits
            if candidate.difference.id not in gone
        ]

    def _inner_fits(self, item: Difference) -> set[str]:
        way = (*item.via, item.about)
        found = [explained for explained in self.inner.get(way, ()) if explained.result == item.name]
        return {replace(one.difference, via=(*way, *one.difference.via)).id for each in found for one in each.fits}


# A result that moved less than this share of its spec's width, inside it, matters less: common practice.
_NOTABLE: Final = Fraction(1, 10)


def _about(row: Cause, item: Difference) -> bool:
    if item.what not in row.what or not row.fits(item.functions, item.roles, item.form):
        return False
    if item.what == "result" and (row.kind == "lot") != (item.part == "lots"):
        return False
    return item.what not in ("certificate", "result") or row.names(item.name)


def _strength(candidate: Candidate) -> tuple[int, float, bool, str]:
    item = candidate.difference
    published = any(cause.published for cause in candidate.causes)
    return (GRADES.index(item.grade), -item.weight, not published, item.id)


def uncovered(differences: Iterable[Difference], explained: Iterable[Explained]) -> tuple[Difference, ...]:
    """Give the differences that no row of the table is about, for any of the results that differ."""
    covered = {
        item.id for one in explained for candidate in one.all for item in (candidate.difference, *candidate.seen)
    }
    return tuple(item for item in differences if item.id not in covered and item.part != "results")
