"""A whole workspace at a revision, in the index or in the work tree: read lazily, memoised by content."""

from __future__ import annotations

import errno
import os
import posixpath
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cached_property
from pathlib import Path
from typing import Final, Protocol, Self, TypeVar

from formula_vcs.errors import UserError
from formula_vcs.git.repository import (
    SYMLINK,
    BlobReader,
    Entry,
    Objects,
    Oversized,
    Repo,
    blob_id,
    index_entries,
    tree_entries,
)
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.evidence import Proof, proofs
from formula_vcs.model.facts import Facts, Unread, unread
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.formula import Formula, resolve
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.packaging import Packaging
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, replace
from formula_vcs.model.workspace import Record, Shelf, Workspace
from formula_vcs.toml import batch_file, ingredient_file, recipe_file, record_files, rules_file, syntax
from formula_vcs.workspace.content_store import Content, ContentStore

T = TypeVar("T")
WORKSPACE_FILE: Final = "workspace.toml"
REFERRED: Final = ("recipe", "ingredients", "equipment", "packaging")  # kinds of files that a recipe names
FOLDERS: Final = ("ingredients", "equipment", "packaging", "rules", "batches", "lots", "evidence", "approvals")
RECORDS: Final = ("batches", "lots", "evidence")
# Files of other tools that a repository's top often holds; they are nobody's recipe.
FOREIGN: Final = frozenset(
    {
        "import.toml",
        "documents.toml",
        "pyproject.toml",
        "taplo.toml",
        "ruff.toml",
        "Cargo.toml",
        "netlify.toml",
        "uv.toml",
    }
)


_OUTSIDE: Final = "is a link that leads out of the workspace; it is not followed"
_LINKED_FOLDER: Final = "is a link to a folder; links to folders are not followed, so what is in it is missing here"
_MOST_UNREAD: Final = 16 * 1024 * 1024  # bytes that wait to be parsed; the rest is read again
_MOST_LINKS: Final = 200  # links of which it is looked up where they lead; more has only a hostile repository


@dataclass(frozen=True, slots=True)
class Refused:
    """Why a file's bytes are not to be had."""

    message: str
    rule: str = "unreadable"
    severity: Severity = "block"


class Source(Protocol):
    """Where the bytes of a workspace come from.  Paths are relative to the workspace, with forward slashes."""

    label: str

    def listing(self) -> Mapping[str, str]:
        """Give every file's path with a name of its content, empty where it is not known without reading."""
        ...

    def read(self, path: str) -> bytes | Refused:
        """Give the bytes of one file."""
        ...

    def name(self, path: str) -> str:
        """Give the name of a file's content, empty where it is not known without reading."""
        ...

    def unlisted(self) -> Mapping[str, str]:
        """Give the other files below the folder, with why they are not read: ``{path: "lies in ..."}``."""
        ...

    def folder(self) -> str:
        """Give the workspace's folder relative to the repository's top, empty at the top."""
        ...

    def close(self) -> None:
        """Let go of what was opened."""
        ...


_MOST_UNLISTED: Final = 20_000
_CIRCLE: Final = "cannot be read: links in a circle"


