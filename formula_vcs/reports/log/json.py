"""The versions of a recipe as JSON, by the schema log.json, the oldest first."""

from __future__ import annotations

from typing import Any, TextIO

from formula_vcs.diff.change import Change
from formula_vcs.figures.figure import Figure
from formula_vcs.history.crossing import Crossing
from formula_vcs.reports import commit_words
from formula_vcs.reports.document.data import dump
from formula_vcs.reports.log import sheet as logs
from formula_vcs.reports.log.sheet import LogRow, LogSheet, When
from formula_vcs.words.numbers import exact_text


def write(sheet: LogSheet, *, out: TextIO) -> None:
    """Write all versions, and the answer to --above or --below where it was asked."""
    dump(
        {
            "recipe": sheet.recipe,
            "title": sheet.title,
            "revision": sheet.revision,
            "commit": sheet.commit,
            "charge": sheet.charge,
            "figures": list(sheet.names),
            "prices_as_of": sheet.as_of,
            "first_parent": sheet.first_parent,
            "shallow": sheet.cut,
            "left_out": sheet.left_out,
            "versions": [_row(row) for row in sheet.rows],
            "when": None if sheet.when is None else _when(sheet.when),
        },
        out,
    )


def _row(row: LogRow) -> dict[str, Any]:
    version = row.version
    figures = {name: figure_data(figure) for name, figure in row.figures.items() if name != logs.SHARE}
    share = row.figures.get(logs.SHARE)
    return {
        "commit": commit_words.as_data(version.commit),
        "status": version.status,
        "file": version.path,
        "only_under": row.under,
        "changes": [change_data(change) for change in row.changes],
        "approvals": [
            {"role": one.role, "by": one.who, "condition": one.condition or None, "file": one.file}
            for one in row.approvals
        ],
        "share": None if share is None or share.value is None else exact_text(share.value),
        "figures": figures,
    }


def change_data(change: Change) -> dict[str, Any]:
    """Give a change as diff.json has it."""
    return {
        "id": change.id,
        "kind": change.kind,
        "where": change.where,
        "old": change.old,
        "new": change.new,
        "text": change.text,
    }


def figure_data(figure: Figure | None) -> dict[str, Any] | None:
    """Give a figure as show.json has it."""
    if figure is None:
        return None
    return {
        "value": None if figure.value is None else exact_text(figure.value),
        "unit": figure.unit,
        "missing": list(figure.missing),
    }


def _when(when: When) -> dict[str, Any]:
    return {
        "figure": when.line.figure,
        "side": "below" if when.line.below else "above",
        "value": exact_text(when.line.value),
        "crossed": when.first is not None,
        "began_past": when.began is not None,
        "crossings": [_crossing(crossing) for crossing in when.crossings],
        "now": figure_data(when.now),
    }


def _crossing(crossing: Crossing) -> dict[str, Any]:
    return {
        "commit": commit_words.as_data(crossing.version.commit),
        "back": crossing.back,
        "before": figure_data(crossing.before),
        "after": figure_data(crossing.after),
        "calendar": crossing.calendar,
        "smallest": crossing.smallest,
        "by": [
            {
                "change": change_data(doer.change),
                "share": None if doer.share is None else exact_text(doer.share),
                "commit": doer.version.commit.oid,
            }
            for doer in crossing.doers
        ],
    }
