"""Accepted findings are current and match something."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import FORMAT, Case, Rule
from formula_vcs.toml.takers import nearest


def matches(finding: Finding, rule: str, about: str) -> bool:
    """Say whether an [[accept]] is about a finding: its rule, and its subject or a name that it speaks of."""
    if finding.rule != rule:
        return False
    folded = about.casefold()
    return (
        not folded
        or folded in finding.subject.casefold().split("/")
        or folded == finding.subject.casefold()
        or (f"'{folded}'" in finding.message.casefold())
    )


class AcceptExpired(Rule):
    """An accepted finding is not past its `until`.

    Why: "until the new artwork is printed" has an end.
    """

    id = "accept-expired"
    source = FORMAT

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare every end with the day."""
        for (rule, about), accepted in case.recipe.accepted.items():
            if isinstance(accepted.until, datetime.date) and accepted.until < case.day:
                name = f"'{rule}'" + (f" about '{about}'" if about else "")
                words = f"the acceptance of {name} ended on {accepted.until}: {accepted.why}"
                yield self.say(case, words, ("accept", rule, about))


class AcceptUnused(Rule):
    """An accepted finding still matches something, and its rule is one that can be accepted.

    Why: an acceptance that is left behind would quietly cover the next finding of its kind.  Arithmetic and
    references cannot be accepted: a total of 100.05 has no reason.
    """

    id = "accept-unused"
    source = FORMAT

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for what every acceptance is about."""
        from formula_vcs.rules.registry import RULES

        for rule, about in case.recipe.accepted:
            known = RULES.get(rule)
            if known is None:
                words = f"no rule is called '{rule}'{nearest(rule, RULES)}"
            elif not known.acceptable:
                words = f"a finding of '{rule}' cannot be accepted, it has to be mended"
            elif not any(matches(finding, rule, about) for finding in case.raised):
                words = f"the acceptance of '{rule}'{f' about {about!r}' if about else ''} matches nothing any more"
            else:
                continue
            yield self.say(case, words, ("accept", rule, about))