class WorkTree:
    """The files as they lie on disk."""

    label = "work tree"

    def __init__(self, root: Path, folder: str = "") -> None:
        """Take the folder that holds workspace.toml."""
        self.root = root
        self._folder = folder
        self._resolved = root.resolve()

    def folder(self) -> str:
        """Give the workspace's folder relative to the repository's top."""
        return self._folder

    def close(self) -> None:
        """Have nothing to let go of."""

    def name(self, path: str) -> str:
        """Know no name before a file is read."""
        del path
        return ""

    def listing(self) -> Mapping[str, str]:
        """Walk the folder; hidden folders and other workspaces inside are left out."""
        found: dict[str, str] = {}
        for folder, folders, names in os.walk(self.root):
            inside = Path(folder) != self.root
            if inside and WORKSPACE_FILE in names:
                folders.clear()
                continue
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            prefix = Path(folder).relative_to(self.root).as_posix()
            linked = {name for name in folders if Path(folder, name).is_symlink()}
            for name in sorted({*names, *linked}):
                if name.endswith(".toml") or name in linked:
                    found[name if prefix == "." else f"{prefix}/{name}"] = ""
        return found

    def unlisted(self) -> Mapping[str, str]:
        """Walk the folder, hidden folders and other workspaces too, but for git's own."""
        listed = counting(self.listing())
        found: dict[str, str] = {}
        nested: list[str] = []
        for folder, folders, names in os.walk(self.root):
            folders[:] = sorted(name for name in folders if name != ".git")
            prefix = Path(folder).relative_to(self.root).as_posix()
            lead = "" if prefix == "." else f"{prefix}/"
            nested += [lead] if lead and WORKSPACE_FILE in names else []
            for name in sorted(names):
                if f"{lead}{name}" not in listed and len(found) < _MOST_UNLISTED:
                    found[f"{lead}{name}"] = why_unlisted(f"{lead}{name}", nested)
        return found

    def read(self, path: str) -> bytes | Refused:
        """Read one file, unless it leads out of the workspace, is no plain file, or is too big."""
        file = self.root / path
        try:
            real = file.resolve(strict=True)
            if kind_of(path) == "link":
                return _linked_folder(path)
            if not real.is_relative_to(self._resolved):
                return Refused(_OUTSIDE, "link-outside")
            if not real.is_file():
                return Refused("is no plain file")
            size = real.stat().st_size
            if size > syntax.LIMIT:
                return Refused(_too_big(size), "too-big")
            return real.read_bytes()
        except FileNotFoundError:
            linked = file.is_symlink()
            return Refused("is a link to nothing" if linked else "vanished while it was being read")
        except RuntimeError:  # links in a circle, up to Python 3.12
            return Refused(_CIRCLE)
        except OSError as error:
            return Refused(_CIRCLE if error.errno == errno.ELOOP else f"cannot be read: {error.strerror}")


class Recorded:
    """Files that git holds: paths of the workspace with the names of their contents."""

    def __init__(self, entries: Mapping[str, Entry], blobs: BlobReader, folder: str, label: str) -> None:
        """Take what is recorded, by its path in the workspace, what reads it, and the workspace's folder."""
        self.label = label
        self._folder = folder
        self._entries = entries
        self._blobs = blobs

    def folder(self) -> str:
        """Give the workspace's folder relative to the repository's top."""
        return self._folder

    def listing(self) -> Mapping[str, str]:
        """Give the TOML files; hidden folders and other workspaces inside are left out."""
        linked = self._linked()
        nested = tuple(path[: -len(WORKSPACE_FILE)] for path in self._entries if path.endswith(f"/{WORKSPACE_FILE}"))
        return {
            path: entry.oid if entry.mode != "120000" else ""
            for path, entry in sorted(self._entries.items())
            if (path.endswith(".toml") or path in linked)
            and entry.mode != "160000"
            and not any(part.startswith(".") for part in path.split("/")[:-1])
            and not (nested and path.startswith(nested))
        }

    def unlisted(self) -> Mapping[str, str]:
        """Give the other files that git holds here."""
        listed = counting(self.listing())
        nested = [path[: -len(WORKSPACE_FILE)] for path in self._entries if path.endswith(f"/{WORKSPACE_FILE}")]
        return {
            path: "is a submodule" if entry.mode == "160000" else why_unlisted(path, nested)
            for path, entry in self._entries.items()
            if path not in listed
        }

    def _linked(self) -> set[str]:
        """Name the links that lead to a folder, or out of what git holds of this workspace to what may be one."""
        links = [path for path, entry in self._entries.items() if entry.mode == "120000" and kind_of(path) == "link"]
        folders: set[str] = set()
        for path in self._entries if links else ():
            above = path.rpartition("/")[0]
            while above and above not in folders:
                folders.add(above)
                above = above.rpartition("/")[0]
        found = set()
        for path in links[:_MOST_LINKS]:
            content = self._blobs.read(self._entries[path].oid, syntax.LIMIT)
            words = "" if isinstance(content, Oversized) else content.decode("utf-8", "surrogateescape")
            target = posixpath.normpath(posixpath.join(posixpath.dirname(path), words))
            away = target not in self._entries and "." not in posixpath.basename(target)
            if (path in FOLDERS or target in folders or away) and posixpath.basename(path)[0] != ".":
                found.add(path)
        return found

    def close(self) -> None:
        """Have nothing to let go of: the reader is somebody else's."""

    def name(self, path: str) -> str:
        """Give git's name of a content; a link's is that of the file behind it, known when it is read."""
        entry = self._entries.get(path)
        return "" if entry is None or entry.mode == SYMLINK or entry.unmerged else entry.oid

    def read(self, path: str) -> bytes | Refused:
        """Read one file; a link is followed only to another file of the workspace."""
        entry = self._entries.get(path)
        for _ in range(8):
            if entry is None:
                inside = not path.startswith(("/", "../"))
                return Refused("is a link to nothing") if inside else Refused(_OUTSIDE, "link-outside")
            if entry.unmerged:
                return Refused("is not merged yet: git holds two versions of it", "conflict")
            if kind_of(path) == "link":
                return _linked_folder(path)
            content = self._blobs.read(entry.oid, syntax.LIMIT)
            if isinstance(content, Oversized):
                return Refused(_too_big(content.size), "too-big")
            if entry.mode != "120000":
                return content
            target = content.decode("utf-8", "surrogateescape")
            path = posixpath.normpath(posixpath.join(posixpath.dirname(path), target))
            entry = self._entries.get(path)
        return Refused("is a link in a circle")


