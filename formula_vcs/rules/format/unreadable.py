"""What cannot be read, or cannot be: syntax, keys, values, a stopped merge, ranges, compositions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from fractions import Fraction

from formula_vcs.model.amount import PartSpan
from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.quantity import Range
from formula_vcs.rules.rule import Case, FileRule, ReadingRule, Rule
from formula_vcs.words.numbers import exact_text

# --- Values that could not be read


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


class ApprovalUnsigned(FileRule):
    """A decision in approvals/ has its signature beside it, and a signature what it signs.

    Why: only the two together count.  A decision whose signature was left out of the commit, or taken away, still
    reads "approve", and approves nothing.  Not so: `approvals/cream/1f0c.toml` alone.  So: with
    `approvals/cream/1f0c.toml.sig`, as `git formula approve` writes them.
    """

    id = "approval-unsigned"


# --- A merge that was stopped has been looked at


class MergeStopped(FileRule):
    """No file carries the line of a stopped merge.

    Why: two edits, each fine, can break a recipe together: two people each add 0.3 % of a preservative, and the sum is
    over its limit.  No line of text clashes then, so `git merge` would pass it.  The merge driver stops such a merge
    as a conflict, and leaves the merged recipe with one comment line at its top that names what it breaks and both
    edits.  Decide which of them stays, mend the recipe, and take the line out.

    Not so:
        # git-formula stopped this merge: ...
        title = "Hand cream"

    So:
        title = "Hand cream"

    What the driver saw is this one file, among the others as our side has them.  What breaks between files is found
    by `git formula check --merge A B`, by the hook before a merge commit and by the check in CI.
    """

    id = "merge-stopped"


# --- Ranges run from low to high


class Ranges(Rule):
    """A range runs from its lower to its higher end.

    Not so:
        pH = "5.4 to 4.8"
    """

    id = "range-order"
    judges = "both"

    def check(self, case: Case) -> Iterator[Finding]:
        """Look at every range of the recipe."""
        for path, value in case.recipe.facts.items():
            if isinstance(value, Range) and not value.ordered():
                yield self.say(case, f"'{path[-1]}': {value} runs from high to low", path, on_value=True)

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Look at every range of the ingredient."""
        for path, value in ingredient.facts.items():
            if isinstance(value, Range) and not value.ordered():
                yield self.say_of(ingredient, f"'{path[-1]}': {value} runs from high to low", path, on_value=True)


# --- An ingredient's substances add up to 100


class CompositionAddsUp(Rule):
    """The substances of an ingredient add up to 100 % of it.

    Why: label order, water content and every limit are worked out from the substances; what is missing from the
    composition is missing from the product.  Of a range the middle counts, and the worse end for a limit; middles that
    do not make 100 are not stretched: one substance then fills up.

    Not so:
        [substances]
        "Cocamidopropyl Betaine" = 30           # and the water that it comes in?

    So:
        [substances]
        "Aqua"                   = 64.5
        "Cocamidopropyl Betaine" = 30
        "Sodium Chloride"        = 5.5

    Or, as a supplier prints it:
        [substances]
        "Aqua"                   = "to 100"
        "Cocamidopropyl Betaine" = "28 to 32"
        "Sodium Chloride"        = "at most 6"
    """

    id = "composition"
    judges = "ingredient"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Add the substances up, and the COSMOS classes where they are stated."""
        if ingredient.substances:
            words = _composed(ingredient)
            if words:
                yield self.say_of(ingredient, words, ("substances",))
        classes = [
            value
            for path, value in ingredient.facts.items()
            if len(path) == 2
            and path[0] == "cosmos"
            and isinstance(value, Decimal)
            and not path[1].endswith("_organic")
        ]
        if classes and _sum(classes) != 100:
            yield self.say_of(ingredient, _words("the classes in [cosmos]", _sum(classes)), ("cosmos",))


def _composed(ingredient: Ingredient) -> str:
    """Say why the substances do not make up the material; nothing where they do."""
    parts, held = ingredient.stated("substances"), ingredient.held
    spans = {name: part for name, part in parts.items() if isinstance(part, PartSpan)}
    filling = next((name for name, part in spans.items() if part.fills), None)
    total = sum((one.middle for name, one in held.items() if name != filling), Fraction(0))
    if not spans or (filling is None and total == 100) or (filling is not None and total < 100):
        return _words("the substances", total) if not spans and total != 100 else ""
    ranges = len(spans) > (filling is not None)
    of_ranges = "the substances, their ranges at the middle," if ranges else "the substances"
    if filling is not None:
        return f"{of_ranges} add up to {exact_text(total)} % and leave nothing for '{filling}', which fills up to 100"
    least, most = (sum((one[end] for one in held.values()), Fraction(0)) for end in (0, 2))
    if not least <= 100 <= most:
        return f"the substances add up to {exact_text(least)} to {exact_text(most)} %, whatever lies in their ranges"
    return f'{_words(of_ranges, total)}; let one, the water say, fill up: "to 100"'


def _sum(values: Iterable[Decimal]) -> Fraction:
    """Add up exactly: a sum of decimals is rounded to 28 digits."""
    return sum(map(Fraction, values), Fraction(0))


def _words(what: str, total: Fraction) -> str:
    difference = exact_text(abs(total - 100))
    return f"{what} add up to {exact_text(total)} %, {difference} too {'much' if total > 100 else 'little'}"
