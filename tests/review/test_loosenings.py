"""What loosens the judgement is said, with what only passes because of it; what tightens it is not."""

from __future__ import annotations

import datetime
import io
from collections.abc import Mapping

import pytest

from formula_vcs.figures.figure import Terms
from formula_vcs.reports.review import markdown
from formula_vcs.review.compare import Comparison, compare
from formula_vcs.review.guard import guard
from formula_vcs.review.loosenings import Loosening, hidden_rank
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.conftest import MINIMAL

DAY = datetime.date(2026, 11, 30)
BASE: Mapping[str, str] = {
    **MINIMAL,
    "workspace.toml": 'title = "Shed"\nmarkets = ["EU"]\ntolerance = "1 %"\nreason = "required"\n',
    "cream.toml": (
        'title = "Cream"\nproduct = "hand cream"\nform = "emulsion"\nspray = "none"\nfor = "adults"\n'
        'claims = ["natural-origin at least 50 %"]\n\n'
        "[phase.A.charge]\n"
        'water = "to 100"\n'
        "glycerin = 5.00\n"
        'benzoate = { pct = 0.50, for = "pH", at_most = 0.55 }\n'
        'gum = { pct = 0.30, tolerance = "2 %", second_check = true }\n\n'
        '[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "low"\n\n'
        '[[step]]\nid = "set-pH"\nmeasure = "pH"\naccept = "4.8 to 5.2"\nadjust = ["A/benzoate"]\n\n'
        '[spec]\npH = "4.8 to 5.2"\nviscosity = "18 to 28 Pa*s"\n'
        'odour = { is = "faint", method = "panel of 3", temp = "20 to 22 degC" }\n'
        '[claim]\n"hydrates for 24 hours" = "efficacy"\n'
    ),
    "ingredients/benzoate.toml": (
        'title = "Benzoate"\nfunctions = ["preservative"]\n[substances]\n'
        '"Sodium Benzoate" = { pct = 100, cas = "532-32-1" }\n'
    ),
    "ingredients/gum.toml": (
        'title = "Gum"\n[substances]\n"Xanthan Gum" = 100\n\n[handling]\nshear_at_most = "medium"\n'
        'temp_at_most = "60 degC"\nshear_at_least = "fold"\nwet_with = ["glycerin"]\n'
        '[max_use]\nleave-on = 0.50\n"lip balm" = { at_most = 0.10, source = "letter of 2026-02" }\n'
    ),
    "rules/house.toml": (
        '[[rule]]\nid = "house-glycerin"\nsubstances = ["Glycerin"]\nkind = "limit"\nat_most = "8 %"\n'
        'because = "tack"\nsource = "house"\n'
    ),
}


def compared(files: Mapping[str, str | None], base: Mapping[str, str] = BASE) -> Comparison:
    new = {path: text for path, text in {**base, **files}.items() if text is not None}
    return compare(Snapshot(Files(base)), Snapshot(Files(new)), Terms(DAY))


def edited(path: str, old: str, new: str) -> dict[str, str | None]:
    assert old in BASE[path], old
    return {path: BASE[path].replace(old, new)}


