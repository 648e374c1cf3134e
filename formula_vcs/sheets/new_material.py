"""A material that is not on file yet: what the sheet says of it, and what the inventory of INCI names knows."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from typing import Any

from formula_vcs.law.identity import entry_of, identify
from formula_vcs.model.cas import cas_trouble
from formula_vcs.sheets.find_tables import TableLine
from formula_vcs.sheets.header_words import function_names
from formula_vcs.sheets.match_names import NEW, NameMatch, inci_names
from formula_vcs.sheets.table_job import TableJob
from formula_vcs.words.quoting import quoted


def option_for(name: str, id_: str) -> str:
    """Write the option that says which ingredient a name means."""
    shown = quoted(name)[1:-1]
    return f"--name '{shown}={id_}'"


def add_material(line: TableLine, match: NameMatch, job: TableJob) -> str:
    """Add a file for a material with the words that the sheet has of it; gives its id."""
    name = line.subject.text
    data: dict[str, Any] = {"title": line.text("name") or name}
    for key in ("supplier", "code"):
        if line.text(key):
            data[key] = line.text(key)
    if line.text("function"):
        data["functions"] = function_names(line.cell("function").lines)
    made = job.draft.add("ingredients", line.text("id") or name, data)
    path = job.draft.ids("ingredients")[made]
    near = match.same[0] if match.same else match.near
    if match.same:
        words = f"{quoted(name)} has the INCI name of {', '.join(match.same[:4])}: is it that, or a new grade?"
        option = f"{option_for(name, near)} or {option_for(name, NEW)}"
        job.ask(f"name:{name}", words, option, (*match.same, NEW), job.table.at(line.subject))
    if near:
        words = f"import: is this {near}? Then take this file out and say {option_for(name, near)}"
        job.draft.comment(path, words)
    hint = f"; near: {near}, {option_for(name, near)} takes that" if near else ""
    job.out.take(job.table.at(line.subject), f"{path} is new{hint}")
    return made


def names_without_amounts(line: TableLine, path: str, job: TableJob) -> None:
    """Say in a file what its substances are called where the sheet has no % of them; one INCI name can be all of it.

    That it is, a person says once: a solution is called by the INCI name of what is dissolved as well.
    """
    data = job.draft.data(path)
    if data is None or "substances" in data or "recipe" in data:
        return
    names = [identify(name).inci or name for name in inci_names(line.cell("inci").lines)]
    known = identify(line.text("name"))
    if not names and known.certain and known.inci:
        names = [known.inci]
    cas = cas_of(line, job)
    if not names:
        job.draft.comment(path, "import: [substances] is missing: the sheet does not say what this is made of")
        return
    if len(names) == 1 and _whole(line, job):
        data["substances"] = {names[0]: _pure(names[0], cas)}
        _functions(path, names[0], data, job)
        return
    job.draft.comment(
        path, f"import: [substances] is missing: it holds {_listed(names, cas)}, and how much of each is open"
    )


def _whole(line: TableLine, job: TableJob) -> bool:
    told = job.told("single_inci")
    if not told:
        place = job.table.at(line.cell("inci") if line.text("inci") else line.subject)
        words = "materials with one INCI name and no %: are they 100 % of that?"
        job.ask("single_inci", words, "--single-inci 100", ("100", "unknown"), place)
    return told == "100"


def _pure(name: str, cas: str) -> Any:
    entry = entry_of(name)
    numbers = entry.cas if entry is not None else ()
    number = cas or (numbers[0] if len(numbers) == 1 else "")
    return {"pct": 100, "cas": number} if number else 100


def _functions(path: str, name: str, data: dict[str, Any], job: TableJob) -> None:
    """Offer the inventory's functions as a comment: they are all that it may be used for, and not what it does here."""
    entry = entry_of(name)
    if entry is not None and entry.functions and "functions" not in data:
        words = f"import: functions in the Commission's inventory: {', '.join(entry.functions)}"
        job.draft.comment(path, words)


def _listed(names: Sequence[str], cas: str) -> str:
    parts = []
    for name in names:
        entry = entry_of(name)
        numbers = [cas] if cas and len(names) == 1 else list(entry.cas) if entry is not None else []
        known = f" (CAS {' or '.join(numbers[:3])})" if numbers else ""
        parts.append(f"{quoted(name)}{known}")
    return ", ".join(parts)


def cas_of(line: TableLine, job: TableJob) -> str:
    """Give the CAS number of a row; a wrong one is said and left out."""
    cell = line.cell("cas")
    if isinstance(cell.value, datetime.date):
        words = f"the CAS number of {quoted(line.subject.text)} has become a date, {cell.text}; it was left out"
        job.out.doubt(job.table.at(cell), words)
        return ""
    first = re.split(r"[;,/\s]+", cell.text)[0]
    if not any(letter.isdigit() for letter in first):
        return ""
    trouble = cas_trouble(first)
    if trouble:
        job.out.doubt(job.table.at(cell), f"{quoted(first)} {trouble}; it was left out")
        return ""
    return first
