"""The ingredient list of the label before and after, with what came, went and moved marked in words."""

from __future__ import annotations

from typing import Final

from formula_vcs.diff.label_order import LabelMove
from formula_vcs.figures.breakdown import breakdown_of
from formula_vcs.model.ingredient import inci_key
from formula_vcs.reports import label_words
from formula_vcs.reports.page import parts
from formula_vcs.reports.page.shell import escape
from formula_vcs.reports.sheets import Label, default_market, label_of
from formula_vcs.review.compare import Review, ReviewSides

MOST: Final = 150


def inci(review: Review, sides: ReviewSides) -> str:
    """Write both lists; one, folded away, where they are the same.  A premix has none."""
    if sides.past.recipe.is_premix or sides.present.recipe.is_premix:
        return ""
    market = default_market(sides.present)
    old, new = (label_of(breakdown_of(f), market, sides.terms.day) for f in (sides.past, sides.present))
    if not old.lines and not new.lines:
        return ""
    lead = parts.paragraph(f"The ingredient list for the {market}.", "small muted")
    missing = parts.items(parts.cut([escape(f"not complete: {fact}") for fact in new.missing], 10, "facts"), "muted")
    before, now = _names(old), _names(new)
    if before == now:
        same = parts.folded("The ingredient list, which keeps its names and their order", _list(new, {}))
        return f"{lead}{same}{why(review)}{missing}"
    moved = {inci_key(move.name): _moved(move) for move in review.label if move.before and move.after}
    body = ""
    if old.lines:
        body += f"<dt>Before</dt><dd>{_list(old, dict.fromkeys(set(before) - set(now), 'gone'))}</dd>"
    if new.lines:
        marks = {**moved, **dict.fromkeys(set(now) - set(before), "new")} if old.lines else {}
        body += f"<dt>Now</dt><dd>{_list(new, marks)}</dd>"
    return f'{lead}<dl class="label">{body}</dl>{why(review)}{missing}'


def _names(label: Label) -> list[str]:
    return [inci_key(line.inci) for line in label.lines]


def _moved(move: LabelMove) -> str:
    if move.before == move.after:
        return label_words.PARTS[move.part]
    more = ", where any order will do" if move.only_free else ""
    more = f", {label_words.PARTS[move.part]}" if move.crossed else more
    return f"was {label_words.ordinal(move.before or 0)}{more}"


def why(review: Review) -> str:
    """Say in words which names of the list moved, and which changes did it."""
    lines = [
        escape(words) + "".join(f'<br><span class="because">{escape(reason)}</span>' for reason in why)
        for words, why in label_words.lines(review)
    ]
    return parts.folded("Which change moved which name", parts.items(lines)) if lines else ""


def _list(label: Label, marks: dict[str, str]) -> str:
    names: list[str] = []
    for line in label.lines[:MOST]:
        mark = marks.get(inci_key(line.inci))
        name = escape(line.inci)
        if mark == "gone":
            name = f'<del>{name}</del> <span class="small bad">(gone)</span>'
        elif mark == "new":
            name = f'<ins>{name}</ins> <span class="small good">(new)</span>'
        elif mark is not None:
            name = f'<em>{name}</em> <span class="small warn">({escape(mark)})</span>'
        names.append(name)
    rest = len(label.lines) - MOST
    more = f' <span class="muted">and {rest} more, left out here</span>' if rest > 0 else ""
    return f"<p>{', '.join(names)}{more}</p>"