class Committed(Recorded):
    """The files of a commit, or of the index, read from git's object store."""

    def __init__(self, repo: Repo, revision: str | None, folder: str, label: str, store: Objects | None = None) -> None:
        """Take a commit id, or None for the index, and the workspace's folder in the repository.

        ``store`` reads the objects of many commits through one git process, and outlives this source.
        """
        self._own = store is None
        self.commit = revision or ""
        under = f"{folder}/" if folder else ""
        if revision is None:
            entries = index_entries(repo, folder)
        else:
            entries = tree_entries(repo, revision, folder) if store is None else list(store.entries(revision, folder))
        inside = {entry.path[len(under) :]: entry for entry in entries if entry.path.startswith(under)}
        super().__init__(inside, BlobReader(repo) if store is None else store.blobs, folder, label)

    def close(self) -> None:
        """End the git process that reads blobs, unless it is shared."""
        if self._own:
            self._blobs.close()

    def __getstate__(self) -> dict[str, object]:
        """Give what another process needs; there the git process is its own."""
        return {**vars(self), "_own": True}


class Files:
    """A workspace held in memory: ``{path: text}``."""

    def __init__(self, files: Mapping[str, str | bytes], label: str = "memory") -> None:
        """Take the files."""
        self.label = label
        self._files = {path: text.encode() if isinstance(text, str) else text for path, text in files.items()}

    def folder(self) -> str:
        """Stand at the top."""
        return ""

    def close(self) -> None:
        """Have nothing to let go of."""

    def name(self, path: str) -> str:
        """Know no name before a file is read."""
        del path
        return ""

    def listing(self) -> Mapping[str, str]:
        """Give every TOML file."""
        return {path: "" for path in sorted(self._files) if path.endswith(".toml")}

    def unlisted(self) -> Mapping[str, str]:
        """Give the files that are no TOML."""
        return {path: why_unlisted(path, ()) for path in self._files if not path.endswith(".toml")}

    def read(self, path: str) -> bytes | Refused:
        """Give one file."""
        content = self._files.get(path)
        return Refused("vanished while it was being read") if content is None else content


