"""A report in the format that was asked for."""

from __future__ import annotations

from importlib import import_module
from typing import Final, TextIO

from formula_vcs.reports.document.blocks import Report, Subject

# what a reader may want of every report
EVERY: Final = ("text", "json", "markdown", "html")
# the modules here that have a `REPORT`; each has a schema of its own where it has a record
NAMES: Final = (
    "batch_cost",
    "blame",
    "check",
    "explain",
    "horizon",
    "label",
    "listing",
    "lot_uses",
    "peers",
    "propose",
    "scale",
    "show",
    "survey",
    "trace",
    "uses",
)


def write(report: Report[Subject], subject: Subject, form: str, out: TextIO) -> None:
    """Write a report; ``form`` is one of `EVERY`."""
    if form == "json":
        from formula_vcs.reports.document.data import dump

        dump(report.record(subject), out)
    else:
        import_module(f"formula_vcs.reports.document.{form}").write(report.document(subject), out)


def named(name: str) -> Report[object]:
    """Give a report by its name."""
    report: Report[object] = import_module(f"formula_vcs.reports.{name}").REPORT
    return report
