"""Values that could not be read."""

from __future__ import annotations

from formula_vcs.rules.rule import FileRule, ReadingRule


class UnknownKey(ReadingRule):
    """A key is one that the file format knows.

    Why: a misspelt key that is silently ignored is a fact that nobody has.  The nearest known key is named.
    """

    id = "unknown-key"
    judges = "both"


class MissingValue(ReadingRule):
    """What a file must state is there: a title, an amount, what an ingredient is made of."""

    id = "missing-value"
    judges = "both"


class WrongType(ReadingRule):
    """A value is of the kind that its key wants: text, number, list, date, table."""

    id = "wrong-type"
    judges = "both"
    on_value = True


class BadValue(ReadingRule):
    """A value is one that its key can take."""

    id = "bad-value"
    judges = "both"


class BadQuantity(ReadingRule):
    """A quantity has the right unit and is a number that can be.

    Why: "8" may be minutes or hours.  A bare number in a charge is % w/w; everything else carries its unit in
    quotes: "8 min", "72 degC", "6000 rpm", "850 ppm", "4.80 EUR/kg", "45 kg".  A range states its unit once, at the
    end: "18 to 28 Pa*s".  Currencies are ISO 4217 codes and are converted by a stated [[rate]] alone.
    """

    id = "bad-quantity"
    judges = "both"
    on_value = True


class BadId(ReadingRule):
    """An id is lower case letters, digits and hyphens, and is given once.

    A file's stem is its id; a step's id stands in the step.
    """

    id = "bad-id"
    judges = "both"


class Syntax(FileRule):
    """A file is TOML 1.0."""

    id = "syntax"


class Unreadable(FileRule):
    """A file can be read: a plain UTF-8 text file, inside the workspace."""

    id = "unreadable"


class TooBig(FileRule):
    """A file is of a size that a recipe can have."""

    id = "too-big"


class LinkOutside(FileRule):
    """A link leads to a file of the workspace.

    Why: a pull request is somebody else's text; a link in it could show a file that is none of its business.  A link
    to a folder is not followed at all: what is in it is missing here.  That blocks in the folders of ingredients,
    equipment, rules, batches, lots and evidence, and is a note elsewhere.
    """

    id = "link-outside"


class Conflict(FileRule):
    """A file holds no conflict markers, and git holds one version of it.

    `check --merge A B` says by this rule what a merge would leave to be settled.  It blocks where the two branches
    contradict each other.  It warns where only the lines of text clash, or where a text merge, which is what a code
    host's merge button makes, gives another file than the merge driver: merge those on a clone that is armed.
    """

    id = "conflict"


class DuplicateId(FileRule):
    """An id is given once per kind: two recipes in different sub-folders cannot share one."""

    id = "duplicate-id"


class NotJudged(FileRule):
    """No file looks like one of the workspace and is left out of it.

    Why: 'cream.TOML', a recipe in a folder whose name begins with a dot, or one under the name of another tool's file
    is read by nobody: neither its total nor a limit is judged, and nothing says so.  A file that git ignores is judged
    where it lies, and is in no commit that others review.  Not so: `Cream.TOML`, `.drafts/cream.toml`, a `*.toml` line
    of .gitignore.  So: `cream.toml` in the workspace, tracked; what is no recipe yet, outside of it.
    """

    id = "not-judged"