class Overlay:
    """Another source with some files put in place of its own; None takes a file away."""

    def __init__(self, under: Source, files: Mapping[str, bytes | None]) -> None:
        """Take the source below and the files on top."""
        self.label = under.label
        self._under = under
        self._files = files

    def folder(self) -> str:
        """Stand where the source below stands."""
        return self._under.folder()

    def close(self) -> None:
        """Let go of the source below."""
        self._under.close()

    def name(self, path: str) -> str:
        """Give the name that the source below knows; of a file on top none before it is read."""
        return "" if path in self._files else self._under.name(path)

    def listing(self) -> Mapping[str, str]:
        """Give the files of both."""
        below = {path: name for path, name in self._under.listing().items() if path not in self._files}
        return below | {path: "" for path in self._there() if path.endswith(".toml")}

    def unlisted(self) -> Mapping[str, str]:
        """Give those of the source below, and what on top is no TOML."""
        below = {path: why for path, why in self._under.unlisted().items() if path not in self._files}
        return below | {path: why_unlisted(path, ()) for path in self._there() if not path.endswith(".toml")}

    def _there(self) -> list[str]:
        return [path for path, content in self._files.items() if content is not None]

    def read(self, path: str) -> bytes | Refused:
        """Give the file on top, else the one below."""
        if path not in self._files:
            return self._under.read(path)
        content = self._files[path]
        if content is None:
            return Refused("vanished while it was being read")
        return content if len(content) <= syntax.LIMIT else Refused(_too_big(len(content)), "too-big")


def why_unlisted(path: str, nested: Iterable[str]) -> str:
    """Say why a file is none of the workspace; ``nested`` are the folders of other workspaces inside, with a slash."""
    other = next((folder for folder in nested if path.startswith(folder)), None)
    if other is not None:
        return f"lies in a workspace of its own, '{other.rstrip('/')}'"
    if any(part.startswith(".") for part in path.split("/")):
        return "is hidden: it, or a folder that it lies in, begins with a dot"
    name = posixpath.basename(path)
    if name in FOREIGN:
        return f"has the name of another tool's file, '{name}'"
    ending = name.rpartition(".")[2]
    if not name.endswith(".toml"):
        return f"ends in '.{ending}', not in '.toml'" if "." in name else "does not end in '.toml'"
    return "is not read here"


def _too_big(size: int) -> str:
    return f"is {size / 1_048_576:.1f} MB; a file of a workspace has at most {syntax.LIMIT // 1_048_576} MB"


def _linked_folder(path: str) -> Refused:
    """Refuse a link to a folder: where ingredients and their like are looked for it blocks, elsewhere it is a note."""
    severity: Severity = "block" if path.split("/", 1)[0] in FOLDERS else "note"
    return Refused(_LINKED_FOLDER, "link-outside", severity)


def kind_of(path: str) -> str:
    """Say what a path of a workspace is: workspace, recipe, the name of its folder, or a link to a folder."""
    if not path.endswith(".toml"):
        return "link"
    if path == WORKSPACE_FILE:
        return "workspace"
    top = path.split("/", 1)[0]
    return top if "/" in path and top in FOLDERS else "recipe"


def id_of(path: str) -> str:
    """Give the id that a file's stem is."""
    return path.rsplit("/", 1)[-1].removesuffix(".toml")


@dataclass(frozen=True, slots=True)
class Read:
    """One file as read: its facts, and what cannot be read at all of it."""

    facts: Facts
    findings: tuple[Finding, ...]
    whole: bool


def counting(listing: Mapping[str, str]) -> dict[str, str]:
    """Leave out what no file of a workspace can be."""
    return {path: name for path, name in listing.items() if path not in FOREIGN and path[0] != "."}


class FileIndex:
    """The files of a workspace by kind and id; the same until a file comes or goes."""

    def __init__(self, listing: Mapping[str, str]) -> None:
        """Take every file that counts, ``{path: name of its content}``."""
        self.listing = listing
        self.twins: dict[str, list[str]] = {}
        self._by_kind: dict[str, dict[str, str]] = {}
        for path in listing:
            names = self._by_kind.setdefault(kind_of(path), {})
            first = names.setdefault(id_of(path), path)
            if first != path:
                self.twins.setdefault(path, []).append(first)

    def __reduce__(self) -> tuple[type[FileIndex], tuple[Mapping[str, str]]]:
        """Give another process the listing: all else comes of it."""
        return FileIndex, (self.listing,)

    def ids(self, kind: str) -> Mapping[str, str]:
        """Give ``{id: path}`` for a kind."""
        return self._by_kind.get(kind, {})

    @cached_property
    def shelf(self) -> Shelf:
        """Give the ids that references may name."""
        recipes, ingredients, equipment, packaging = (frozenset(self.ids(kind)) for kind in REFERRED)
        return Shelf(recipes, ingredients, equipment, packaging)