LOOSE: dict[str, tuple[str, Mapping[str, str | None]]] = {
    "a product called a premix": ("product", edited("cream.toml", '"hand cream"', '"premix"')),
    "markets of the workspace emptied": ("market", edited("workspace.toml", 'markets = ["EU"]', "markets = []")),
    "a market swapped for one that nobody judges": ("market", edited("workspace.toml", '["EU"]', '["JP"]')),
    "markets of its own that nobody judges": ("market", {"cream.toml": 'markets = ["JP"]\n' + BASE["cream.toml"]}),
    "markets of its own in place of the workspace's": (
        "market",
        edited("cream.toml", 'product = "hand cream"\n', 'product = "hand cream"\nmarkets = ["JP", "CN"]\n'),
    ),
    "a claim dropped": ("claim", edited("cream.toml", 'claims = ["natural-origin at least 50 %"]\n', "")),
    "a claim lowered": ("claim", edited("cream.toml", "at least 50 %", "at least 40 %")),
    "a claim in own words dropped": (
        "claim",
        edited("cream.toml", '"hydrates for 24 hours" = "efficacy"\n', ""),
    ),
    "a claim in own words that needs another proof": ("claim", edited("cream.toml", '= "efficacy"', '= "use-test"')),
    "the spec's pH taken away": ("spec", edited("cream.toml", '[spec]\npH = "4.8 to 5.2"\n', "[spec]\n")),
    "the spec's pH widened below": ("spec", edited("cream.toml", 'pH = "4.8 to 5.2"\nvis', 'pH = "4.7 to 5.2"\nvis')),
    "the spec's pH widened above": ("spec", edited("cream.toml", 'pH = "4.8 to 5.2"\nvis', 'pH = "4.8 to 5.3"\nvis')),
    "the spec's pH one-sided": ("spec", edited("cream.toml", 'pH = "4.8 to 5.2"\nvis', 'pH = "at most 5.2"\nvis')),
    "an accepted range widened": ("spec", edited("cream.toml", 'accept = "4.8 to 5.2"', 'accept = "4.0 to 5.2"')),
    "words of the spec taken away": (
        "spec",
        edited("cream.toml", 'odour = { is = "faint", ', 'colour = { is = "red", '),
    ),
    "words of the spec changed": ("spec", edited("cream.toml", 'is = "faint"', 'is = "any"')),
    "a method of the spec taken away": ("spec", edited("cream.toml", 'method = "panel of 3", ', "")),
    "a temperature of the spec widened": ("spec", edited("cream.toml", "20 to 22 degC", "20 to 30 degC")),
    "a bound raised": ("spec", edited("cream.toml", "at_most = 0.55", "at_most = 60")),
    "a bound taken away": ("spec", edited("cream.toml", ", at_most = 0.55", "")),
    "a charge's tolerance widened": ("tolerance", edited("cream.toml", 'tolerance = "2 %"', 'tolerance = "5 %"')),
    "nobody looks twice": ("tolerance", edited("cream.toml", ", second_check = true", "")),
    "the workspace's tolerance at nothing": ("tolerance", edited("workspace.toml", '"1 %"', '"0 %"')),
    "a finding accepted": (
        "accept",
        edited("cream.toml", "[spec]", '[[accept]]\nrule = "limit"\nabout = "x"\nwhy = "in a hurry"\n\n[spec]'),
    ),
    "a shear limit struck out": ("handling", edited("ingredients/gum.toml", 'shear_at_most = "medium"\n', "")),
    "a shear limit raised": ("handling", edited("ingredients/gum.toml", '"medium"', '"high"')),
    "a temperature raised": ("handling", edited("ingredients/gum.toml", '"60 degC"', '"61 degC"')),
    "a least shear lowered": ("handling", edited("ingredients/gum.toml", '"fold"', '"none"')),
    "a demand on the order struck out": ("handling", edited("ingredients/gum.toml", 'wet_with = ["glycerin"]\n', "")),
    "a maximum use raised": ("spec", edited("ingredients/gum.toml", "leave-on = 0.50", "leave-on = 0.51")),
    "a maximum use struck out": (
        "spec",
        edited("ingredients/gum.toml", '"lip balm" = { at_most = 0.10, source = "letter of 2026-02" }\n', ""),
    ),
    "a house rule deleted": ("rule", {"rules/house.toml": None}),
    "a house limit raised": ("rule", edited("rules/house.toml", '"8 %"', '"80 %"')),
    "a house rule that only notes": ("rule", edited("rules/house.toml", "because", 'severity = "note"\nbecause')),
    "a house rule narrowed": (
        "rule",
        edited("rules/house.toml", "because", 'where = { contact = ["rinse-off"] }\nbecause'),
    ),
    "a reason is asked for no more": ("house", edited("workspace.toml", 'reason = "required"\n', "")),
    "a recipe under another ending": ("extent", {"cream.toml": None, "cream.txt": BASE["cream.toml"]}),
    "a step's accepted range struck out": ("spec", edited("cream.toml", 'accept = "4.8 to 5.2"\n', "")),
    "a maximum use for another area": ("spec", edited("ingredients/gum.toml", "leave-on = 0.50", "rinse-off = 0.50")),
    "the workspace's tolerance struck out": ("tolerance", edited("workspace.toml", 'tolerance = "1 %"\n', "")),
    "a house rule about a misspelt substance": ("rule", edited("rules/house.toml", '["Glycerin"]', '["Glycerine"]')),
    "a file of rules under another ending": (
        "extent",
        {"rules/house.toml": None, "rules/house.toml.bak": BASE["rules/house.toml"]},
    ),
    "a claim in own words reworded": ("claim", edited("cream.toml", "for 24 hours", "for 48 hours")),
    "a substance renamed": ("material", edited("ingredients/benzoate.toml", '"Sodium Benzoate"', '"Aqua"')),
    "a recipe in capitals": ("extent", {"cream.toml": None, "cream.TOML": BASE["cream.toml"]}),
}


