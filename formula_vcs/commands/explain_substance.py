"""``git formula explain``: all that the tables know of one substance."""

from __future__ import annotations

import argparse
import sys

from formula_vcs.errors import OK, UserError
from formula_vcs.law.dossier import dossier
from formula_vcs.law.identity import nearest_names
from formula_vcs.reports import explain, formats


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("substance", metavar="SUBSTANCE", nargs="+", help="a name in any language, or a CAS number")
    parser.add_argument("--format", choices=formats.EVERY, default="text")


def run(args: argparse.Namespace) -> int:
    """Tell it; it needs no workspace."""
    asked = " ".join(" ".join(args.substance).split())
    found = dossier(asked)
    if found is None:
        near = " or ".join(f"'{name}'" for name in nearest_names(asked))
        hint = f"; did you mean {near}?" if near else ""
        raise UserError(f"no table here knows '{asked}'{hint}")
    formats.write(explain.REPORT, found, args.format, sys.stdout)
    sys.stdout.flush()
    return OK