class Snapshot:
    """A workspace at one moment."""

    def __init__(self, source: Source, store: ContentStore | None = None, index: FileIndex | None = None) -> None:
        """Take the source, the store of what is read (one of its own without), and the index where it is known.

        Nothing is read yet.
        """
        self.source = source
        self.store = ContentStore() if store is None else store
        self._index = index
        self._names: dict[str, str] = {}  # of contents whose names their source did not know
        self._refused: dict[str, Refused] = {}
        self._positions: dict[str, syntax.Positions | None] = {}
        self._unread: dict[str, bytes] = {}  # named, and not parsed yet
        self._unread_bytes = 0
        self.moved = False  # a file changed under us: what was said of it is said of no one content

    def __reduce__(self) -> tuple[type[Snapshot], tuple[Source, None, FileIndex]]:
        """Give another process the moment: the same files of the same source, none of them read yet."""
        return Snapshot, (self.source, None, self.index)

    def __enter__(self) -> Self:
        """Give the snapshot itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let go of the source."""
        self.source.close()

    @property
    def label(self) -> str:
        """Name the moment: a revision, "index", "work tree"."""
        return self.source.label

    @property
    def index(self) -> FileIndex:
        """Give the files by kind and id."""
        if self._index is None:
            self._index = FileIndex(counting(self.source.listing()))
        return self._index

    @property
    def listing(self) -> Mapping[str, str]:
        """Give every file of the workspace that counts."""
        return self.index.listing

    def ids(self, kind: str) -> Mapping[str, str]:
        """Give ``{id: path}`` for a kind: recipe, ingredients, equipment, lots, batches, evidence, rules."""
        return self.index.ids(kind)

    @property
    def twins(self) -> Mapping[str, list[str]]:
        """Give files whose id another file of the kind has already: ``{path: [earlier paths]}``."""
        return self.index.twins

    @property
    def exists(self) -> bool:
        """Say whether there is a workspace at all at this moment."""
        return WORKSPACE_FILE in self.listing

    def content_name(self, path: str) -> str:
        """Name the content of a file as git does; the work tree's files are read for it."""
        if path not in self.listing:
            return ""
        content = self._content(path)
        return f"refused:{content.message}" if isinstance(content, Refused) else self._name(path)

    def content_id(self, path: str) -> str:
        """Name the content of a file as git does, without parsing it; why it is refused where it cannot be read."""
        if path not in self.listing:
            return ""
        name = self._name(path)
        if name:
            return name
        if path in self._refused:
            return f"refused:{self._refused[path].message}"
        data = self.source.read(path)
        if isinstance(data, Refused):
            self._refused[path] = data
            return f"refused:{data.message}"
        self._names[path] = blob_id(data)
        self._unread_bytes += len(data)
        if self._unread_bytes <= _MOST_UNREAD:
            self._unread[path] = data
        return self._names[path]

    def _name(self, path: str) -> str:
        return self.source.name(path) or self._names.get(path, "")

    def _content(self, path: str) -> Content | Refused:
        """Give what was read of a file, reading it where that is not known."""
        if path in self._refused:
            return self._refused[path]
        kind, name = kind_of(path), self._name(path)
        known = self.store.known(kind, name) if name else None
        if known is not None:
            return known
        data = self._unread.pop(path) if path in self._unread else self.source.read(path)
        if isinstance(data, Refused):
            self._refused[path] = data
            return data
        if not self.source.name(path):
            found = blob_id(data)
            self.moved = self.moved or bool(name and name != found)
            name = self._names[path] = found
        return self.store.read(kind, name, data)

    def read(self, path: str) -> Read:
        """Read one file into facts."""
        return read_as(path, self._content(path))

    def stop_of(self, path: str) -> Finding | None:
        """Give what a stopped merge left at the top of a file, None where it left nothing."""
        content = self._content(path)
        stop = None if isinstance(content, Refused) else content.stop
        return None if stop is None else _stopped(path, *stop)

    def recipe(self, name: str) -> Recipe | None:
        """Read a recipe; None where there is none of that id or its file does not parse."""
        path = self.ids("recipe").get(name)
        return None if path is None else self.recipe_at(path)

    def recipe_at(self, path: str) -> Recipe | None:
        """Read the recipe in a file; None where the file does not parse."""
        if self.store.lasting:
            return self._made(path, lambda read: Recipe(id_of(path), read.facts, path) if read.whole else None)
        read = self.read(path)
        return Recipe(id_of(path), read.facts, path) if read.whole else None

    def premix(self, name: str) -> Recipe | None:
        """Read a recipe that an ingredient is made by, and keep it."""
        path = self.ids("recipe").get(name)
        if path is None:
            return None
        return self._made(path, lambda read: Recipe(name, read.facts, path) if read.whole else None)

    def ingredient(self, name: str) -> Ingredient | None:
        """Read an ingredient, and keep it; one whose file does not parse has no facts and says so."""
        path = self.ids("ingredients").get(name)
        if path is None:
            return None
        return self._made(path, lambda read: Ingredient(name, read.facts, path, readable=read.whole))

    def made_by_recipes(self) -> Iterator[str]:
        """Give the ids of the ingredients that may be made by a recipe of the house; most files need no reading."""
        for name, path in self.ids("ingredients").items():
            known = self.store.known("ingredients", self._name(path))
            data = b"recipe" if known is not None or path in self._refused else self.source.read(path)
            # a key may be spelled with escapes
            if isinstance(data, Refused) or b"recipe" in data or b"\\" in data:
                yield name

    def equipment(self, name: str) -> Equipment | None:
        """Read a piece of equipment, and keep it."""
        path = self.ids("equipment").get(name)
        if path is None:
            return None
        return self._made(path, lambda read: Equipment(name, read.facts, path, readable=read.whole))

    def packaging(self, name: str) -> Packaging | None:
        """Read what a product is filled into, and keep it."""
        path = self.ids("packaging").get(name)
        if path is None:
            return None
        return self._made(path, lambda read: Packaging(name, read.facts, path, readable=read.whole))

    def record(self, kind: str, name: str) -> Record | None:
        """Read a file of another kind, and keep it: equipment, lots, batches, evidence, rules."""
        path = self.ids(kind).get(name)
        if path is None:
            return None
        return self._made(path, lambda read: Record(kind, name, read.facts, path), "record")

    def _made(self, path: str, make: Callable[[Read], T], what: str = "") -> T:
        """Give the value that is made of a file: one for all moments at which it has the same content."""
        name = self._name(path)
        if not name:
            content = self._content(path)
            name = str(content) if isinstance(content, Refused) else self._name(path)
        return self.store.cached((what, path, name), lambda: make(self.read(path)))

    @cached_property
    def workspace(self) -> Workspace:
        """Give the workspace's own facts, and those of the house's rules among them."""
        rules = self.ids("rules")
        files = (WORKSPACE_FILE, *rules.values())
        key = ("workspace", *((path, self.content_name(path)) for path in files))
        return self.store.cached(key, self._workspace_facts)

    def _workspace_facts(self) -> Workspace:
        facts = dict(self.read(WORKSPACE_FILE).facts) if self.exists else {}
        for name, path in self.ids("rules").items():
            facts.update({("rules", name, *key): value for key, value in self.read(path).facts.items()})
        return Workspace(facts)

    @property
    def shelf(self) -> Shelf:
        """Give the ids that references may name."""
        return replace(self.index.shelf, proofs=self.proofs_of)

    def proofs_of(self, recipe: str) -> tuple[Proof, ...]:
        """Give the proofs that the evidence files record for a recipe, whatever version they are about."""
        records = (self.record("evidence", name) for name in self.ids("evidence"))
        found = (proof for record in records if record is not None for proof in proofs(record))
        return tuple(proof for proof in found if proof.recipe == recipe)

    def formula(self, recipe: Recipe) -> Formula:
        """Gather what a recipe rests on."""
        return resolve(
            recipe, self.ingredient, self.premix, self.workspace, self.shelf,
            equipment=self.equipment, packaging=self.packaging,
        )  # fmt: skip

    def formula_at(self, path: str, name: str = "") -> Formula | None:
        """Gather the recipe in a file with what it rests on, under another id where one is given.

        None where the file does not parse.
        """
        recipe = self.recipe_at(path)
        if recipe is None:
            return None
        return self.formula(Recipe(name, recipe.facts, path) if name and name != recipe.id else recipe)

    def formula_of(self, name: str, path: str, read: Read) -> Formula:
        """Gather what a recipe that was read already rests on."""
        return self.formula(Recipe(name, read.facts, path))

    def recipes(self) -> Iterator[Recipe]:
        """Read every recipe that parses, one after the other."""
        for name in self.ids("recipe"):
            found = self.recipe(name)
            if found is not None:
                yield found

    def place(self, finding: Finding) -> Finding:
        """Give the finding with the line and column of the fact that it is about."""
        if finding.line:
            return finding
        positions = self._positions_of(finding.file)
        if positions is None:
            return finding.placed(1, 1)
        path = _place(finding)(self._facts_for_place(finding), finding.at)
        spot = positions.value(path) if finding.on_value else None
        line, column = spot or positions.nearest(path)
        return finding.placed(line, column)

    def _facts_for_place(self, finding: Finding) -> Facts:
        if finding.at[:1] not in (("step",), ("accept",), ("rule",), ("pair",)):
            return {}
        return self.read(finding.file).facts

    def _positions_of(self, path: str) -> syntax.Positions | None:
        if path not in self._positions:
            content = self._content(path) if path in self.listing else Refused("")
            text = None if isinstance(content, Refused) or not content.whole else content.text
            self._positions[path] = None if text is None else syntax.positions(text)
        return self._positions[path]