@pytest.mark.parametrize("what", LOOSE)
def test_it_is_said(what: str) -> None:
    kind, files = LOOSE[what]

    found = compared(files)

    assert kind in [item.kind for item in found.guard]
    assert len(found.guard) == len({(item.kind, item.words) for item in found.guard})


def test_what_the_workspace_judged_by_is_what_a_recipe_leaves() -> None:
    """Another market of its own drops the limits of the workspace's: the finding that only passes by it is said."""
    text = BASE["cream.toml"].replace("pct = 0.50", "pct = 0.54")
    text = text.replace('product = "hand cream"\n', 'product = "hand cream"\nmarkets = ["JP", "CN"]\n')
    base = {**BASE, "cream.toml": BASE["cream.toml"].replace("pct = 0.50", "pct = 0.40")}

    (one,) = [one for one in compared({"cream.toml": text.replace("0.54", "2.50")}, base).guard if one.kind == "market"]

    assert one.words.endswith("EU left, which the workspace names")
    assert "limit" in {finding.rule for finding in one.hides}


TIGHT: dict[str, Mapping[str, str | None]] = {
    "a spec narrowed": edited("cream.toml", '"18 to 28 Pa*s"', '"20 to 26 Pa*s"'),
    "a temperature of the spec narrowed": edited("cream.toml", "20 to 22 degC", "20 to 21 degC"),
    "a line in words added": edited("cream.toml", "odour = {", 'colour = "white"\nodour = {'),
    "a bound lowered": edited("cream.toml", "at_most = 0.55", "at_most = 0.51"),
    "a shear limit lowered": edited("ingredients/gum.toml", '"medium"', '"low"'),
    "a house limit lowered": edited("rules/house.toml", '"8 %"', '"7 %"'),
    "a claim added": edited("cream.toml", "claims = [", 'claims = ["natural at least 1 %", '),
    "a market added": edited("workspace.toml", '["EU"]', '["EU", "US"]'),
    "markets of its own that keep the workspace's": edited(
        "cream.toml", 'product = "hand cream"\n', 'product = "hand cream"\nmarkets = ["EU", "US"]\n'
    ),
    "an amount": edited("cream.toml", "glycerin = 5.00", "glycerin = 4.00"),
    "a charge with a bound leaves": edited(
        "cream.toml", 'gum = { pct = 0.30, tolerance = "2 %", second_check = true }\n', ""
    ),
    "another title": edited("cream.toml", '"Cream"', '"Better cream"'),
    "a second ending written out": edited("cream.toml", '"4.8 to 5.2"\nvis', '"4.80 to 5.20"\nvis'),
}


@pytest.mark.parametrize("what", TIGHT)
def test_what_tightens_or_has_no_part_in_it_is_not(what: str) -> None:
    assert () == compared(TIGHT[what]).guard


def test_the_rest_of_the_change_is_judged_with_the_old_eyes() -> None:
    files = edited("cream.toml", '"hand cream"', '"premix"')
    text = str(files["cream.toml"]).replace("pct = 0.50", "pct = 0.75")
    files["cream.toml"] = text.replace("at_most = 0.55", "at_most = 0.8")

    product = next(item for item in compared(files).guard if item.kind == "product")

    assert [("limit", "block")] == [(one.rule, one.severity) for one in product.hides if one.rule == "limit"]
    assert "without it: block [limit] Sodium Benzoate" in product.finding().message


def test_a_substance_told_otherwise_is_said_only_where_it_hides_something() -> None:
    over = edited("cream.toml", "pct = 0.50", "pct = 0.75")
    told = '"Sea Comfort Complex" = 100'
    invented = edited("ingredients/benzoate.toml", '"Sodium Benzoate" = { pct = 100, cas = "532-32-1" }', told)

    hiding = compared({**over, **invented}).guard
    honest = compared(edited("ingredients/gum.toml", '"Xanthan Gum" = 100', '"Xanthan Gum" = 90\n"Aqua" = 10')).guard

    assert ["material"] == [item.kind for item in hiding if item.kind == "material"]
    assert any(one.rule == "limit" for item in hiding for one in item.hides)
    assert () == honest


def test_a_grade_that_asks_for_nothing_hides_what_the_other_one_asked_for() -> None:
    twin = {"ingredients/twin.toml": 'title = "Gum"\n[substances]\n"Xanthan Gum" = 100\n'}
    swapped = BASE["cream.toml"].replace("gum =", "twin =")
    (item,) = compared({**twin, "cream.toml": swapped.replace('shear = "low"', 'shear = "high"')}).guard

    assert "material" == item.kind
    assert ["shear-at-most"] == [finding.rule for finding in item.hides]
    assert "gum \u2192 twin" in item.words


