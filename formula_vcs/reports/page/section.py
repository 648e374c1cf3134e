"""One recipe on a page: its verdict, the four parts of a review, and the pictures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from formula_vcs.model.finding import Finding
from formula_vcs.reports import review_document, review_extras
from formula_vcs.reports.page import parts
from formula_vcs.reports.page.composition import composition
from formula_vcs.reports.page.gauges import gauges
from formula_vcs.reports.page.inci import inci, why
from formula_vcs.reports.page.lanes import lanes
from formula_vcs.reports.page.limits import limits
from formula_vcs.reports.page.shell import escape
from formula_vcs.reports.page.waterfall import waterfall
from formula_vcs.review.compare import Review, ReviewSides
from formula_vcs.review.looking_ahead import Deadline
from formula_vcs.words.imitation import titled

MOST_ROWS: Final = 100  # changes, findings or duties that are written out in one list
MOST_SHARES: Final = 20
NO_PICTURES: Final = (
    "Pictures are left out here to keep the page small; ask for this recipe by its name to have them drawn."
)
TO_TYPE: Final = "What --only and --without call a change stands behind it."
Names = Mapping[tuple[str, str], str]
NO_NAMES: Final[Names] = {}


def heading(review: Review, number: int, verdict: str, css: str) -> str:
    """Open the sheet of a recipe and give the verdict on it."""
    title = escape(titled(review.title))
    if review.title != review.recipe:
        title += f' <span class="muted small id">{escape(review.recipe)}</span>'
    said = (
        f'<div class="verdict {css}"><p class="answer">{escape(verdict[:1].upper() + verdict[1:])}</p></div>'
        if verdict
        else ""
    )
    return f'<h2 id="r{number}h">{title}</h2>{said}'


def sheet(number: int, html: str) -> str:
    """Put the parts of a recipe on a sheet; ``number`` makes its id."""
    return f'<section class="sheet" id="r{number}" aria-labelledby="r{number}h">{html}</section>\n'


def changed(review: Review, names: Names = NO_NAMES) -> str:
    """Write part 1; ``names`` are those by which a change can be taken or left (`changes.names.names_of`)."""
    whole = review_document.whole(review)
    if whole:
        body = parts.paragraph(f"{whole[:1].upper()}{whole[1:]}.")
    else:
        body = rows(review_document.rows(review.changes, review.swaps), names, review.recipe)
        body += parts.paragraph(TO_TYPE, "small muted") if any(name[0] == review.recipe for name in names) else ""
    return f"<h3>What changed</h3>{body}"


def rows(found: Sequence[review_document.ChangeRow], names: Names = NO_NAMES, recipe: str = "") -> str:
    """Write changes as a list, what only follows from others behind them."""
    lines = []
    for row in found:
        sign, css = ("follows:", "muted") if row.follows else (row.sign, "sign")
        lead = f'<span class="{css}">{escape(sign)}</span>'
        name = names.get((recipe, row.id))
        typed = f' <span class="small muted id">{escape(name)}</span>' if name else ""
        lines.append(f"{lead} {escape(row.text)}{typed}{parts.items([escape(more) for more in row.more], 'muted')}")
    return parts.items(parts.cut(lines, MOST_ROWS, "changes"), "changes")


def does(review: Review, *, pictures: bool) -> str:
    """Write part 2: what stands against a limit, the cost, the figures, what it is made of, the label, the process."""
    pieces = _pictures(review, review.sides) if pictures and review.sides is not None else {}
    if review.status == "changed":
        # the words that go with the first two pictures stand under them
        order = {"Against the limits": "", "Cost": "", "Figures": _figures(review), "Substances": _substances(review)}
        pieces = {**order, **pieces}
    drawn = "".join(f"<h4>{title}</h4>{html}" for title, html in pieces.items() if html)
    for name, words in review_extras.lists(review):
        drawn += f"<h4>{escape(name[:1].upper() + name[1:])}</h4>{parts.paragraph(words)}"
    if not pictures:
        drawn += why(review)
        drawn += parts.paragraph(NO_PICTURES, "muted")
    return f"<h3>What it does</h3>{drawn}" if drawn else ""


def _pictures(review: Review, sides: ReviewSides) -> dict[str, str]:
    """Give what is drawn of a recipe, by its heading; of one that went only what it was made of."""
    if review.status == "removed":
        return {"Composition": composition(sides)}
    return {
        "Against the limits": limits(gauges(sides)),
        "Cost": waterfall(review, "cost_per_kg"),
        "Composition": composition(sides),
        "The label": inci(review, sides),
        "The process": lanes(review, sides),
    }


def _figures(review: Review) -> str:
    moves = review_document.moves(review)
    if not moves.moved and not moves.less:
        return parts.paragraph("No figure moves.")
    pieces: list[str] = []
    if moves.moved:
        cells = [(item.name, item.before, item.after, item.difference) for item in moves.moved]
        notes = ["; ".join(filter(None, (item.unit, item.by and f"by {item.by}"))) for item in moves.moved]
        heads = ("figure", "before", "now", "difference")
        pieces.append(parts.table("Figures that move", heads, cells, numbers=(1, 2, 3), notes=notes, named=True))
    shares = [_shares(item) for item in moves.moved if item.parts or item.notes]
    if shares:
        pieces.append(parts.folded("How much each change brought", "".join(shares)))
    if moves.less:
        pieces.append(parts.paragraph(_less(moves.less), "muted"))
    if moves.missing:
        lines = parts.cut([f"missing {escape(fact)}" for fact in moves.missing], MOST_SHARES, "facts")
        pieces.append(parts.items(lines, "muted"))
    return "".join(pieces)


def _substances(review: Review) -> str:
    found = review_document.substances(review)
    if not found:
        return ""
    cells = [(item.name, item.before, item.after, item.difference) for item in found]
    notes = ["; ".join(filter(None, (item.relative, item.why))) for item in found]
    heads = ("substance", "before, %", "now, %", "difference")
    return parts.table("Substances that move", heads, cells, numbers=(1, 2, 3), notes=notes, named=True)


def _less(names: Sequence[str]) -> str:
    return f"{review_document.folded(names)}."


def _shares(item: review_document.MovedFigure) -> str:
    lines = [f'<span class="num">{escape(part.value)}</span> {escape(part.text)}'.strip() for part in item.parts]
    notes = [f'<span class="muted">{escape(note)}</span>' for note in item.notes]
    list_of = parts.items([*parts.cut(lines, MOST_SHARES, "changes"), *notes])
    return f"<p><strong>{escape(item.name)}</strong> {escape(item.difference)}</p>{list_of}"


def breaks(review: Review, number: int = 0) -> str:
    """Write part 3: findings new with their causes, gone, and still there; ``number`` is that of the sheet."""
    fresh = [
        finding(item.finding) + parts.because(review_document.because(item.causes, review.changes))
        for item in sorted(review.new, key=lambda item: parts.RANK[item.finding.severity])
    ]
    pieces = [parts.items(parts.cut(fresh, MOST_ROWS, "findings"), "findings") or parts.paragraph("Nothing new.")]
    if review.ahead:
        coming = [_coming(item, review) for item in review.ahead]
        pieces.append(f"<h4>To come</h4>{parts.items(parts.cut(coming, MOST_ROWS, 'findings'), 'findings')}")
    blocking = [found for found in review.still if found.severity == "block"]
    if blocking:
        pieces.append(f"<h4>Still there</h4>{_listed(blocking)}")
    rest = [found for found in review.still if found.severity != "block"]
    if rest:
        words = review_document.still_counted(review, besides="block")
        pieces.append(parts.folded(f"{words[:1].upper()}{words[1:]}", _listed(rest)))
    if review.gone:
        gone = [
            finding(found) + parts.because(review_document.because(cure, review.changes), "cured by")
            for found, cure in review_document.cured(review)
        ]
        pieces.append(f"<h4>Gone</h4>{parts.items(parts.cut(gone, MOST_ROWS, 'findings'), 'findings')}")
    html = f"<h3>What it breaks</h3>{''.join(pieces)}"
    return f'<div id="r{number}b">{html}</div>' if number else html


def _coming(item: Deadline, review: Review) -> str:
    why = "".join(f'<br><span class="small">{escape(words)}</span>' for words in review_extras.why(item))
    because = parts.because(review_document.because(item.causes, review.changes))
    return f"<strong>{escape(review_extras.when(item))}</strong><br>{finding(item.finding)}{why}{because}"


def _listed(findings: Iterable[Finding]) -> str:
    ordered = sorted(findings, key=lambda found: parts.RANK[found.severity])
    return parts.items(parts.cut([finding(found) for found in ordered], MOST_ROWS, "findings"), "findings")


def finding(found: Finding) -> str:
    """Write a finding: how bad, the words, and where it stands."""
    spot = f"{found.path}:{found.line}:{found.column}" if found.line else found.path
    source = f"; {found.source}" if found.source and found.source not in found.message else ""
    mend = "" if found.mend is None else f'<br><span class="small">{escape(found.mend.said)}</span>'
    return (
        f"{parts.tag(found.severity, parts.STYLES[found.severity])} {escape(found.message)}{mend}"
        f'<br><span class="small muted"><span class="id">{escape(found.rule)}</span>, '
        f'<span class="id">{escape(spot)}</span>{escape(source)}</span>'
    )
