"""The top of a review's page: whether to merge and why not, and the way to every recipe."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from formula_vcs.law.not_judged import not_judged_words
from formula_vcs.reports import review_document, review_extras
from formula_vcs.reports.page import parts, section
from formula_vcs.reports.page.shell import escape
from formula_vcs.review.compare import Comparison, Review

MOST_REASONS: Final = 4  # reasons that stand at the top: more do not fit a screen
MOST_LETTERS: Final = 300
MOST_NAMED: Final = 20  # recipes whose names stand open above the sheets


class Reason(NamedTuple):
    """Why not to merge: findings of one rule, in one recipe, by the same causes."""

    number: int
    review: Review
    message: str
    causes: tuple[str, ...] | None
    more: int


def css(review: Review) -> str:
    """Say how a recipe stands, in the words of the style."""
    found = review_document.worst(review)
    return "good" if not found or found[0].severity == "note" else parts.STYLES[found[0].severity]


def worst_first(reviews: Sequence[Review]) -> list[Review]:
    """Order recipes for somebody who has two minutes: what blocks, then what warns, then the rest."""
    rank = {"bad": 0, "warn": 1, "good": 2}
    return sorted(reviews, key=lambda review: (rank[css(review)], not review.new))


def verdict(comparison: Comparison, reviews: Sequence[Review], *, blocked: bool, evidence: bool) -> str:
    """Give the answer: what is loosened, the findings that block, then what else there is, and who decides."""
    reasons = _reasons(reviews)
    findings = [finding for review in reviews for finding in review_document.worst(review)]
    counts = {name: sum(found.severity == name for found in findings) for name in parts.STYLES}
    lines: list[str] = []
    held_up = any(finding.severity == "block" for finding in comparison.guarded)
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
    elif blocked:
        answer, look = "Do not merge yet", "warn"
        lines.append("<p>Nothing blocks by itself, but findings are as bad as --fail-on says.</p>")
    else:
        follows = counts["warn"] or comparison.guard or any(review.duties for review in reviews)
        words = review_document.calm(comparison).removeprefix("nothing blocks")
        answer, look = f"Nothing blocks this merge{words}", "warn" if follows else "good"
    lines.insert(0, _loosened(comparison))
    lines.append(_accepted(reviews))
    lines.append(_besides(reviews, counts, evidence=evidence))
    return f'<div class="verdict {look}" id="verdict"><p class="answer">{answer}</p>{"".join(lines)}</div>'


def _reasons(reviews: Sequence[Review]) -> list[Reason]:
    found: dict[tuple[int, str, tuple[str, ...] | None], Reason] = {}
    for number, review in enumerate(reviews, 1):
        news = [(item.finding, item.causes) for item in review.new]
        olds: list[tuple[str, ...]] = [() for _ in review.still]
        for finding, causes in [*news, *zip(review.still, olds, strict=True)]:
            if finding.severity == "block":
                key = (number, finding.rule, causes)
                known = found.get(key)
                found[key] = (
                    Reason(number, review, finding.message, causes, 0)
                    if known is None
                    else known._replace(more=known.more + 1)
                )
    return list(found.values())


def _list(reasons: Sequence[Reason]) -> str:
    lines: list[str] = []
    for reason in reasons[:MOST_REASONS]:
        message = reason.message
        if len(message) > MOST_LETTERS:
            message = f"{message[:MOST_LETTERS].rsplit(' ', 1)[0]} ..."
        more = f" (and {reason.more} more like it)" if reason.more else ""
        because = review_document.because(reason.causes, reason.review.changes)
        causes = f'<br><span class="because">because {escape(" and ".join(because[:3]))}</span>' if because else ""
        where = f'<a href="#r{reason.number}">{escape(reason.review.title)}</a>'
        lines.append(f"{where}: {escape(message)}{more}{causes}")
    rest = len(reasons) - MOST_REASONS
    if rest > 0:
        lines.append(f'<span class="muted">and {rest} more reasons, under the recipes</span>')
    return parts.items(lines, "reasons")


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


def _besides(reviews: Sequence[Review], counts: dict[str, int], *, evidence: bool) -> str:
    """Count warnings, notes and duties in one line, and say who decides."""
    words = [
        review_document.counted(counts[name], words)
        for name, words in (("warn", "warning"), ("note", "note"))
        if counts[name]
    ]
    duties = [duty for review in reviews for duty in review.duties]
    if duties:
        owners = ", ".join(dict.fromkeys(duty.owner for duty in duties))
        count = "1 duty follows" if len(duties) == 1 else f"{len(duties)} duties follow"
        words.append(f"{count} ({owners})")
    elif not evidence:
        words.append("no evidence recorded")
    besides = f"Besides: {', '.join(words)}. " if words else ""
    return parts.paragraph(f"{besides}{review_document.CAUTION}", "small")


def contents(reviews: Sequence[Review], *, verdicts: bool = True) -> str:
    """Give the way to every recipe, each with its own verdict where there are verdicts."""
    lines = []
    for number, review in enumerate(reviews, 1):
        state = f" {parts.tag(_short(review), css(review))}" if verdicts else ""
        why = _why(review) if verdicts else _size(review)
        lines.append(
            f'<a href="#r{number}">{escape(review.title)}</a>{state} <span class="small muted">{escape(why)}</span>'
        )
    if not lines:
        return ""
    rest = lines[MOST_NAMED:]
    more = parts.folded(f"{len(rest)} more recipes", parts.items(rest, "contents")) if rest else ""
    return f'<nav aria-label="Recipes">{parts.items(lines[:MOST_NAMED], "contents")}{more}</nav>'


def _short(review: Review) -> str:
    return {"bad": "blocked", "warn": "look at it", "good": "nothing blocks"}[css(review)]


def _why(review: Review) -> str:
    said = review_document.said(review).removeprefix("nothing blocks").removeprefix("; ").removeprefix("blocked ")
    return "; ".join(filter(None, (_size(review), said)))


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
