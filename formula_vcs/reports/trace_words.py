"""The sentences of a trace, the same in every format; whoever writes them makes them harmless for where they land."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.model.values import dataclass
from formula_vcs.reports.deviation_words import deviation_lines
from formula_vcs.reports.review_document import ARROW, counted
from formula_vcs.reports.trace_values import (
    WHATS,
    commit_words,
    percent,
    remark,
    short,
    signed_text,
    value,
    widths_of,
)
from formula_vcs.trace.difference import DRY, ITSELF, WIDTH, Difference
from formula_vcs.trace.explain import Candidate, Explained
from formula_vcs.trace.trace import Trace
from formula_vcs.words.numbers import rounded

RANKING: Final = (
    "Order: first what is on record in both batches and large, then what is large and only asked for, then what is "
    "small, each by its size; a row with a published source before one of common practice. Large is 5 % of an amount, "
    "20 % of a time, 10 % of a speed, 5 K, a quarter of a spec's width (common practice, no source)."
)
NO_RESULTS: Final = "No result is recorded."
NO_PROOF: Final = "What is listed could explain it; nothing here proves that it did."
_GRADES: Final = {
    "large": "on record in both batches, and large",
    "asked": "asked by the recipe; what was done is not on record in both batches",
    "small": "on record, and small",
    "open": "it differs, and no number says which way",
}


def title(trace: Trace) -> str:
    """Name what is compared."""
    if trace.aim:
        return f"Trace of {trace.new.batch.id} against its recipe"
    return f"Trace of {trace.old.batch.id} and {trace.new.batch.id}"


def headers(trace: Trace) -> Iterator[str]:
    """Say of each batch when, of what, how much, by whom, from which version."""
    for side in (trace.new,) if trace.aim else (trace.old, trace.new):
        batch, words = side.batch, []
        words.append(str(batch.date) if batch.date is not None else "no date")
        if side.formula is not None:
            words.append(side.formula.recipe.title)
        elif batch.recipe is not None:
            words.append(batch.recipe)
        words += [str(batch.size)] if batch.size is not None else []
        words += [f"made by {batch.made_by}"] if batch.made_by is not None else []
        words += [f"from commit {short(batch.commit)}"] if batch.commit is not None else []
        words += ["not closed"] if batch.closed is None else []
        yield f"{batch.id}: {', '.join(words)}"
        yield from deviation_lines(batch)


def heading(one: Explained, trace: Trace) -> str:
    """Say which result went which way."""
    if one.told:
        way = "more" if one.way > 0 else "less"
        return f"{one.result}, {way} in {trace.new.batch.id} by the note of {one.told}; no result measures it"
    row = next(row for row in trace.results if row.name == one.result)
    way = "higher" if one.way > 0 else "lower"
    if trace.aim:
        return f"{one.result} {value(row.pair.new)}, {row.after.verdict} the spec {row.spec}"
    small = "" if one.important else ", less than a tenth of the spec's width"
    return f"{one.result} {way}: {value(row.pair.old)} {ARROW} {value(row.pair.new)}{small}"


def verdict(one: Explained) -> str:
    """Say in a sentence what the record holds for a result."""
    if one.symptom is None:
        return "The table of causes knows no result of that name."
    if not one.fits:
        more = f"; {counted(len(one.open_), 'difference')} could be it either way" if one.open_ else ""
        return f"Nothing on record pushes it that way{more}."
    if len(one.fits) == 1:
        return "One thing on record pushes it that way."
    strong = sum(item.difference.grade != "small" for item in one.fits)
    small = len(one.fits) - strong
    count = f"{len(one.fits)} things" if not small else f"{counted(strong, 'thing')} and {small} of less weight"
    count = count if strong else f"{small} things of little weight"
    return (
        f"{count} on record push it that way. The record cannot say which of them it was, or how much each did: a "
        "batch with one of them put back can."
    )


def strongest(one: Explained) -> tuple[Candidate, ...]:
    """Give the candidates that are not small, or all where all are."""
    return tuple(item for item in one.fits if item.difference.grade != "small") or one.fits


def candidate_title(candidate: Candidate) -> str:
    """Say a difference in a line."""
    return difference_words(candidate.difference)


def difference_words(item: Difference) -> str:
    """Say a difference in a line: ``hydrate-gum, time: 8 min -> 4 min, -50 %``."""
    via = f"in {', in '.join(reversed(item.via))}: " if item.via else ""
    return f"{via}{_about(item)}: {_from_to(item)}{_size(item)}"


def _about(item: Difference) -> str:
    if item.what == "amount":
        return item.about
    if item.what in ("certificate", "result"):
        return item.name if item.part == "results" else f"{item.about}, {item.name} of the lot"
    if item.what == "lot":
        return f"{item.about}, lot"
    if item.name and item.what in ("grade", "equipment"):
        return f"{item.about}, {item.name.replace('/', ' ')}"
    if item.about in ("batch", "steps"):
        return item.what if item.what != "order" else "order of steps"
    return f"step {item.about}, {item.name or WHATS.get(item.what, item.what)}"


def _from_to(item: Difference) -> str:
    if item.aim:
        return f"{item.new}, the middle of its spec is {item.old}"
    if item.old is None:
        return f"now {item.new}"
    if item.new is None:
        return f"was {item.old}, now none"
    return f"{item.old} {ARROW} {item.new}"


def _size(item: Difference) -> str:
    if item.size is None or item.old is None or item.new is None:
        return ""
    if item.of == ITSELF:
        return f", {percent(item.size, sign=True)}" if item.part != "making" or item.what != "amount" else ""
    if item.of == DRY:
        return f", {percent(item.size, sign=True)} dry matter"
    if item.of == WIDTH:
        return f", {widths_of(item.size)} of the spec's width"
    if item.of == "points":
        return f", {signed_text(rounded(item.size * 100, 2))} points"
    return f", {signed_text(rounded(item.size, 1))} {item.of}"


def evidence(candidate: Candidate) -> Iterator[str]:
    """Give what stands behind a candidate: commits, lots, what premixes showed, why, and the source."""
    item = candidate.difference
    for commit in item.by:
        yield f"commit {commit_words(commit)}"
    if item.undone:
        yield "these commits are in the older batch's version only"
    yield from item.notes
    yield from _seen(candidate)
    yield _GRADES[item.grade].replace(" in both batches", "") if item.aim else _GRADES[item.grade]
    for cause in candidate.causes:
        yield f"{cause.why} ({cause.cited})"


def _seen(candidate: Candidate) -> Iterator[str]:
    """Say in which premix it showed: in the outermost, and in how many more on the way."""
    if not candidate.seen:
        return
    first, *rest = sorted(candidate.seen, key=lambda item: len(item.via))
    more = "" if not rest else f", and in {len(rest)} more on the way" if len(rest) > 1 else ", and in one more"
    yield f"it showed in the premix already: {difference_words(first)}{more}"


@dataclass(frozen=True, slots=True)
class Short:
    """What is told of one result before all else: the lines of what fits, what may be either way, and what may not."""

    head: str
    verdict: str
    fits: tuple[str, ...]
    rest: tuple[str, ...]


_MOST: Final = 5


def summary(trace: Trace) -> Iterator[Short]:
    """Give for each result that matters what a reader wants first."""
    for one in trace.explained:
        if one.important:
            row = next((row for row in trace.results if row.name == one.result), None)
            spec = "" if row is None or trace.aim else remark(row)
            head = f"{heading(one, trace)}{f' ({spec})' if spec else ''}"
            fits = tuple(map(brief, strongest(one)))
            rest = [f"and {len(fits) - _MOST} more, see part 5"] if len(fits) > _MOST else []
            if not one.fits:
                rest += [f"could be either way: {candidate_title(item)}" for item in one.open_[:_MOST]]
            other = [item for item in one.against if item.difference.grade != "small"]
            rest += [f"points the other way: {candidate_title(item)}" for item in other]
            yield Short(head, verdict(one), fits[:_MOST], tuple(rest))


def is_told(one: Explained) -> bool:
    """Say whether the verdict on a result stands at the top already."""
    return one.important


def any_candidate(trace: Trace) -> bool:
    """Say whether anything is listed that could explain a result."""
    return any(one.all for one in trace.explained)


def brief(candidate: Candidate) -> str:
    """Say a candidate in a line, with the commit or the lot that it came by."""
    item = candidate.difference
    by = f" (commit {', '.join(short(commit.oid) for commit in item.by)})" if item.by else ""
    lots = f" ({item.notes[0]})" if item.part == "lots" and item.notes else ""
    return f"{candidate_title(candidate)}{by}{lots}"


def nothing(trace: Trace) -> str:
    """Say plainly that nothing differs; empty where something does."""
    if not trace.alone:
        return ""
    inside = f" {counted(trace.put_aside, 'difference')} lie inside tolerances." if trace.put_aside > 1 else ""
    if trace.put_aside == 1:
        inside = " One difference lies inside its tolerance."
    if trace.aim:
        return f"Nothing that is recorded is off the recipe.{inside}"
    moved = any(one.important for one in trace.explained) or any(row.state == "slip" for row in trace.results)
    but = " but the results" if moved else ""
    return f"Nothing recorded differs{but}.{inside}"


def calm(trace: Trace) -> str:
    """Say plainly that no result asks for an explanation, or that there is none to ask about."""
    sides = [(row.pair.new,) if trace.aim else (row.pair.old, row.pair.new) for row in trace.results]
    if not any(value is not None for values in sides for value in values):
        return NO_RESULTS
    if trace.aim:
        return "Every result that is recorded is in its spec."
    if not any(all(value is not None for value in values) for values in sides):
        return "No result is recorded of both."
    return "No result that both record differs by much."


def unexplained(trace: Trace) -> str:
    """Say that there is no result to explain."""
    return "No result is off its spec." if trace.aim else "No result differs beyond what its digits show."


def gap_lines(trace: Trace) -> list[str]:
    """Say what is not recorded, or that all is; nothing where it stands at the top, beside that nothing differs."""
    if trace.alone and trace.missing:
        return []
    return list(trace.missing) or ["Nothing that a trace looks at is missing."]


def uncovered_lines(trace: Trace) -> list[str]:
    """Say the differences that no row of the table is about."""
    return [difference_words(item) for item in trace.uncovered]
