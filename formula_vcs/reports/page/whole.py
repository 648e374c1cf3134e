"""The top of a review's page: whether to merge and why not, and the way to every recipe."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Final, NamedTuple

from formula_vcs.law.not_judged import not_judged_words
from formula_vcs.reports import review_document, review_extras
from formula_vcs.reports.page import parts, section, shapes
from formula_vcs.reports.page.first_facts import (
    FirstFacts,
    cost_words,
    duties_by_owner,
    first_facts,
    label_words,
    percent,
    used,
)
from formula_vcs.reports.page.shell import escape
from formula_vcs.review.compare import Comparison, Review
from formula_vcs.review.way_out import way_out
from formula_vcs.words.imitation import titled

MOST_REASONS: Final = 4  # reasons that stand at the top: more do not fit a screen
MOST_LETTERS: Final = 200
MOST_PLACES: Final = 6  # recipes, or changes, that one reason names
MOST_MEASURED: Final = 40  # recipes that are held against their limits for the table: each takes some 20 ms
MOST_TOLD: Final = 3  # recipes that the facts at the top name
MOST_NAMED: Final = 20  # recipes whose names stand open above the sheets


class Reason(NamedTuple):
    """Why not to merge: findings of one rule by the same causes, in one recipe or in several.

    ``places`` are the recipes with the numbers of their sheets, ``more`` counts findings like it.
    """

    message: str
    because: tuple[str, ...]
    places: tuple[tuple[int, Review], ...]
    more: int


def css(review: Review) -> str:
    """Say how a recipe stands, in the words of the style: amber also where only something has to follow."""
    found = review_document.worst(review)
    if found and found[0].severity != "note":
        return parts.STYLES[found[0].severity]
    return "warn" if review.duties else "good"


def worst_first(reviews: Sequence[Review]) -> list[Review]:
    """Order recipes for somebody who has two minutes: what blocks, then what warns, then the rest."""
    rank = {"bad": 0, "warn": 1, "good": 2}
    return sorted(reviews, key=lambda review: (rank[css(review)], not review.new))


def verdict(comparison: Comparison, reviews: Sequence[Review], *, blocked: bool, evidence: bool) -> str:
    """Give the answer on the first screen: merge or not, why, the way out, cost, limits, label, and who has what to do.

    What makes the judgement milder stands before the reasons.
    """
    reasons = _reasons(reviews)
    findings = [finding for review in reviews for finding in review_document.worst(review)]
    counts = {name: sum(found.severity == name for found in findings) for name in parts.STYLES}
    lines: list[str] = []
    held_up = any(finding.severity == "block" for finding in comparison.guarded)
    duties = duties_by_owner(reviews)
    if held_up and not counts["block"]:
        answer, look = "Do not merge", "bad"
    elif counts["block"]:
        answer, look = "Do not merge", "bad"
        held = sum(css(review) == "bad" for review in reviews)
        verb = "blocks" if counts["block"] == 1 else "block"
        lines.append(
            f"<p>{review_document.counted(counts['block'], 'finding')} {verb}, in {held} of "
            f"{review_document.counted(len(reviews), 'changed recipe')}.</p>"
        )
        lines.append(_list(reasons))
        lines.append(_way_out(reviews))
    elif blocked:
        answer, look = "Do not merge yet", "warn"
        lines.append("<p>Nothing blocks by itself, but findings are as bad as --fail-on says.</p>")
    else:
        follows = counts["warn"] or comparison.guard or duties
        words = review_document.calm(comparison).removeprefix("nothing blocks")
        answer, look = f"Nothing blocks this merge{words}{_but(duties)}", "warn" if follows else "good"
    lines.insert(0, _loosened(comparison))
    lines.append(_accepted(reviews))
    lines.append(_facts(reviews, duties))
    lines.append(_besides(counts, duties, evidence=evidence))
    return f'<div class="verdict {look}" id="verdict"><p class="answer">{escape(answer)}</p>{"".join(lines)}</div>'


def _but(duties: Mapping[str, Mapping[str, int]]) -> str:
    """Say in the answer itself that something has to be done: nobody reads on below a green line."""
    count = sum(map(len, duties.values()))
    return (
        f", but {review_document.counted(count, 'thing')} {'has' if count == 1 else 'have'} to be done" if count else ""
    )


def said(review: Review) -> str:
    """Give the verdict on one recipe in plain words, by what blocks and not by the names of rules."""
    found = [finding for finding in review_document.worst(review) if finding.severity == "block"]
    if not found:
        count = len({duty.duty for duty in review.duties})
        words = review_document.said(review)
        return f"{words}; {review_document.counted(count, 'thing')} to be done" if count else words
    rest = len(found) - 1
    return f"Blocked: {_short_words(found[0].message)}" + (f" (and {rest} more)" if rest else "")


def news(reviews: Sequence[Review]) -> str:
    """Name the new findings that block, each with the way to its recipe."""
    lines = [
        f'<a href="#r{number}">{escape(titled(review.title))}</a>: {escape(_short_words(item.finding.message))}'
        for number, review in enumerate(reviews, 1)
        for item in review.new
        if item.finding.severity == "block"
    ]
    return parts.items(parts.cut(lines, MOST_NAMED, "findings"), "reasons")


def _reasons(reviews: Sequence[Review]) -> list[Reason]:
    """Gather what blocks by its cause: the same cause in ten recipes is one reason."""
    found: dict[tuple[str, tuple[str, ...], str], Reason] = {}
    for number, review in enumerate(reviews, 1):
        news = [(item.finding, item.causes) for item in review.new]
        olds: list[tuple[str, ...]] = [() for _ in review.still]
        for finding, causes in [*news, *zip(review.still, olds, strict=True)]:
            if finding.severity == "block":
                because = tuple(review_document.because(causes, review.changes))
                # without a cause that is known, another recipe's finding is another matter
                key = (finding.rule, because, "" if because and causes else review.recipe)
                known = found.get(key)
                if known is None:
                    found[key] = Reason(finding.message, because, ((number, review),), 0)
                elif known.places[-1][0] == number:
                    found[key] = known._replace(more=known.more + 1)
                else:
                    found[key] = known._replace(places=(*known.places, (number, review)))
    return list(found.values())


def _list(reasons: Sequence[Reason]) -> str:
    lines: list[str] = []
    for reason in reasons[:MOST_REASONS]:
        more = f" (and {reason.more} more like it)" if reason.more else ""
        because = reason.because
        causes = f'<br><span class="because">because {escape(" and ".join(because[:3]))}</span>' if because else ""
        named = [
            f'<a href="#r{number}b">{escape(titled(review.title))}</a>'
            for number, review in reason.places[:MOST_PLACES]
        ]
        rest = len(reason.places) - MOST_PLACES
        where = ", ".join(named) + (f" and {rest} more recipes" if rest > 0 else "")
        lines.append(f"{where}: {escape(_short_words(reason.message))}{more}{causes}")
    rest = len(reasons) - MOST_REASONS
    if rest > 0:
        words = review_document.counted(rest, "more reason")
        lines.append(f'<span class="muted">and {words}, under the recipes</span>')
    return parts.items(lines, "reasons")


def _short_words(message: str) -> str:
    """Cut a finding to what fits the first screen; its link leads to the whole of it."""
    if len(message) <= MOST_LETTERS:
        return message
    return f"{message[:MOST_LETTERS].rsplit(' ', 1)[0]} ..."


def _way_out(reviews: Sequence[Review]) -> str:
    """Say what is left without the changes that block, as it was tried."""
    blocked = [review for review in reviews if css(review) == "bad"]
    found = [way_out(review) for review in blocked]
    known = [one for one in found if one is not None]
    if not known or len(known) < len(found):
        return (
            parts.paragraph("What is left without what blocks is not known: not all causes were found.")
            if known
            else ""
        )
    names = list(dict.fromkeys(review_document.brief(change) for one in known for change in one.changes))
    listed = ", ".join(names[:MOST_PLACES]) + (
        f" and {len(names) - MOST_PLACES} more" if len(names) > MOST_PLACES else ""
    )
    left = sum(len(one.left) for one in known)
    verb = "change blocks" if len(names) == 1 else "changes block"
    if left:
        end = f"without {'it' if len(names) == 1 else 'them'} {review_document.counted(left, 'finding')} still would"
    elif any(one.rest for one in known) or len(reviews) > len(blocked):
        end = f"without {'it' if len(names) == 1 else 'them'} nothing does, and the rest can be merged"
    else:
        end = f"without {'it' if len(names) == 1 else 'them'} nothing is left"
    return f"<p><strong>{len(names)} {verb}</strong>: {escape(listed)}; {end}.</p>"


def _facts(reviews: Sequence[Review], duties: Mapping[str, Mapping[str, int]]) -> str:
    """Give cost, limits, label and duties in a line each, of the recipes where most happens."""
    few = [review for review in reviews if review.status == "changed"][:MOST_MEASURED]
    if not few and not duties:
        return ""
    facts = [(review, first_facts(review)) for review in few]
    several = len(few) > 1

    def told(words: Callable[[FirstFacts], str]) -> str:
        said = [(titled(review.title), text) for review, found in facts if (text := words(found))]
        shown = [f"{title}: {text}" if several else text for title, text in said[:MOST_TOLD]]
        return "; ".join(shown) + (f"; and {len(said) - MOST_TOLD} more recipes" if len(said) > MOST_TOLD else "")

    facts = sorted(facts, key=lambda pair: -_weight(pair[1]))
    rows = {
        "cost of 1 kg": told(_cost) or "does not move",
        "nearest to a limit": told(lambda found: "; ".join(map(used, found.near))) or "nothing stands against a limit",
        "label": told(label_words) or "does not move",
        "to do": "; ".join(
            f"{owner}: {', '.join(_counted(name, count) for name, count in mine.items())}"
            for owner, mine in duties.items()
        )
        or "nothing follows",
    }
    cells = "".join(f"<dt>{name}</dt><dd>{escape(text)}</dd>" for name, text in rows.items())
    return f'<dl class="facts">{cells}</dl>'


def _cost(found: FirstFacts) -> str:
    return "not known" if found.cost_unknown else "" if found.cost is None else cost_words(found.cost)


def _weight(found: FirstFacts) -> Fraction:
    """Weigh how much a reader wants to see a recipe: by how far its cost moves."""
    relative = None if found.cost is None else found.cost.relative
    return Fraction(0) if relative is None else abs(relative)


def _counted(name: str, count: int) -> str:
    short = name[:1].lower() + name[1:]
    return f"{short} ({count} recipes)" if count > 1 else short


def _loosened(comparison: Comparison) -> str:
    """Say before all else what makes the judgement milder or blinder."""
    if not comparison.guard:
        return ""
    said = [
        f"{parts.tag(finding.severity, parts.STYLES[finding.severity])} "
        f"{escape(review_extras.loosened_words(finding, item))}"
        for finding, item in review_extras.loosened(comparison)
    ]
    return f"<p><strong>{review_extras.LOOSENED}:</strong></p>{parts.items(said, 'reasons')}"


def _accepted(reviews: Sequence[Review]) -> str:
    """Say what is accepted of the law: nobody may miss it."""
    said = [escape(review_extras.accepted_words(finding)) for review in reviews for finding in review.accepted]
    if not said:
        return ""
    listed = parts.items(parts.cut(said, MOST_NAMED, "findings"), "reasons")
    return f"<p><strong>{review_extras.ACCEPTED}:</strong></p>{listed}"


def _besides(counts: dict[str, int], duties: Mapping[str, Mapping[str, int]], *, evidence: bool) -> str:
    """Count warnings and notes in one line, and say who decides."""
    words = [
        review_document.counted(counts[name], words)
        for name, words in (("warn", "warning"), ("note", "note"))
        if counts[name]
    ]
    if not duties and not evidence:
        words.append("no evidence recorded")
    besides = f"Besides: {', '.join(words)}. " if words else ""
    return parts.paragraph(f"{besides}{review_document.CAUTION}", "small")


def contents(reviews: Sequence[Review], *, verdicts: bool = True) -> str:
    """Give the way to every recipe; of several a table with one scale of cost, what nothing blocks folded if many."""
    if not reviews:
        return ""
    facts = [first_facts(review, measured=verdicts and len(reviews) <= MOST_MEASURED) for review in reviews]
    scale = max((_weight(found) for found in facts), default=Fraction(0))
    rows = [
        _row(number, review, found, scale, verdicts=verdicts)
        for number, (review, found) in enumerate(zip(reviews, facts, strict=True), 1)
    ]
    heads = [
        "recipe",
        *(["state"] if verdicts else []),
        "changes",
        "cost of 1 kg",
        *(["nearest to a limit"] if verdicts else []),
        "label",
        *(["to do"] if verdicts else []),
    ]
    open_rows, rest = rows[:MOST_NAMED], rows[MOST_NAMED:]
    table = _table(heads, open_rows, "Recipes: how each stands, what it costs, its label and what follows")
    more = parts.folded(f"{len(rest)} more recipes", _table(heads, rest, "More recipes")) if rest else ""
    return f'<nav aria-label="Recipes">{table}{more}</nav>'


def _table(heads: Sequence[str], rows: Sequence[str], caption: str) -> str:
    head = "".join(f'<th scope="col">{name}</th>' for name in heads)
    return (
        f'<div class="wide recipes" tabindex="0" role="region" aria-label="{escape(caption)}"><table>'
        f'<caption class="seen-by-readers">{escape(caption)}</caption><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _row(number: int, review: Review, found: FirstFacts, scale: Fraction, *, verdicts: bool) -> str:
    duties = {duty.duty for duty in review.duties}
    near = "; ".join(f"{gauge.name} {gauge.said[1]}, {gauge.said[2]}" for gauge in found.near[:1])
    cells = [
        *([parts.tag(_short(review), css(review))] if verdicts else []),
        escape(_size(review)),
        _cost_cell(found, scale),
        *([escape(near)] if verdicts else []),
        escape(_label_counts(found)),
        *([escape((f"{len(duties)} things" if len(duties) > 1 else "1 thing") if duties else "")] if verdicts else []),
    ]
    name = f'<th scope="row"><a href="#r{number}">{escape(titled(review.title))}</a></th>'
    return f"<tr>{name}{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"


def _cost_cell(found: FirstFacts, scale: Fraction) -> str:
    """Draw the difference from a middle line, all recipes to one scale, with its number beside it."""
    if found.cost is None or found.cost.relative is None:
        return escape("not known" if found.cost_unknown else "")
    relative, words = found.cost.relative, percent(found.cost.relative)
    if not scale or not relative:
        return escape(words)
    half = float(relative / scale) * 48
    drawn = [shapes.line(50, 0, 50, 14, "axis"), shapes.bar(50, 50 + half, 3, 8, "s2" if half > 0 else "takes")]
    return f"{escape(words)}{shapes.picture('cost', cost_words(found.cost), 14, drawn, css='spark')}"


def _label_counts(found: FirstFacts) -> str:
    return ", ".join(
        f"{sign}{count}" if sign else f"{count} moved"
        for sign, count in (("+", len(found.came)), ("\u2212", len(found.went)), ("", found.moved))
        if count
    )


def _short(review: Review) -> str:
    state = css(review)
    found = review_document.worst(review)
    if state == "warn" and (not found or found[0].severity == "note"):
        return "to be done"
    return {"bad": "blocked", "warn": "look at it", "good": "nothing blocks"}[state]


def _size(review: Review) -> str:
    return review_document.whole(review) or review_document.counted(
        sum(not change.derived for change in review.changes), "change"
    )


def closing(comparison: Comparison, names: section.Names = section.NO_NAMES) -> str:
    """Write what stands beside the recipes, and count what is not listed."""
    beside = section.rows(review_document.beside(comparison.beside), names)
    pieces = [f'<section class="sheet"><h2>Beside the recipes</h2>{beside}</section>'] if beside else []
    pieces += [parts.paragraph(line, "muted") for line in review_document.unchanged(comparison)]
    if comparison.not_judged:
        pieces.append(parts.paragraph(not_judged_words(comparison.not_judged), "small"))
    return "".join(pieces)
