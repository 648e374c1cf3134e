"""Accepted findings are current and match something."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator
from typing import Final

from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import FORMAT, Case, Rule
from formula_vcs.toml.takers import nearest
from formula_vcs.words.quoting import quoted

_MOST: Final = 5  # choices that are named
_ABOUT: Final = 200  # characters of one: it is there to be copied


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


def accept_lines(finding: Finding) -> str | None:
    """The lines of a recipe that accept a finding and no other; None where it cannot be accepted, or is.

    The reason is left to whoever accepts it.
    """
    from formula_vcs.rules.registry import RULES

    rule = RULES.get(finding.rule)
    if rule is None or not rule.acceptable or finding.recipe is None or finding.severity == "note":
        return None
    about = f"about = {_in_toml(finding.subject)}\n" if finding.subject else ""
    return f'[[accept]]\nrule  = {_in_toml(finding.rule)}\n{about}why   = "..."\n'


def _in_toml(text: str) -> str:
    """Write a text as TOML does; JSON escapes all that TOML wants escaped but one character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


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


class AcceptAbout(Rule):
    """An acceptance of a limit or a ban of the law names which one, with `about`.

    Why: without it, the next substance that is over some limit would be covered by a reason that was given for another.
    Until it is named nothing is accepted.  `check --how` writes the lines for one finding.

    So:
        [[accept]]
        rule  = "limit"
        about = "eu-v-29/phenoxyethanol"
        why   = "export batch, not for the EU"
    """

    id = "accept-about"
    source = FORMAT

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for acceptances of all that a rule of the law says."""
        for rule, about in case.recipe.accepted:
            if too_wide(rule, about):
                words = (
                    f"the acceptance of '{rule}' without 'about' would cover every finding of it, and this rule speaks "
                    f"for the law; it accepts nothing until it says which one{_choices(case, rule)}"
                )
                yield self.say(case, words, ("accept", rule, about))


def too_wide(rule: str, about: str) -> bool:
    """Say whether an acceptance is of all that a rule of the law says, and so of nothing."""
    from formula_vcs.rules.registry import RULES

    return not about and rule in RULES and RULES[rule].legal


class AcceptUnused(Rule):
    """An accepted finding still matches something, and its rule is one that can be accepted.

    Why: an acceptance that is left behind would quietly cover the next finding of its kind.  Arithmetic and
    references cannot be accepted: a total of 100.05 has no reason.  The finding lists what the acceptance would match.
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
            elif not too_wide(rule, about) and not any(matches(finding, rule, about) for finding in case.raised):
                named = f" about {quoted(about)}" if about else ""
                words = f"the acceptance of '{rule}'{named} matches nothing any more{_choices(case, rule)}"
            else:
                continue
            yield self.say(case, words, ("accept", rule, about))


def _choices(case: Case, rule: str) -> str:
    """List what an acceptance in this recipe would match: findings of its rule, else those of others, not accepted."""
    open_ones = [
        finding
        for finding in case.raised
        if accept_lines(finding) and not any(covers(finding, *one) for one in case.recipe.accepted)
    ]
    own = [finding for finding in open_ones if finding.rule == rule]
    found = list(
        dict.fromkeys(
            (f"about = {quoted(one.subject, _ABOUT)}" if own else f"'{one.rule}' about {quoted(one.subject, _ABOUT)}")
            for one in own or open_ones
        )
    )
    if not found:
        return "; nothing that is said of this recipe can be accepted"
    more = f" and {len(found) - _MOST} more" if len(found) > _MOST else ""
    return f"; it would match: {', '.join(found[:_MOST])}{more}"


def of_law(finding: Finding) -> bool:
    """Say whether a finding is one of a limit or a ban of the law that the recipe accepts."""
    from formula_vcs.rules.registry import RULES

    return finding.accepted is not None and RULES[finding.rule].legal


def covers(finding: Finding, rule: str, about: str) -> bool:
    """Say whether an [[accept]] takes a finding off: it is about it, and is not one of all that a law's rule says."""
    return matches(finding, rule, about) and not too_wide(rule, about)
