"""A role that a change left empty."""

from __future__ import annotations

from formula_vcs.rules.rule import COMMON_PRACTICE, Rule


class RoleEmpty(Rule):
    """A change does not take away the only one that did something in the product.

    Why: the only chelator, antioxidant, buffer, photostabiliser, suspending agent, or the electrolyte of a W/O emulsion
    goes, the recipe adds up and nothing breaks a limit: the trouble comes months later, in the shop.  Said by a review
    that compares two versions, with what it was there for and the change that did it: a warning where what it protected
    is still in the product, else a note; a note too where less than half of it is left.  What takes its place in the
    same change counts.  Who holds which role is a table (`chemistry/data/roles.toml`) of common practice.

    So:
        functions = ["chelator"]
    """

    id = "role-empty"
    severity = "warn"
    source = COMMON_PRACTICE
    judges = "review"
