"""Where a lot went, as one page."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports.lot_uses import words
from formula_vcs.reports.page.shell import document, escape
from formula_vcs.trace.recall import LotTaken, Recall


def write(found: Recall, *, out: TextIO) -> None:
    """Write all batches by date."""
    title = words.title(found)
    doubts = "".join(f'<p><span class="tag warn">mind</span> {escape(line)}</p>' for line in words.doubts(found))
    body = (
        f'<header><h1>{escape(title)}</h1></header><main><div class="verdict"><p class="answer">'
        f"{escape(words.verdict(found))}</p>{doubts}</div>{_table(found)}</main>"
    )
    out.write(document(title, body))


def _table(found: Recall) -> str:
    if not found.taken:
        return ""
    names = ("batch", "date", "recipe", "size", "packs", "of the lot", "by way of")
    heads = "".join(f'<th scope="col">{name}</th>' for name in names)
    rows = "".join(map(_row, found.taken))
    return (
        '<section class="sheet" aria-labelledby="b1"><h2 id="b1">Batches</h2><div class="wide" tabindex="0" '
        'role="region" aria-label="Batches"><table><caption>Batches that hold some of the lot, by date</caption>'
        f"<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div></section>"
    )


def _row(item: LotTaken) -> str:
    cells = (
        words.date(item), item.batch.recipe or "", str(item.batch.size or ""), words.packs(item), words.mass(item),
        words.ways(item).removeprefix("by way of "),
    )  # fmt: skip
    told = "".join(f'<td class="num">{escape(cell)}</td>' for cell in cells)
    return f'<tr><th scope="row">{escape(item.batch.id)}</th>{told}</tr>'
