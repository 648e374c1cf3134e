"""``python -m formula_vcs`` is ``git formula``; so is the installed program.

Nothing is imported before Control-C is made quiet: a person who stops a program that is still loading wants no
traceback.
"""

from __future__ import annotations

import gc
import os
import sys

try:  # what the module signal gives names to, without loading enum for them
    import _signal as signal  # type: ignore[import-not-found]
except ImportError:
    import signal


def run() -> None:
    """Load what there is and run it; Control-C ends the program as it ends any other while Python loads or leaves."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # else the caller ignores it
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    if _said_before():
        _leave_at_once()
        return
    gc.disable()  # nothing that is loaded is garbage
    from formula_vcs.cli import main_and_exit

    gc.enable()
    main_and_exit()


def _said_before() -> bool:
    """Say what a hook said where nothing has changed, before anything else is loaded."""
    if sys.argv[1:] != ["check", "--staged", "--hook"]:
        return False
    from formula_vcs.workspace import glance, tool_stamp

    tool_stamp.note_start()
    said = glance.known()
    if said:
        print(said)
    return said is not None


def _leave_at_once() -> None:
    """End the process without taking it apart; where the words cannot be written Python says so as it leaves."""
    try:
        sys.stdout.flush()
    except OSError:
        return
    os._exit(0)


if __name__ == "__main__":
    run()
