"""Write facts into the text of a file: a text that reads as some facts, with the comments and layout it had.

The one way in which a part of a change, or a merge, becomes a file again.
"""

from __future__ import annotations

from formula_vcs.model.facts import Facts, stated
from formula_vcs.toml.edit import EditRefused
from formula_vcs.toml.facts_to_toml import CannotWrite, FileVersion, data_for
from formula_vcs.toml.layout import Layout
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.toml.text_edits import with_data

__all__ = ["CannotWrite", "rewritten"]


def rewritten(text: str, target: Facts, kind: str, donor: str | None = None, base: str | None = None) -> str:
    """Give the text edited so that it reads as the target facts, everything else in it untouched.

    ``kind`` is the kind of the file (`snapshot.kind_of`: "recipe", "ingredients", "workspace" ...).  ``donor`` is the
    text of another version, from which steps, charges and tables that are not in the text come as they stand there,
    with their comments.  ``base`` is what both come from, where that is not the text itself: a comment behind a value
    that the donor changed comes along where the donor changed the comment too.

    The result has been read again and its facts are the target.  Raises `CannotWrite` where a text does not parse, or
    where no such edit was found.
    """
    target = stated(target)
    own = Layout(text)
    version = FileVersion(kind, own.data)
    if version.facts == target:
        return text
    other = None if donor is None else FileVersion(kind, Layout(donor).data)
    data = data_for(target, version, other)
    try:
        edited = with_data(text, data, donor, base)
    except (CannotWrite, EditRefused):
        edited = _by_whole_keys(text, data, donor)
    found = parse(edited.encode("utf-8", "surrogateescape"))
    if found.errors or stated(facts_of(kind, found.data)) != target:
        raise CannotWrite("this cannot be written here without changing something else; edit the file by hand")
    return edited


def _by_whole_keys(text: str, data: dict[str, object], donor: str | None) -> str:
    """Replace each key of the file's top that differs as a whole, comments inside included: for exotic layouts."""
    from formula_vcs.toml.text_edits import same

    here = Layout(text).data
    kept = {key: value for key, value in here.items() if key in data and same(value, data[key])}
    return with_data(with_data(text, kept), data, donor)
