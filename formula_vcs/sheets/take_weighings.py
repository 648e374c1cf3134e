"""BatchWeighings out of a table, as the table of separated values that `batch record --weighings` reads."""

from __future__ import annotations

import csv
import io

from formula_vcs.sheets.cell_values import mark_of, said
from formula_vcs.sheets.find_tables import headlines
from formula_vcs.sheets.header_words import BATCHES, is_total
from formula_vcs.sheets.table_job import TableJob

_COLUMNS = ("charge", "weighed", "unit", "lot", "at", "by", "phase", "step")


def batch_of(job: TableJob) -> str:
    """Give the batch that a table of weighings is about: as told, or as it says above."""
    if job.answers.batch:
        return job.answers.batch
    pair = headlines(job.table).find(BATCHES)
    return pair[1].text if pair is not None else ""


def weighings_csv(job: TableJob) -> bytes:
    """Give the rows that were weighed in plain form; what cannot be read goes into the outcome."""
    table, out = job.table, job.out
    mark = mark_of(table.cells("weighed"), job.told("decimal"))
    if mark == "?":
        job.ask(
            "decimal",
            "is ',' or '.' the decimal sign of the weighings?",
            "--decimal , or --decimal .",
            (",", "."),
            table.grid.name,
        )
        return b""
    text = io.StringIO()
    writer = csv.writer(text, delimiter=";", lineterminator="\n")
    writer.writerow(_COLUMNS)
    for line in table.lines:
        name = line.text("id") or line.text("code") or line.text("name") or line.text("inci")
        cell = line.cell("weighed")
        value = said(cell, mark)
        if not name or is_total(name) or value.kind == "empty":
            if name:
                out.leave(
                    table.at(line.subject),
                    f"'{name[:40]}': a total" if is_total(name) else f"'{name[:40]}' was not weighed",
                )
            continue
        unit = value.unit or line.text("unit") or table.unit("weighed") or job.told("unit.weighed")
        if value.kind != "number":
            out.doubt(table.at(cell), f"'{name[:40]}': the mass {value.why or 'is no number'}")
        elif not unit:
            job.ask("unit.weighed", "the weighings have no unit", "--unit weighed=g", ("g", "kg"), table.at(cell))
        else:
            out.rows += 1
            moment = line.cell("at").value
            row = (
                name,
                f"{value.number:f}",
                unit,
                line.text("lot"),
                str(moment or ""),
                line.text("by"),
                line.text("phase"),
                line.text("step"),
            )
            writer.writerow(row)
    return text.getvalue().encode()
