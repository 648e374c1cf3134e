"""What was read of contents, each content once: one store for all moments that a command looks at.

A content is known by the name that git gives it, so the work tree, the index, a commit of the history and a version
that a batch pins share what was read of it.  What many files rest on stays for as long as the store; recipes and
records are many and mostly asked for once, so of those only the last ones stay, counted in bytes of their texts.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, Final, NamedTuple, TypeVar

from formula_vcs.model.facts import Facts
from formula_vcs.toml import syntax
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.stop_marker import stop_in

T = TypeVar("T")
# Kinds of files that other files rest on.
_SHARED: Final = frozenset({"workspace", "ingredients", "equipment", "packaging", "rules"})
_MOST_BYTES: Final = 4 * 1024 * 1024  # of texts of other kinds that stay


class Content(NamedTuple):
    """A content as a kind of file: its facts, what does not parse, its text, and the line of a stopped merge."""

    facts: Facts
    problems: tuple[syntax.SyntaxProblem, ...]
    text: str
    stop: tuple[int, str] | None

    @property
    def whole(self) -> bool:
        """Say whether it parses."""
        return not self.problems


class ContentStore:
    """Reads each content once."""

    def __init__(self, *, lasting: bool = False) -> None:
        """Begin with nothing.

        ``lasting`` keeps all that is read, and reads a table of TOML that many texts share once: for histories.
        """
        self.lasting = lasting
        self._pieces = syntax.pieces() if lasting else None
        self._shared: dict[tuple[str, str], Content] = {}
        self._recent: OrderedDict[tuple[str, str], Content] = OrderedDict()
        self._bytes = 0
        self._made: dict[Hashable, Any] = {}

    def known(self, kind: str, name: str) -> Content | None:
        """Give what was read of a content, None where it was not read yet or did not stay."""
        key = (kind, name)
        found = self._shared.get(key)
        if found is None and key in self._recent:
            self._recent.move_to_end(key)
            found = self._recent[key]
        return found

    def read(self, kind: str, name: str, data: bytes) -> Content:
        """Read the bytes of a content; ``name`` is git's name of it."""
        found = self.known(kind, name)
        if found is not None:
            return found
        parsed = syntax.parse(data, self._pieces)
        facts: Facts = {} if parsed.errors else facts_of(kind, parsed.data)
        found = Content(facts, parsed.errors, parsed.text, stop_in(data))
        if self.lasting or kind in _SHARED:
            self._shared[kind, name] = found
        else:
            self._stay_a_while((kind, name), found)
        return found

    def _stay_a_while(self, key: tuple[str, str], content: Content) -> None:
        self._recent[key] = content
        self._bytes += len(content.text)
        while self._bytes > _MOST_BYTES and len(self._recent) > 1:
            self._bytes -= len(self._recent.popitem(last=False)[1].text)

    def cached(self, key: Hashable, compute: Callable[[], T]) -> T:
        """Give what was made under a key, making it when first asked for.  It stays for as long as the store."""
        if key not in self._made:
            self._made[key] = compute()
        found: T = self._made[key]
        return found
