"""A snapshot that notes what it was asked: what a verdict read, and what it saw to be missing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from collections.abc import Set as AbstractSet
from typing import Final, TypeVar, cast

from formula_vcs.model.workspace import Shelf
from formula_vcs.words.checksums import sha256
from formula_vcs.workspace.content_store import Content
from formula_vcs.workspace.snapshot import REFERRED, WORKSPACE_FILE, FileIndex, Read, Refused, Snapshot, Source

T = TypeVar("T")
# A question and the words that it is about: ("content", "water.toml"), ("id", "recipe", "gel"), ("ids", "lots") ...
Question = tuple[str, ...]
_NONE: Final = ""


def digest(parts: object) -> str:
    """Shorten what may be long, so that what differs has another name."""
    return sha256(repr(parts).encode("utf-8", "surrogatepass")).hexdigest()[:32]


def answer(snapshot: Snapshot, question: Question) -> str:
    """Answer what a verdict asked of another snapshot.

    :raises KeyError: nobody asks that.
    """
    kind, *about = question
    if kind == "content":
        return snapshot.content_id(about[0])
    if kind == "id":
        return snapshot.ids(about[0]).get(about[1], _NONE)
    if kind == "ids":
        return digest(list(snapshot.ids(about[0]).items()))
    if kind == "all":
        return digest([(path, snapshot.content_id(path)) for path in snapshot.listing])
    raise KeyError(kind)


class AskedNames(Mapping[str, str]):
    """``{id: path}`` of a kind: a name that is looked up is noted, a look at all of them binds to all."""

    def __init__(self, names: Mapping[str, str], kind: str, note: Callable[[Question], None]) -> None:
        """Take the names, their kind, and who notes."""
        self._names = names
        self._kind = kind
        self._note = note

    def __getitem__(self, name: str) -> str:
        """Give the path of an id."""
        self._note(("id", self._kind, name))
        return self._names[name]

    def __iter__(self) -> Iterator[str]:
        """Give all ids."""
        self._note(("ids", self._kind))
        return iter(self._names)

    def __len__(self) -> int:
        """Count the ids."""
        self._note(("ids", self._kind))
        return len(self._names)


class _AskedSet(AbstractSet[str]):
    def __init__(self, names: AskedNames) -> None:
        self._names = names

    def __contains__(self, name: object) -> bool:
        return name in self._names

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)

    @classmethod
    def _from_iterable(cls, it: object) -> AbstractSet[str]:  # type: ignore[override]
        return frozenset(cast("AbstractSet[str]", it))


class AskedSnapshot(Snapshot):
    """Another snapshot, seen through what notes every question; ``asked`` are these, with their answers.

    What is asked in a way that nobody foresaw binds to every file of the workspace.
    """

    def __init__(self, under: Snapshot) -> None:
        """Take the snapshot below; what it reads it keeps."""
        self._under = under
        self._asked: dict[Question, str] = {}
        self.lasts = True  # until somebody goes past what notes, to the source itself
        super().__init__(under.source, under.store)

    @property
    def source(self) -> Source:
        """Give the source: what is read there is not noted, so what comes of it does not last."""
        self.lasts = False
        return self._under.source

    @source.setter
    def source(self, _source: Source) -> None:
        """Take none: it is that of the snapshot below."""

    @property
    def asked(self) -> dict[Question, str]:
        """Give what was asked so far, each with its answer."""
        return self._asked

    def note(self, question: Question) -> None:
        """Note a question."""
        if question not in self._asked:
            self._asked[question] = answer(self._under, question)

    @property
    def index(self) -> FileIndex:
        """Give the files by kind and id: a look at them all."""
        self.note(("all",))
        return self._under.index

    @property
    def exists(self) -> bool:
        """Say whether there is a workspace at all at this moment."""
        self.note(("content", WORKSPACE_FILE))
        return self._under.exists

    def ids(self, kind: str) -> Mapping[str, str]:
        """Give ``{id: path}`` for a kind."""
        return AskedNames(self._under.ids(kind), kind, self.note)

    @property
    def shelf(self) -> Shelf:
        """Give the ids that references may name."""
        sets = (_AskedSet(AskedNames(self._under.ids(kind), kind, self.note)) for kind in REFERRED)
        recipes, ingredients, equipment, packaging = (cast("frozenset[str]", names) for names in sets)
        return Shelf(recipes, ingredients, equipment, packaging, self.proofs_of)

    def content_name(self, path: str) -> str:
        """Name the content of a file."""
        self.note(("content", path))
        return self._under.content_name(path)

    def content_id(self, path: str) -> str:
        """Name the content of a file, without parsing it."""
        self.note(("content", path))
        return self._under.content_id(path)

    def read(self, path: str) -> Read:
        """Read one file into facts."""
        self.note(("content", path))
        return self._under.read(path)

    def _content(self, path: str) -> Content | Refused:
        self.note(("content", path))
        return self._under._content(path)  # noqa: SLF001 - the same class, seen through

    def _name(self, path: str) -> str:
        self.note(("content", path))
        return self._under._name(path)  # noqa: SLF001 - the same class, seen through

    def _made(self, path: str, make: Callable[[Read], T], what: str = "") -> T:
        self.note(("content", path))
        return self._under._made(path, make, what)  # noqa: SLF001 - the same class, seen through
