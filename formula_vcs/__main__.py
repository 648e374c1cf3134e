"""``python -m formula_vcs`` is ``git formula``."""

from __future__ import annotations

from formula_vcs.cli import main_and_exit

if __name__ == "__main__":
    main_and_exit()