def test_a_grade_that_mends_what_was_wrong_hides_nothing() -> None:
    base = {**BASE, "cream.toml": BASE["cream.toml"].replace('shear = "low"', 'shear = "high"')}
    twin = {"ingredients/twin.toml": 'title = "Gum"\n[substances]\n"Xanthan Gum" = 100\n'}

    assert () == compared({**twin, "cream.toml": base["cream.toml"].replace("gum =", "twin =")}, base).guard


def test_one_loosening_under_many_recipes_is_said_once_with_all_of_them() -> None:
    base = {**BASE, "balm.toml": BASE["cream.toml"].replace("Cream", "Balm")}

    (item,) = compared(edited("workspace.toml", '["EU"]', "[]"), base).guard

    assert ("market", ("balm", "cream")) == (item.kind, item.recipes)


PROOF = (
    'recipe = "cream"\n[[proof]]\nkind = "stability"\ncommit = "3f2c9d1a"\nhash = "{hash}"\nreport = "ST-1"\n'
    "passed = 2026-05-02\nuntil = 2028-05-02\n"
).replace("{hash}", "a" * 64)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (PROOF, 'recipe = "cream"\n', "proof deleted"),
        ("3f2c9d1a", "4f2c9d1a", "pinned to another version"),
        ("2028-05-02", "2030-05-02", "prolonged"),
        ("until = 2028-05-02\n", "", "prolonged"),
        ("passed = 2026-05-02", "passed = 2026-06-02", "of another day"),
        ("passed = 2026-05-02", "passed = 2026-05-02\nvalue = 60", "of another value: stability ST-1 of 'cream', none"),
        ("passed = 2026-05-02", 'passed = 2026-05-02\nclaim = "mild"', "of another claim"),
    ],
)
def test_evidence_that_is_bent(old: str, new: str, said: str) -> None:
    base = {**BASE, "evidence/cream.toml": PROOF}

    (item,) = compared({"evidence/cream.toml": PROOF.replace(old, new)}, base).guard

    assert "evidence" == item.kind
    assert said in item.words


OFF = '[[pair]]\nid = "anionic-cationic"\noff = "a deposition polymer, on purpose"\n'
PAIR = (
    '[[pair]]\nid = "house-gum-benzoate"\none = { substances = ["Xanthan Gum"] }\n'
    'other = { substances = ["Sodium Benzoate"] }\nseverity = "warn"\nwhat = "it thins"\nsource = "HS-4"\n'
)


@pytest.mark.parametrize(
    ("rules", "old", "new", "loose"),
    [
        (OFF, "a deposition polymer, on purpose", "a deposition polymer; trial 12", False),
        (PAIR, "it thins", "it thins overnight", False),
        (PAIR, '"warn"', '"note"', True),
        (PAIR, '"warn"', '"block"', False),
        (PAIR, 'severity = "warn"\n', 'severity = "warn"\npH = "below 4"\n', True),
        (PAIR, '["Xanthan Gum"]', '["Guar Gum"]', True),
        (PAIR, PAIR, "", True),
    ],
)
def test_a_pair_of_the_house_that_is_milder(rules: str, old: str, new: str, loose: bool) -> None:
    base = {**BASE, "rules/pairs.toml": rules}

    found = compared({"rules/pairs.toml": rules.replace(old, new)}, base).guard

    assert loose == any("rule" == item.kind for item in found), [item.words for item in found]


HOUSE = (
    '[kind.tube-migration]\nowner = "packaging"\nsource = "HS-31"\n\n[[duty]]\nid = "tube-solvent"\nwhen = "amount"\n'
    'of = ["solvent", "oil"]\nabove = "5 %"\nrepeat = ["tube-migration", "stability"]\nsource = "HS-31"\n'
)


@pytest.mark.parametrize(
    ("old", "new", "loose"),
    [
        (HOUSE[HOUSE.index("[[duty]]") :], "", True),
        ('"5 %"', '"6 %"', True),
        ('"5 %"', '"4 %"', False),
        ('above = "5 %"\n', "", False),
        ('["tube-migration", "stability"]', '["tube-migration"]', True),
        ('["tube-migration", "stability"]\n', '["tube-migration"]\ndecide = ["stability"]\n', True),
        ('["solvent", "oil"]', '["solvent"]', True),
        ('["solvent", "oil"]', '["solvent", "oil", "wax"]', False),
        ('of = ["solvent", "oil"]\n', "", False),
        ('when = "amount"', 'when = "added"', True),
        ('source = "HS-31"\n\n', 'source = "HS-32"\n\n', False),
    ],
)
def test_a_table_of_duties_that_asks_for_less(old: str, new: str, loose: bool) -> None:
    proof = PROOF.replace('"stability"', '"tube-migration"')
    base = {**BASE, "evidence/cream.toml": proof, "rules/duties.toml": HOUSE}
    assert old in HOUSE

    found = compared({"rules/duties.toml": HOUSE.replace(old, new)}, base).guard

    assert loose == any("rule" == item.kind for item in found), [item.words for item in found]


