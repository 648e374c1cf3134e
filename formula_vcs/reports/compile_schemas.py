"""Make the JSON schemas of all reports from the types of their records; `.ci/compile` calls it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final, get_origin, get_type_hints

from formula_vcs.reports import formats
from formula_vcs.reports.diff.json import ComparisonRecord
from formula_vcs.reports.document.data import schema
from formula_vcs.reports.log.json import LogRecord

FOLDER: Final = Path(__file__).with_name("schemas")
# records of reports that still have a writer for each format
_BESIDE: Final[Mapping[str, tuple[type, tuple[str, ...]]]] = {
    "diff": (ComparisonRecord, ("diff", "review")),
    "log": (LogRecord, ("log",)),
}


def schemas() -> Iterator[tuple[str, str]]:
    """Give each schema: its file name and its text."""
    for name in formats.NAMES:
        report = formats.named(name)
        record = get_type_hints(report.record)["return"]
        if get_origin(record) is dict:
            continue  # its schema is still kept by hand
        rules = schema(record, report.schema, f"git formula {report.command} --format json")
        yield f"{report.schema}.json", f"{json.dumps(rules, indent=2)}\n"
    for name, (record, commands) in _BESIDE.items():
        rules = schema(record, name, ", ".join(f"git formula {command} --format json" for command in commands))
        yield f"{name}.json", f"{json.dumps(rules, indent=2)}\n"


if __name__ == "__main__":
    for file, text in schemas():
        (FOLDER / file).write_text(text, encoding="utf-8")
