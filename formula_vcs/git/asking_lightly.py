"""Ask git a question without loading what runs processes: for what is asked before anything is loaded."""

from __future__ import annotations

import os


def output(*words: str) -> bytes | None:
    """Give what git prints, run where this process stands; None where it fails or cannot be started."""
    reading, writing = os.pipe()
    try:
        nothing = os.open(os.devnull, os.O_RDWR | os.O_CLOEXEC)
        try:
            moves = [(os.POSIX_SPAWN_DUP2, nothing, 0), (os.POSIX_SPAWN_DUP2, writing, 1)]
            moves.append((os.POSIX_SPAWN_DUP2, nothing, 2))
            settings = {**os.environ, "LC_ALL": "C", "GIT_OPTIONAL_LOCKS": "0", "GIT_TERMINAL_PROMPT": "0"}
            child = os.posix_spawnp("git", ["git", *words], settings, file_actions=moves)
        except OSError:
            return None
        finally:
            os.close(nothing)
            os.close(writing)
            writing = -1
        parts = []
        while part := os.read(reading, 1 << 20):
            parts.append(part)
        _, status = os.waitpid(child, 0)
        return b"".join(parts) if status == 0 else None
    finally:
        os.close(reading)
        if writing >= 0:
            os.close(writing)