def _place(finding: Finding) -> Callable[[Facts, tuple[str, ...]], tuple[str | int, ...]]:
    kind = kind_of(finding.file)
    if kind == "rules":
        return rules_file.place
    if kind == "batches":
        return batch_file.place
    if kind == "evidence":
        return record_files.place
    return recipe_file.place if kind == "recipe" else ingredient_file.place


def _stopped(path: str, line: int, words: str) -> Finding:
    message = f"a merge was stopped here and is not mended yet: {words}"
    return Finding("merge-stopped", "block", message, path, line=line, column=1, subject="stop")


def _of_file(path: str, rule: str, message: str, severity: Severity = "block") -> Finding:
    return Finding(rule, severity, f"'{path}' {message}", path, line=1, column=1, subject=rule)


def read_as(path: str, content: Content | Refused) -> Read:
    """Give a content as the file that has a path: its facts, and what is said of it at that path."""
    if isinstance(content, Refused):
        return Read({}, (_of_file(path, content.rule, content.message, content.severity),), whole=False)
    findings = tuple(
        Finding(
            problem.rule,
            "block",
            problem.message,
            path,
            line=problem.line,
            column=problem.column,
            subject=problem.message,
        )
        for problem in content.problems
    )
    if content.stop is not None:
        findings = (*findings, _stopped(path, *content.stop))
    return Read(content.facts, findings, whole=content.whole)


def refused(facts: Facts, file: str, recipe: str | None) -> Iterator[Finding]:
    """Give a finding for every value that could not be read."""
    for path, value in unread(facts):
        yield _refusal(path, value, file, recipe)


def _refusal(path: tuple[str, ...], value: Unread, file: str, recipe: str | None) -> Finding:
    return Finding(
        value.rule,
        "block",
        value.message,
        file,
        at=path,
        recipe=recipe,
        subject="/".join(path),
        on_value=value.rule in ("bad-quantity", "wrong-type"),
    )


def find_workspace(start: Path) -> Path | None:
    """Find the workspace that a folder lies in, going up."""
    for folder in (start, *start.parents):
        if (folder / WORKSPACE_FILE).is_file():
            return folder
        if (folder / ".git").exists() or _is_bare(folder):
            return None
    return None


def _is_bare(folder: Path) -> bool:
    """Say whether a folder is a bare repository: the workspace around it is none of its own."""
    return (folder / "HEAD").is_file() and (folder / "objects").is_dir() and (folder / "refs").is_dir()


def no_workspace(where: str) -> UserError:
    """Say that there is no workspace."""
    return UserError(f"no {WORKSPACE_FILE} in {where}; 'git formula init' writes one to start from")
