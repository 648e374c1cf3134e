"""``git formula new``: begin a file of any kind, commented, with what must be filled in and what to do next."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import Final

from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.errors import OK, UserError
from formula_vcs.model.evidence import KINDS as PROOFS
from formula_vcs.model.values import replace
from formula_vcs.setup.new_files import EQUIPMENT
from formula_vcs.setup.new_recipe import FORMS, CannotBegin, NewFile
from formula_vcs.setup.schemas import named
from formula_vcs.toml import syntax
from formula_vcs.workspace.snapshot import Refused, Snapshot

KINDS: Final = ("recipe", "ingredient", "premix", "lot", "equipment", "packaging", "evidence", "rule")
_FOLDER: Final = {
    "recipe": "recipe",
    "premix": "recipe",
    "ingredient": "ingredients",
    "equipment": "equipment",
    "packaging": "packaging",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("kind", choices=KINDS, help="what is begun")
    parser.add_argument(
        "names", nargs="+", metavar="NAME", help="its id; an INCI name or CAS number; an ingredient and its lots"
    )
    parser.add_argument("--title", metavar="WORDS", help="what people call it (default: its id)")
    parser.add_argument("--product", metavar="TYPE", help='of a recipe: the kind of product, like "hand cream"')
    parser.add_argument("--form", choices=FORMS, help="of a recipe or premix: its form")
    parser.add_argument("--from", dest="source", metavar="RECIPE[@REV]", help="begin from another recipe")
    parser.add_argument("--id", metavar="ID", help="of an ingredient: its id (default: from its name)")
    parser.add_argument("--supplier", metavar="NAME", help="of an ingredient")
    parser.add_argument("--code", metavar="CODE", help="of an ingredient: the supplier's code")
    parser.add_argument("--pure", action="store_true", help="of an ingredient: it is 100 %% of that substance")
    parser.add_argument("--is", dest="what", metavar="KIND", help="of equipment or evidence: vessel, stability ...")
    parser.set_defaults(offered={"--is": (*EQUIPMENT, *PROOFS)})
    parser.add_argument("--report", metavar="NUMBER", help="of evidence: the number of the report")
    parser.add_argument("--passed", metavar="DATE", help="of evidence: the day on which it was passed")
    parser.add_argument("--rev", metavar="REV", help="of evidence: the version that was tested (default: HEAD)")
    parser.add_argument("--substance", metavar="INCI", help="of a rule")
    parser.add_argument("--at-most", metavar="SHARE", help='of a rule, like "0.8 %%"')
    parser.add_argument("--dry-run", action="store_true", help="show the file and write nothing")
    workspace_args.option(parser)


def run(args: argparse.Namespace) -> int:
    """Make the files, write them unless they are there, and say what to do next."""
    place = workspace_args.place(args.workspace)
    with place.work_tree() as snapshot:
        try:
            files = _files(args, snapshot)
        except CannotBegin as error:
            raise UserError(str(error)) from None
        for file in files:
            if file.old is None and (file.path in snapshot.listing or (place.root / file.path).exists()):
                raise UserError(f"'{file.path}' is there already; it was left alone")
    files = [
        file if file.old is not None else replace(file, text=named(file.path, file.text, place.root)) for file in files
    ]
    if args.dry_run:
        sys.stdout.write("\n".join(f"# {file.path}\n{file.text}" for file in files))
        return OK
    _write(place, files)
    _say(place, files)
    return OK


def _files(args: argparse.Namespace, snapshot: Snapshot) -> list[NewFile]:
    from formula_vcs.setup import new_files

    name, *more = args.names
    if more and args.kind != "lot":
        raise UserError(f"one {args.kind} at a time; '{more[0]}' is too much (put a name with blanks in quotes)")
    if args.kind in ("recipe", "premix", "equipment", "packaging", "rule"):
        _id(name, args.kind)
    if args.id:
        _id(args.id, "ingredient")
    if args.kind in _FOLDER and args.kind != "ingredient":
        _free(name, args.kind, snapshot)
    title = args.title or name.replace("-", " ").capitalize()
    if args.kind == "recipe":
        return [_recipe(args, name, title, snapshot)]
    if args.kind == "premix":
        return new_files.new_premix(name, title, args.form or "aqueous", snapshot)
    if args.kind == "ingredient":
        words = {key: value for key in ("supplier", "code", "id") if (value := getattr(args, key))}
        return [new_files.new_ingredient(name, args.title or "", words, pure=args.pure)]
    if args.kind == "lot":
        return _lots(name, more, snapshot)
    if args.kind == "equipment":
        return [new_files.new_equipment(name, title, _one_of(args.what, new_files.EQUIPMENT))]
    if args.kind == "packaging":
        return [new_files.new_packaging(name, title, snapshot)]
    if args.kind == "evidence":
        return [_proof(args, name, snapshot)]
    return [new_files.new_rule(name, args.substance or "", args.at_most or "", _old(snapshot, "rules/house.toml"))]


def _id(name: str, kind: str) -> None:
    from formula_vcs.toml.takers import ID, NAME_LIMIT
    from formula_vcs.words.quoting import slug

    article = "an" if kind[0] in "aeiou" else "a"
    if not ID.fullmatch(name) or len(name) > NAME_LIMIT:
        raise UserError(
            f"'{name}' is no id of {article} {kind}; lower case letters, digits and hyphens make one: '{slug(name)}'"
        )


def _free(name: str, kind: str, snapshot: Snapshot) -> None:
    taken = snapshot.ids(_FOLDER[kind])
    if name in taken:
        raise UserError(f"the id '{name}' is taken, by {taken[name]}")


def _one_of(word: str | None, known: Sequence[str]) -> str:
    if word is None or word not in known:
        said = f"'{word}' is none" if word else "what kind of?"
        raise UserError(f"--is: {said}; say one of {', '.join(known)}")
    return word


def _recipe(args: argparse.Namespace, name: str, title: str, snapshot: Snapshot) -> NewFile:
    from formula_vcs.setup.new_recipe import form_of, template

    if args.source:
        return _copy(args, name, title)
    if not args.product:
        raise UserError('a recipe is begun with --product "hand cream", or --from another recipe')
    form = args.form or form_of(args.product)
    todo = (
        "write the charges of each phase, and what it is made by",
        f"git formula check {name}.toml        says what is missing",
        f"git formula show {name}              works out cost, label and figures",
    )
    return NewFile(f"{name}.toml", template(title, args.product, form, snapshot), todo)


def _copy(args: argparse.Namespace, name: str, title: str) -> NewFile:
    from formula_vcs.model.content_hash import content_hash
    from formula_vcs.setup.new_recipe import copied
    from formula_vcs.toml.edit import EditRefused

    target = recipe_args.find(args.source, revision=None, workspace=args.workspace, wanted=("recipe",))
    with target.snapshot:
        recipe = recipe_args.readable(target)
        digest = content_hash(recipe, target.snapshot.formula(recipe).premixes)
        raw = target.snapshot.source.read(target.file)
        accepted = len(recipe.accepted)
    text = "" if isinstance(raw, Refused) else syntax.parse(raw).text
    version = f"commit {target.commit[:12]}" if target.commit else "as it lay in the work tree"
    day = workspace_args.terms(None).day
    history = f"Begun from '{target.id}', {version} (content hash {digest[:16]}), on {day}."
    try:
        new = copied(text, title, history)
    except EditRefused as error:
        raise UserError(f"{target.file}: {error}") from None
    folder = f"{target.file.rpartition('/')[0]}/" if "/" in target.file else ""
    todo = ["nothing that was proved of the other recipe is proved of this one: begin evidence of its own"]
    if accepted:
        todo.insert(0, f"{accepted} accepted findings came along: accept each anew, or take it out")
    return NewFile(f"{folder}{name}.toml", new, (*todo, f"git formula check {folder}{name}.toml"))


def _lots(ingredient: str, numbers: list[str], snapshot: Snapshot) -> list[NewFile]:
    from formula_vcs.setup.new_files import new_lots
    from formula_vcs.toml.takers import nearest

    known = snapshot.ids("ingredients")
    if ingredient not in known:
        raise UserError(f"no ingredient is called '{ingredient}'{nearest(ingredient, known)}")
    if not numbers:
        raise UserError(f"which lots? Write the supplier's numbers: git formula new lot {ingredient} 2291 2292")
    files = new_lots(ingredient, numbers, workspace_args.terms(None).day)
    if len({file.path for file in files}) < len(files):
        raise UserError("two of these lots would have one id")
    return files


def _proof(args: argparse.Namespace, name: str, snapshot: Snapshot) -> NewFile:
    from formula_vcs.law.duty_table import table_of
    from formula_vcs.model.content_hash import content_hash
    from formula_vcs.setup.new_files import new_proof

    kind = _one_of(args.what, table_of(snapshot.workspace).kinds)
    passed = "" if args.passed is None else str(workspace_args.day(args.passed))
    target = recipe_args.find(name, revision=args.rev or "HEAD", workspace=args.workspace, wanted=("recipe",))
    with target.snapshot:
        recipe = recipe_args.readable(target)
        digest = content_hash(recipe, target.snapshot.formula(recipe).premixes)
    old = _old(snapshot, f"evidence/{target.id}.toml")
    return new_proof(target.id, kind, target.commit or "", digest, args.report or "", passed, old)


def _old(snapshot: Snapshot, path: str) -> str | None:
    """Give the text of a file that is gone on with; None where there is none."""
    if path not in snapshot.listing:
        return None
    raw = snapshot.source.read(path)
    if isinstance(raw, Refused):
        raise UserError(f"'{path}' {raw.message}")
    parsed = syntax.parse(raw)
    if parsed.errors:
        raise UserError(f"{path}:{parsed.errors[0].line}: {parsed.errors[0].message}")
    return parsed.text


def _write(place: workspace_args.WorkspaceRef, files: list[NewFile]) -> None:
    from formula_vcs.toml.atomic import unwritable, write_new, write_whole

    for file in files:
        target = place.root / file.path
        if target.parent.is_symlink():
            raise UserError(f"'{file.path}' lies behind a link; links to folders are not followed")
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            (write_new if file.old is None else write_whole)(target, file.text.encode("utf-8"))
        except FileExistsError:
            raise UserError(f"'{file.path}' came to be in the meantime; it was left alone") from None
        except OSError as error:
            raise unwritable(target, error) from error


def _say(place: workspace_args.WorkspaceRef, files: list[NewFile]) -> None:
    for file in files:
        print(f"{'Wrote' if file.old is None else 'Went on with'} {place.shown(file.path)}")
    steps = list(dict.fromkeys(step for file in files for step in file.next))
    if steps:
        print("Next:")
    for step in steps:
        print(f"  {step}")
