"""Show long text as git shows it: on a terminal through git's pager, elsewhere as it is."""

from __future__ import annotations

import os
import subprocess
from typing import Final, TextIO

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
    return "" if said.returncode or command == "cat" else command


def show(text: str, out: TextIO) -> None:
    """Write a text to a terminal through the pager, or to anything else as it is."""
    command = pager() if out.isatty() else ""
    if not command or not _paged(command, text, out):
        out.write(text)
    out.flush()


def _paged(command: str, text: str, out: TextIO) -> bool:
    """Hand a text to the pager; False where the shell did not find it, so that nobody is left without the text."""
    out.flush()
    # the command is the user's own configuration, which git, too, hands to a shell
    ended = subprocess.run(
        ["sh", "-c", command], input=text.encode("utf-8"), env={**_MANNERS, **os.environ}, stdout=out, check=False
    )
    return ended.returncode not in (126, 127)
