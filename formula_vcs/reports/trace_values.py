"""The values of a trace as text: numbers with their signs, differences, commits; the same in every format."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final

from formula_vcs.git.commit_log import Commit
from formula_vcs.model.values import dataclass
from formula_vcs.trace.batch_context import BatchContext
from formula_vcs.trace.compare_measurements import MeasuredPair
from formula_vcs.trace.result_rows import ResultRow
from formula_vcs.trace.target_batch import is_aim
from formula_vcs.words.numbers import rounded, signed

WHATS: Final = {"temp": "temperature", "rest": "rest", "pause": "waiting time before it"}


@dataclass(frozen=True, slots=True)
class Cell:
    """One line of a table of two batches: a name, both values, their difference, and a remark."""

    name: str
    old: str
    new: str
    difference: str
    remark: str


def name_of(side: BatchContext) -> str:
    """Name a batch, or say that it is what the recipe asks."""
    return "recipe" if is_aim(side.batch.id) else side.batch.id


def short(commit: str | None) -> str:
    """Shorten a commit id."""
    return "" if commit is None else commit[:7]


def value(found: object) -> str:
    """Write a value, or that there is none."""
    return "-" if found is None else str(found)


def difference(found: MeasuredPair, widths: Fraction | None) -> str:
    """Write a difference in its unit, and in widths of the spec: ``-7.3 Pa*s (-0.73 of the width)``."""
    if not found.difference:
        return ""
    text = f"{signed_text(found.difference)} {found.unit}".rstrip()
    return f"{text} ({widths_of(widths)} of the width)" if widths is not None else text


def widths_of(widths: Fraction) -> str:
    """Write a difference in widths of a spec, to two decimals."""
    return signed_text(rounded(widths, 2))


def signed_text(number: Fraction | Decimal) -> str:
    """Write a number with its sign, a true minus included."""
    return signed(Fraction(number), 0, 6) if number else "0"


def remark(row: ResultRow, *, aim: bool = False) -> str:
    """Say how a result stands to its spec and to the digits that are recorded."""
    words = {
        "slip": "about a factor of 1,000 apart: a mistaken unit?",
        "units": "cannot be compared: other units",
        "old only": "not recorded in the newer one",
        "new only": "not recorded in the other one" if not aim else "",
        "digit": "inside the last digit that is recorded",
        "same": "the same, as far as recorded",
    }.get(row.state, "")
    parts = [] if aim and row.state not in ("slip", "units") else [words] if words else []
    verdicts = [row.after.verdict] if aim else [row.before.verdict, row.after.verdict]
    verdicts = [verdict for verdict in verdicts if verdict]
    spec = "" if row.spec is None or aim else f" {row.spec}"
    if set(verdicts) & {"below", "above"}:
        if len(set(verdicts)) == 1:
            parts.append(f"{verdicts[0]} the spec{spec}{' in both' if len(verdicts) > 1 else ''}")
        else:
            parts.append(f"from {' to '.join(map(_in, verdicts))} the spec{spec}")
    elif "in" in verdicts:
        parts.append(f"in the spec{spec}")
    if not aim and row.spec is not None and row.spec_before is not None and row.spec != row.spec_before:
        parts.append(f"the spec was {row.spec_before}")
    return "; ".join(parts)


def _in(verdict: str) -> str:
    return "inside" if verdict == "in" else verdict


def commit_words(commit: Commit) -> str:
    """Say who made a commit, when and why."""
    reason = f"; reason: {commit.reason}" if commit.reason else "; no reason is given"
    return f"{short(commit.oid)}, {commit.author}, {commit.day}: {commit.subject}{reason}"


def percent(share: Fraction, *, sign: bool = False) -> str:
    """Write a share in per cent, to two decimals."""
    number = rounded(share * 100, 2)
    return f"{signed_text(number) if sign else format(number.normalize(), 'f')} %"
