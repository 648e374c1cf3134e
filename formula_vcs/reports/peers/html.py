"""A batch among its peers, as one page."""

from __future__ import annotations

from typing import TextIO

from formula_vcs.reports.page.shell import document, escape
from formula_vcs.reports.peers import words
from formula_vcs.trace.peers import Among, PeerRow


def write(found: Among, *, out: TextIO) -> None:
    """Write all values, those that stand out first."""
    title = words.title(found)
    lines = "".join(f"<p>{escape(line)}</p>" for line in (*words.verdicts(found), *words.fresh(found)))
    css = "warn" if found.unusual else "good"
    parts = [f'<header><h1>{escape(title)}</h1></header><main><div class="verdict {css}">{lines}</div>']
    for number, (kind, head) in enumerate(words.heads().items(), 1):
        rows = [row for row in found.rows if row.kind == kind]
        if rows:
            parts.append(_section(number, head, rows))
    parts.append(f'<p class="small muted">{escape(words.HOW)}</p></main>')
    out.write(document(title, "\n".join(parts)))


def _section(number: int, head: str, rows: list[PeerRow]) -> str:
    specs = any(words.spec(row) for row in rows)
    names = ("", "value", "peers", "how far", *(["spec"] if specs else []))
    heads = "".join(f'<th scope="col">{word}</th>' for word in names)
    body = "".join(_row(row, specs=specs) for row in rows)
    return (
        f'<section class="sheet" aria-labelledby="p{number}"><h2 id="p{number}">{escape(head)}</h2>'
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(head)}"><table>'
        f"<caption>{escape(head)}, what stands out most first</caption>"
        f"<thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table></div></section>"
    )


def _row(row: PeerRow, *, specs: bool) -> str:
    tag = ' <span class="tag warn">stands out</span>' if row.stands_out else ""
    cells = (str(row.value), words.usual(row), words.far(row), *([words.spec(row)] if specs else []))
    told = "".join(f'<td class="num">{escape(cell)}</td>' for cell in cells)
    return f'<tr><th scope="row">{escape(words.name(row))}{tag}</th>{told}</tr>'
