"""How a command ends: its exit status, and the one exception that the user can do something about."""

from __future__ import annotations

from typing import Final

OK: Final = 0
"""Nothing blocks."""
BLOCKED: Final = 1
"""Something blocks, or two versions differ and ``--exit-code`` was given."""
WRONG: Final = 2
"""The command or what it was given is wrong: the user can put it right."""
BUG: Final = 3
"""Our mistake.  Never 1: a crash must not look like a finding."""
INTERRUPTED: Final = 130
"""Control-C, as shells count it: 128 + SIGINT."""


class GitFailed(Exception):
    """Git itself failed: it is not there, refuses the repository, or cannot read an object.

    No `UserError`: whoever asks for a revision or a file that may be missing takes that for "there is none", and an
    answer from half a history would be wrong.  The message is one clear line, and the exit status is 2.
    """


class UserError(Exception):
    """Something the user can put right: the message is one clear line, and the exit status is 2."""
