"""``git formula explain``: all that the tables know of one substance."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module

from formula_vcs.errors import OK, UserError
from formula_vcs.law.dossier import dossier
from formula_vcs.law.identity import nearest_names


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("substance", metavar="SUBSTANCE", nargs="+", help="a name in any language, or a CAS number")
    parser.add_argument("--format", choices=("text", "json", "markdown"), default="text")


def run(args: argparse.Namespace) -> int:
    """Tell it; it needs no workspace."""
    asked = " ".join(" ".join(args.substance).split())
    found = dossier(asked)
    if found is None:
        near = " or ".join(f"'{name}'" for name in nearest_names(asked))
        hint = f"; did you mean {near}?" if near else ""
        raise UserError(f"no table here knows '{asked}'{hint}")
    import_module(f"formula_vcs.reports.explain.{args.format}").write(found, out=sys.stdout)
    sys.stdout.flush()
    return OK
