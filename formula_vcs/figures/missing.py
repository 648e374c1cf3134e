"""What figures lack, said by ingredient: one line for all that one of them lacks, and for all that lack the same."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from formula_vcs.words.late_pattern import late_pattern

_INDEX: Final = late_pattern(r"no (.+) index in \[origin\]")
_ALL: Final = 4  # indices of ISO 16128: of none of them nothing is stated
MOST_NAMES: Final = 8  # ingredients that are named in one line


class Lacking(NamedTuple):
    """Ingredients that lack the same, and what; ``names`` are empty where a fact is of none."""

    names: tuple[str, ...]
    facts: tuple[str, ...]

    @property
    def words(self) -> str:
        """Say it: ``glycerin, sorbitol-70: no density; no [origin]``."""
        named = ", ".join(self.names[:MOST_NAMES])
        more = f" and {len(self.names) - MOST_NAMES} more" if len(self.names) > MOST_NAMES else ""
        return f"{named}{more}: {'; '.join(_joined(self.facts))}" if self.names else "; ".join(self.facts)


def by_ingredient(facts: Iterable[str]) -> list[Lacking]:
    """Group facts ("ingredient: what is missing") by ingredient, and the ingredients that lack the same."""
    of_name: dict[str, dict[str, None]] = {}
    alone: list[Lacking] = []
    for fact in facts:
        name, colon, what = fact.partition(": ")
        if colon and " " not in name:
            of_name.setdefault(name, {})[what] = None
        else:
            alone.append(Lacking((), (fact,)))
    alike: dict[tuple[str, ...], list[str]] = {}
    for name, found in of_name.items():
        alike.setdefault(tuple(found), []).append(name)
    return [Lacking(tuple(names), found) for found, names in alike.items()] + list(dict.fromkeys(alone))


def _joined(facts: tuple[str, ...]) -> list[str]:
    """Say several indices that are missing as one fact."""
    indices = [match[1] for match in map(_INDEX.fullmatch, facts) if match]
    rest = [fact for fact in facts if _INDEX.fullmatch(fact) is None]
    if not indices:
        return rest
    if len(indices) == _ALL:
        return [*rest, "no [origin]"]
    listed = indices[0] if len(indices) == 1 else f"{', '.join(indices[:-1])} or {indices[-1]}"
    return [*rest, f"no {listed} index in [origin]"]
