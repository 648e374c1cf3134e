"""Read many blobs through one git process, and name a blob without git."""

from __future__ import annotations

import subprocess
from collections import deque
from typing import IO, TYPE_CHECKING, Final, NamedTuple, Self

from formula_vcs.errors import GitFailed, UserError
from formula_vcs.git.running import GIT, Repo, call, environment, failure, place, unstartable
from formula_vcs.words.checksums import sha1, sha256

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

# Requests on their way.  All of them must fit into the smallest pipe that Linux gives (4,096 bytes, once a
# user is over the pipe quota): then writing a request never waits for git while git waits for us.  60 * 65 =
# 3,900.
_WINDOW: Final = 60
_SKIP: Final = 1 << 16
_SHA256_DIGITS: Final = 64
_EXIT_SECONDS: Final = 5
_LARGEST: Final = 1 << 26  # of a commit or a tree; no workspace has one of 64 MB


class Oversized(NamedTuple):
    """A blob above the limit: its size in bytes.  Its content was not kept."""

    size: int


class ObjectFound(NamedTuple):
    """An object of any kind (blob, tree, commit, tag): its full id and its content."""

    oid: str
    kind: str
    data: bytes


class _Request:
    """One blob that git was asked for; ``answer`` is None until git's reply was read."""

    __slots__ = ("answer", "limit", "oid")

    def __init__(self, oid: str, limit: int) -> None:
        self.oid = oid
        self.limit = limit
        self.answer: bytes | Oversized | UserError | GitFailed | None = None