def test_evidence_that_ends_earlier_or_is_renewed_is_fine() -> None:
    base = {**BASE, "evidence/cream.toml": PROOF}
    sooner = PROOF.replace("2028-05-02", "2027-05-02")
    newer = PROOF.replace("ST-1", "ST-2").replace("passed = 2026-05-02", "passed = 2026-09-02")

    assert () == compared({"evidence/cream.toml": sooner}, base).guard
    assert () == compared({"evidence/cream.toml": newer}, base).guard


BATCH = (
    'recipe = "cream"\ncommit = "3f2c9d1a"\nhash = "{hash}"\nsize = "10 kg"\ndate = 2026-06-01\nclosed = 2026-06-02\n'
    "[result]\npH = 5.0\n"
).replace("{hash}", "a" * 64)


def test_a_closed_record_that_is_edited_or_deleted() -> None:
    base = {**BASE, "batches/c-1.toml": BATCH}
    opened = {**base, "batches/c-1.toml": BATCH.replace("closed = 2026-06-02\n", "")}
    edit = {"batches/c-1.toml": BATCH.replace("pH = 5.0", "pH = 5.4")}

    assert ["record"] == [item.kind for item in compared(edit, base).guard]
    assert ["record"] == [item.kind for item in compared({"batches/c-1.toml": None}, base).guard]
    assert [] == [item.kind for item in compared(edit, opened).guard]


def test_a_recipe_that_records_point_to_is_not_removed_in_silence() -> None:
    base = {**BASE, "batches/c-1.toml": BATCH}

    found = [item for item in compared({"cream.toml": None}, base).guard if item.kind == "extent"]

    assert ["recipe 'cream' is removed while records point to it: batches/c-1"] == [item.words for item in found]


def test_a_recipe_that_is_renamed_is_still_judged() -> None:
    assert () == compared({"cream.toml": None, "hand-cream.toml": BASE["cream.toml"]}).guard


def test_the_guard_alone_says_the_same() -> None:
    text = BASE["cream.toml"].replace('"hand cream"', '"premix"')

    found = guard(Snapshot(Files(BASE)), Snapshot(Files({**BASE, "cream.toml": text})), DAY)

    assert ["product"] == [item.kind for item in found]


RULES_OF_THE_GUARD = (
    "guard-product", "guard-market", "guard-claim", "guard-spec", "guard-tolerance", "guard-accept", "guard-handling",
    "guard-material", "guard-rule", "guard-evidence", "guard-record", "guard-extent", "guard-house",
)  # fmt: skip


@pytest.mark.parametrize("rule", RULES_OF_THE_GUARD)
@pytest.mark.parametrize("severity", ["block", "warn"])
def test_each_kind_is_a_rule_and_as_bad_as_is_asked(rule: str, severity: str) -> None:
    finding = Loosening(rule.removeprefix("guard-"), "milder", "cream.toml", recipes=("cream",)).finding(severity)

    assert (rule, severity, "cream") == (finding.rule, finding.severity, finding.recipe)


def test_what_hides_a_block_stands_first() -> None:
    files = {
        **edited("cream.toml", '"hand cream"', '"premix"'),
        **edited("workspace.toml", 'reason = "required"\n', ""),
    }
    text = str(files["cream.toml"]).replace("pct = 0.50", "pct = 0.75").replace("at_most = 0.55", "at_most = 0.8")

    found = compared({**files, "cream.toml": text}).guard

    assert 0 == hidden_rank(found[0])
    assert "house" == found[-1].kind
    assert [hidden_rank(item) for item in found] == sorted(hidden_rank(item) for item in found)


def test_thousands_of_them_leave_a_comment_that_a_host_takes() -> None:
    items = tuple(Loosening("spec", f"limit {number} " + "x" * 300, "cream.toml") for number in range(3000))
    found = Comparison("old", "new", (), (), (), 0, guard=items, guarded=tuple(item.finding() for item in items))
    out = io.StringIO()

    markdown.write(found, title="much", evidence=False, blocked=False, out=out)

    assert len(out.getvalue().encode()) < 65_536
    assert "2960 more: 2960 guard-spec" in out.getvalue()
