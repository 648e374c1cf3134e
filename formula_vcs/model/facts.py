"""A file's meaning as a flat table of facts: a path of names to one value.

Every value of the model keeps the facts it was built from as its only state.  Two files mean the same exactly
when their facts are equal, so a comparison of facts cannot overlook a field, and a recipe rebuilt from changed
facts cannot disagree with them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from formula_vcs.model.values import dataclass, field

Path = tuple[str, ...]
Facts = Mapping[Path, Any]
ALIKE: Final = 0.6  # the share of facts from which on a recipe that came is taken for one that went, renamed


@dataclass(frozen=True, slots=True)
class Unread:
    """A value that could not be read: what stands there, and why it was refused.

    It stays among the facts, so a diff still sees it move and a rule still reports it.
    """

    raw: Any
    message: str = field(compare=False)
    rule: str = "bad-value"


def stated(facts: Facts) -> Facts:
    """The facts that a text states: without the refusals that a whole key is missing, which follow from them."""
    return {path: value for path, value in facts.items() if len(path) > 1 or not _is_missing(value)}


def _is_missing(value: Any) -> bool:
    return isinstance(value, Unread) and value.raw is None and value.rule == "missing-value"


def likeness(was: Facts, now: Facts) -> float:
    """The share of facts that two recipes have in common, whatever their layout: from `ALIKE` on they are one."""
    alike = sum(bool(now.get(path) == value) for path, value in was.items())
    return alike / max(len(was), len(now), 1)


def below(facts: Facts, *prefix: str) -> dict[str, Any]:
    """The facts exactly one name below a prefix: ``{name: value}``."""
    depth = len(prefix)
    return {path[depth]: value for path, value in facts.items() if len(path) == depth + 1 and path[:depth] == prefix}


def under(facts: Facts, prefix: Path) -> dict[Path, Any]:
    """Every fact whose path begins with a prefix, the prefix itself included."""
    depth = len(prefix)
    return {path: value for path, value in facts.items() if path[:depth] == prefix}


def unread(facts: Facts) -> Iterator[tuple[Path, Unread]]:
    """Every fact that could not be read."""
    for path, value in facts.items():
        if isinstance(value, Unread):
            yield path, value


def readable(value: Any, kind: type | tuple[type, ...]) -> Any:
    """The value where it is of a kind, else None (it is missing, or was refused)."""
    return value if isinstance(value, kind) else None


def spelled(path: Iterable[str]) -> str:
    """Write a path as people read it: ``phase/A/charge/glycerin``."""
    return "/".join(path)
