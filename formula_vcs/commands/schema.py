"""``git formula schema``: the JSON schemas of all kinds of files, for editors."""

from __future__ import annotations

import argparse
import sys

from formula_vcs.commands import workspace_args
from formula_vcs.errors import OK, UserError
from formula_vcs.setup import schemas


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("kind", nargs="?", choices=schemas.NAMES, metavar="KIND", help=", ".join(schemas.NAMES))
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--write", action="store_true", help="write them into the workspace, and what finds them")
    which.add_argument("--catalog", action="store_true", help="print a catalog of them as editors take it")
    workspace_args.option(parser)


def run(args: argparse.Namespace) -> int:
    """Print one, write all, or list them."""
    if args.kind and (args.write or args.catalog):
        raise UserError("--write and --catalog are about all kinds; leave the kind out")
    if args.write:
        return _write(workspace_args.place(args.workspace))
    if args.catalog:
        sys.stdout.write(schemas.catalog_text())
    elif args.kind:
        sys.stdout.write(schemas.schema_text(args.kind))
    else:
        for name in schemas.NAMES:
            print(f"{name:<12}{schemas.FOLDER / f'{name}.json'}")
    return OK


def _write(place: workspace_args.WorkspaceRef) -> int:
    from formula_vcs.toml.atomic import write_whole

    folder = place.root / schemas.IN_WORKSPACE
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise UserError(f"'{place.shown(schemas.IN_WORKSPACE)}' is no folder of its own; nothing was written")
    editor = place.root / schemas.EDITOR_FILE
    own = editor.is_symlink() or (editor.exists() and not editor.read_text("utf-8", "replace").startswith(_OURS))
    for path, text in schemas.workspace_files().items():
        if path == schemas.EDITOR_FILE and own:
            print(f"kept   {place.shown(path)}, which is yours: files name their schemas in their first line")
        else:
            write_whole(place.root / path, text.encode())
            print(f"wrote  {place.shown(path)}")
    return OK


_OURS = schemas.editor_text().partition("\n")[0]
