"""In place of a weigh sheet: what forbids the batch, in the format that was asked for."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Final

from formula_vcs.model.finding import Finding
from formula_vcs.reports import check, formats
from formula_vcs.reports.document.markup import Markup
from formula_vcs.reports.page.parts import items, tag
from formula_vcs.reports.page.shell import document, escape

# findings on a page, so that it stays one and is laid out in time
MOST: Final = 200


def rendered(findings: Sequence[Finding], recipe: str, form: str) -> bytes | str:
    """Give the findings as text, json (by the schema check.json), html or pdf; a PDF is bytes."""
    if form == "html":
        return page(findings, recipe)
    if form == "pdf":
        from formula_vcs.reports.page.on_paper import laid_out

        return laid_out(page(findings, recipe))
    out = io.StringIO()
    formats.write(check.REPORT, check.CheckShown(findings, blocked=True, recipes=1), form, out)
    return out.getvalue()


def page(findings: Sequence[Finding], recipe: str) -> str:
    """Give a page that nobody takes for a sheet: what blocks, each with its place."""
    title = f"No batch of {recipe} is made"
    answer = "1 finding forbids it." if len(findings) == 1 else f"{len(findings)} findings forbid it."
    rows = [
        f"{tag(finding.severity, 'bad')} {escape(finding.message)}<br>"
        f'<span class="small muted"><span class="id">{escape(finding.path)}:{finding.line}:{finding.column}</span> '
        f"[{escape(finding.rule)}]</span>"
        for finding in findings[: MOST + 1]
    ]
    if len(findings) > MOST:
        rows[MOST:] = [f'<span class="muted">and {len(findings) - MOST} more, left out here</span>']
    return document(
        title,
        Markup(
            f"<header><h1>{escape(title)}</h1></header>\n<main>"
            f'<div class="verdict bad"><p class="answer">{answer}</p></div>'
            f"{items(rows, 'findings')}</main>"
        ),
    )
