"""One line of a spec: what a product or a material must measure or be like, by which method and at what temperature."""

from __future__ import annotations

from typing import Final

from formula_vcs.model.facts import Facts, readable
from formula_vcs.model.quantity import Range
from formula_vcs.model.values import dataclass


@dataclass(frozen=True, slots=True)
class SpecLine:
    """What is asked: ``asks`` is a range, or words that somebody judges."""

    name: str
    asks: Range | str
    method: str | None = None
    temp: Range | None = None

    @property
    def words(self) -> bool:
        """Say whether the line is in words."""
        return isinstance(self.asks, str)

    def __str__(self) -> str:
        """Write the line: ``18 to 28 Pa*s at 20 degC (spindle 4, 20 rpm)``."""
        at = "" if self.temp is None else f" at {self.temp}"
        how = "" if self.method is None else f" ({' '.join(self.method.split())})"
        return f"{' '.join(str(self.asks).split())}{at}{how}"


_JUDGED: Final = {
    **dict.fromkeys(("yes", "y", "true", "conforms", "ok"), True),
    **dict.fromkeys(("no", "n", "false", "does not conform"), False),
}


def conforms(said: str) -> bool | None:
    """Read whether somebody found that words of a spec are met; None where that is not said.

    >>> conforms("Yes"), conforms("does not conform"), conforms("a bit")
    (True, False, None)
    """
    return _JUDGED.get(" ".join(said.casefold().split()))


def spec_lines(facts: Facts) -> dict[str, SpecLine]:
    """The readable lines of a spec among the facts of a recipe or of a material, in the order of the file."""
    return {
        path[1]: SpecLine(
            path[1],
            value,
            readable(facts.get((*path, "method")), str),
            readable(facts.get((*path, "temp")), Range),
        )
        for path, value in facts.items()
        if path[0] == "spec" and len(path) == 2 and isinstance(value, Range | str)
    }