class BlobReader:
    """One long-lived ``git cat-file --batch``, started at the first request.  Use it as a context manager.

    Reads may be mixed in any way, also inside a loop over ``read_many``, and a loop may be left early:
    replies come in the order of the requests, and each finds its own.
    """

    def __init__(self, repo: Repo) -> None:
        """Take the repository; no process starts yet."""
        self._repo = repo
        self._process: subprocess.Popen[bytes] | None = None
        self._waiting: deque[_Request] = deque()
        self._big: dict[str, Oversized] = {}  # one content under many names is streamed once

    def __reduce__(self) -> tuple[type[BlobReader], tuple[Repo]]:
        """Give another process a reader of its own: two on one pipe would take each other's replies."""
        return type(self), (self._repo,)

    def __enter__(self) -> Self:
        """Give the reader itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """End the process."""
        self.close()

    def close(self) -> None:
        """End the process, also where replies were left unread.  The reader can be used again."""
        process, self._process = self._process, None
        self._waiting.clear()
        if process is None:
            return
        for pipe in (process.stdin, process.stdout):
            _close(pipe)
        try:
            process.wait(_EXIT_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()

    def read(self, oid: str, limit: int) -> bytes | Oversized:
        """Give the content of one blob, or its size where it is larger than ``limit`` bytes.

        :raises GitFailed: no such blob here, or git stopped.
        """
        return self._receive(self._ask(oid, limit))

    def object(self, name: str, kind: str = "") -> ObjectFound | None:
        """Give an object of any kind by its id, in full or short; None where there is none here.

        ``kind`` follows a tag to what it names, and tells a commit from other objects that begin like it.

        :raises UserError: several objects begin like that, or the object is absurdly large.
        :raises GitFailed: git stopped.
        """
        while self._waiting:  # replies come in order, and this one is read at once
            self._answer_first()
        stdin, stdout = self._pipes()
        spelled = f"{_spelled(name)}^{{{kind}}}" if kind else _spelled(name)
        try:
            stdin.write(spelled.encode("ascii") + b"\n")
            stdin.flush()
        except OSError as error:
            raise self._stopped(name) from error
        head = stdout.readline().split()
        if len(head) != 3:  # "NAME missing", "NAME ambiguous"
            if head[1:] == [b"ambiguous"]:
                raise UserError(f"several objects of this repository begin with {name}")
            if not head:
                raise self._stopped(name)
            return None
        size = int(head[2])
        if size > _LARGEST:
            self.close()
            raise UserError(f"object {name} has {size / 1_048_576:.0f} MB, more than any workspace needs")
        data = stdout.read(size + 1)
        if len(data) != size + 1:
            raise self._stopped(name)
        return ObjectFound(head[0].decode("ascii"), head[1].decode("ascii"), data[:-1])

    def read_many(self, oids: Iterable[str], limit: int) -> Iterator[tuple[str, bytes | Oversized]]:
        """Give each id with its content (or size), in the order asked; git works ahead meanwhile.

        :raises GitFailed: no such blob here, or git stopped.
        """
        queue: deque[_Request] = deque()
        for oid in oids:
            queue.append(self._ask(oid, limit))
            if len(queue) >= _WINDOW:
                # Half of them, so that the other half keeps git busy and one write carries thirty requests.
                yield from self._drain(queue, _WINDOW // 2)
        yield from self._drain(queue, 0)

    def _drain(self, queue: deque[_Request], down_to: int) -> Iterator[tuple[str, bytes | Oversized]]:
        while len(queue) > down_to:
            first = queue.popleft()
            yield first.oid, self._receive(first)

    def _ask(self, oid: str, limit: int) -> _Request:
        while len(self._waiting) >= _WINDOW:
            self._answer_first()
        request = _Request(_spelled(oid), limit)
        known = self._big.get(oid)
        if known is not None and known.size > limit:
            request.answer = known
            return request
        stdin, _ = self._pipes()
        try:
            stdin.write(oid.encode("ascii") + b"\n")
        except OSError as error:
            raise self._stopped(oid) from error
        self._waiting.append(request)
        return request

    def _receive(self, request: _Request) -> bytes | Oversized:
        while request.answer is None:
            self._answer_first()
        if isinstance(request.answer, (UserError, GitFailed)):
            raise request.answer
        return request.answer

    def _answer_first(self) -> None:
        """Read one reply: it belongs to the request that has waited longest."""
        if not self._waiting:
            msg = "the blob reader was closed while replies were wanted"
            raise UserError(msg)
        request = self._waiting.popleft()
        stdin, stdout = self._pipes()
        try:
            stdin.flush()
        except OSError as error:
            raise self._stopped(request.oid) from error
        head = stdout.readline().split()
        if len(head) == 3:  # id, type, size
            try:
                request.answer = _content(stdout, request, head[1], int(head[2]))
            except EOFError:
                raise self._stopped(request.oid) from None
            if isinstance(request.answer, Oversized):
                self._big[request.oid] = request.answer
        elif head:
            request.answer = GitFailed(f"object {request.oid} is missing from this repository (git fsck says more)")
        else:
            raise self._stopped(request.oid)

    def _stopped(self, oid: str) -> GitFailed:
        """Say why git gives no more replies: what it says itself where it does not even start here."""
        args = ("rev-parse", "--git-dir")
        output = call(args, place(self._repo), environment(self._repo))
        if output.status:
            return failure(args, output)
        because = "the repository may be damaged (git fsck says more), or a partial clone that cannot reach its server"
        return GitFailed(f"git stopped while reading object {oid}: {because}")

    def _pipes(self) -> tuple[IO[bytes], IO[bytes]]:
        process = self._process or self._start()
        if process.stdin is None or process.stdout is None:
            msg = "git was started without pipes"
            raise RuntimeError(msg)
        return process.stdin, process.stdout

    def _start(self) -> subprocess.Popen[bytes]:
        cwd = place(self._repo)
        try:
            # stderr is not read, so it must not be a pipe that can fill up.
            self._process = subprocess.Popen(
                [*GIT, "cat-file", "--batch"],
                cwd=cwd,
                env=environment(self._repo),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        except (FileNotFoundError, NotADirectoryError, PermissionError) as error:
            raise unstartable(cwd) from error
        return self._process


def blob_id(data: bytes, digits: int = 40) -> str:
    """Name a content as git does, so that work-tree text and committed blobs share what was computed.

    ``digits`` is the length of the repository's ids: 40 (SHA-1) or 64 (SHA-256).  A file that git converts on
    the way in (line endings, filters) has another id in the repository: then nothing is shared, and nothing
    is wrong.
    """
    head = b"blob %d\0" % len(data)
    if digits == _SHA256_DIGITS:
        return sha256(head + data).hexdigest()
    return sha1(head + data, usedforsecurity=False).hexdigest()


def _spelled(oid: str) -> str:
    if not (oid.isascii() and oid.isalnum()):
        # A line feed in the id would be a second request, and every later reply would be another's.
        msg = f"not an object id: {oid!r}"
        raise UserError(msg)
    return oid


def _content(stdout: IO[bytes], request: _Request, kind: bytes, size: int) -> bytes | Oversized | UserError:
    """Read one reply's content to its end, and keep it only where it was wanted.  Raises EOFError where it ends."""
    if kind == b"blob" and size <= request.limit:
        data = stdout.read(size + 1)
        if len(data) != size + 1:
            raise EOFError
        return data[:-1]
    left = size + 1
    while left:
        chunk = stdout.read(min(left, _SKIP))
        if not chunk:
            raise EOFError
        left -= len(chunk)
    return Oversized(size) if kind == b"blob" else UserError(f"object {request.oid} is a {kind.decode()}, not a file")


def _close(pipe: IO[bytes] | None) -> None:
    try:
        if pipe is not None:
            pipe.close()
    except OSError:
        # The process is gone and a request was still in the buffer: nobody wants its reply.
        pass
