"""What became of a claim that a recipe states."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Verdict = Literal["holds", "fails", "needs information"]


@dataclass(frozen=True, slots=True)
class Judged:
    """The verdict on one claim, and why; ``missing`` names the facts that it waits for."""

    claim: str
    verdict: Verdict
    because: str
    missing: tuple[str, ...] = ()
