"""Show long output as git shows it: through git's pager."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Final

from formula_vcs.git.running import environment

# as git sets them for its pager where nobody else did: leave at once what fits, take colours, do not wipe the screen
_MANNERS: Final = {"LESS": "FRX", "LV": "-c"}


def pager() -> str:
    """Name the pager that git would use here, as a command line of the shell; nothing where there is to be none."""
    try:
        # `running.call` tells git that no pager is wanted, and git would answer "cat"
        said = subprocess.run(["git", "var", "GIT_PAGER"], env=environment(), capture_output=True, check=False)
    except OSError:
        return ""
    command = said.stdout.decode("utf-8", "replace").strip()
    return "" if said.returncode or command == "cat" or not _is_there(command) else command


def _is_there(command: str) -> bool:
    """Say whether the shell would find a pager, so that nobody is left without the text."""
    try:
        words = shlex.split(command)
    except ValueError:
        return False
    return bool(words) and (shutil.which(words[0]) is not None or not words[0].replace("-", "").isalnum())


@contextmanager
def paged() -> Iterator[None]:
    """Send what is written to stdout through the pager, and wait until it is left; stdout is a terminal."""
    command = pager()
    if not command:
        yield
        return
    os.environ.update({"GIT_PAGER_IN_USE": "true", "COLUMNS": str(shutil.get_terminal_size().columns)})
    sys.stdout.flush()
    terminal = os.dup(1)
    reads, writes = os.pipe()
    # the command is the user's own configuration, which git, too, hands to a shell
    with subprocess.Popen(["sh", "-c", command], stdin=reads, env={**_MANNERS, **os.environ}) as shown:
        os.close(reads)
        os.dup2(writes, 1)
        os.close(writes)
        try:
            yield
        finally:
            _flushed()
            os.dup2(terminal, 1)
            os.close(terminal)
            _left(shown)


def _flushed() -> None:
    """Hand over what is left; a reader who has gone has seen enough."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        sys.stdout.flush()


def _left(shown: subprocess.Popen[bytes]) -> None:
    """Wait until the reader leaves the pager; what she interrupts is the pager's own affair."""
    while shown.poll() is None:
        with suppress(KeyboardInterrupt):
            shown.wait()
