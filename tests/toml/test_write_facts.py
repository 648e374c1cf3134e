"""Facts written into a text: what stays, what comes along, and where it goes."""

from __future__ import annotations

from typing import Any

import pytest

from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.toml.write_facts import CannotWrite, rewritten

OLD = """\
# Hand cream of the north shed.  Do not thin.
title   = "Cream"
claims  = ["vegan", "natural-origin at least 95 %"]
markets = [
  "EU",   # since 2019
  "US",
]

[phase.A]
title = "Water phase"

[phase.A.charge]
water       = "to 100"
glycerin    = 5.00          # cheap one
xanthan-gum = 0.30          # slowly!

[phase.B.charge]
# from the first press only
oil  = 4.00
starch = { pct = 1.50, note = "above 2 % it squeaks" }

# --- the work ---

# the gum first
[[step]]
id    = "wet"
add   = ["A/glycerin", "A/xanthan-gum"]
shear = "low"

[[step]]
id   = "fill-up"          # cold
add  = ["A"]

[[step]]
id   = "rest"
rest = "12 h"

[spec]
pH = "4.8 to 5.2"
"""


def data(text: str) -> dict[str, Any]:
    found = parse(text.encode())
    assert () == found.errors
    return found.data


def written(old: str, new: str, kind: str = "recipe", base: str | None = None, donor: str | None = None) -> str:
    """Write what the new text says into the old one, the new one as the donor."""
    target = facts_of(kind, data(new))
    found = rewritten(old, target, kind, new if donor is None else donor, base)
    assert target == facts_of(kind, data(found))
    return found


def changed(text: str, *pairs: tuple[str, str]) -> str:
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def test_an_amount_changes_where_it_stands() -> None:
    new = changed(OLD, ("glycerin    = 5.00 ", "glycerin    = 4.50 "), ("# slowly!", "# quickly!"))

    assert OLD.replace("= 5.00 ", "= 4.50 ") == written(OLD, new)


def test_the_comment_behind_a_value_comes_along_where_it_changed_with_it() -> None:
    new = changed(OLD, ("= 5.00          # cheap one", "= 4.50          # the good one"))

    assert new == written(OLD, new)


def test_a_comment_that_the_donor_did_not_change_does_not_overwrite_ours() -> None:
    ours = OLD.replace("# cheap one", "# see HC-12")
    theirs = changed(OLD, ("glycerin    = 5.00 ", "glycerin    = 4.50 "))

    assert ours.replace("= 5.00 ", "= 4.50 ") == written(ours, theirs, base=OLD)


def test_a_charge_that_moves_takes_its_comment_along() -> None:
    new = changed(
        OLD,
        ("xanthan-gum = 0.30          # slowly!\n", ""),
        ("oil  = 4.00\n", "oil  = 4.00\nxanthan-gum = 0.30\n"),
        ('"A/glycerin", "A/xanthan-gum"', '"A/glycerin", "B/xanthan-gum"'),
    )

    # the donor's own line is taken where it has one
    assert "oil  = 4.00\nxanthan-gum = 0.30\n" in written(OLD, new)
    # and without a donor the line that it had
    alone = rewritten(OLD, facts_of("recipe", data(new)), "recipe")
    assert "xanthan-gum = 0.30          # slowly!\n" in alone[alone.index("[phase.B.charge]") :]
    assert "xanthan-gum" not in alone[: alone.index("[phase.B.charge]")].replace('xanthan-gum"', "")


def test_a_charge_that_comes_stands_where_the_donor_has_it_with_its_comments() -> None:
    new = changed(OLD, ("glycerin    = 5.00", "# against the itch\nbetaine = 1.20   # mild\nglycerin    = 5.00"))

    assert OLD.replace(
        "glycerin    = 5.00", "# against the itch\nbetaine     = 1.20   # mild\nglycerin    = 5.00"
    ) == written(OLD, new)


def test_a_charge_that_goes_leaves_the_rest() -> None:
    new = changed(OLD, ("glycerin    = 5.00          # cheap one\n", ""), ('"A/glycerin", ', ""))

    assert new == written(OLD, new)


def test_a_step_comes_with_all_its_comments_and_stands_in_its_place() -> None:
    block = '# look first\n[[step]]\nid = "look" # by lamp\nshear = "none"\n\n'
    new = changed(OLD, ('[[step]]\nid   = "rest"', f'{block}[[step]]\nid   = "rest"'))

    assert new == written(OLD, new)


def test_steps_change_places_with_their_comments() -> None:
    first = OLD[OLD.index("# the gum first") : OLD.index('[[step]]\nid   = "fill-up"')]
    rest = OLD[OLD.index('[[step]]\nid   = "rest"') : OLD.index("[spec]")]
    middle = OLD[OLD.index('[[step]]\nid   = "fill-up"') : OLD.index('[[step]]\nid   = "rest"')]
    new = OLD.replace(first + middle + rest, middle + rest + first)

    assert new == written(OLD, new)
    assert OLD == written(new, OLD)


def test_a_comment_that_belongs_to_nobody_stays_where_it_is() -> None:
    new = changed(OLD, (OLD[OLD.index("[phase.B.charge]") : OLD.index("# --- the work")], ""))

    found = written(OLD, new)
    assert "# --- the work ---" in found
    assert "[phase.B" not in found


def test_a_phase_comes_with_its_headings_behind_the_one_before_it() -> None:
    phase = '# for the nose\n[phase.C]\ntitle = "Cool"\n\n[phase.C.charge]\nlavender = 0.10   # French\n\n'
    new = changed(OLD, ("# --- the work", f"{phase}# --- the work"))

    assert new == written(OLD, new)


def test_members_of_a_set_keep_their_lines_and_comments() -> None:
    new = changed(OLD, ('  "US",\n', '  "UK",   # from June\n'), ('["vegan", ', "["))

    assert new == written(OLD, new)


def test_a_table_within_a_line_keeps_the_spelling_of_what_stays() -> None:
    new = changed(OLD, ("{ pct = 1.50, note", "{ pct = 1.5000, at_most = 2, note"))

    assert '{ pct = 1.50, at_most = 2, note = "above 2 % it squeaks" }' in written(OLD, new) or (
        '{ pct = 1.50, note = "above 2 % it squeaks", at_most = 2 }' in written(OLD, new)
    )


def test_a_finding_is_accepted_at_the_end() -> None:
    new = OLD + '\n[[accept]]\nrule  = "shear-at-most"\nwhy   = "the grains are soft"   # R. 12\nuntil = 2027-01-31\n'

    assert new == written(OLD, new)


def test_a_whole_table_goes() -> None:
    assert OLD[: OLD.index("\n[spec]")] == written(OLD, OLD[: OLD.index("[spec]")])


def test_windows_lines_stay_windows_lines() -> None:
    old = OLD.replace("\n", "\r\n")
    new = changed(OLD, ("= 4.00\n", "= 4.25\n"), ("glycerin    = 5.00", "betaine = 1.20\nglycerin    = 5.00"))
    found = written(old, new)

    assert found.count("\n") == found.count("\r\n")


@pytest.mark.parametrize(
    "text",
    [
        'title = "Cream"\nphase = { A = { charge = { water = "to 100", glycerin = 5.00, xanthan-gum = 0.30 } } }\n',
        'title = "Cream"\nphase.A.charge.water = "to 100"\nphase.A.charge.glycerin = 5.00   # so\n',
        'title = "Cream"\n[phase]\nA.charge.water = "to 100"\nA.charge.glycerin = 5.00\n',
        'title = "Cream"\n[phase.A]\ncharge = { water = "to 100" }\n',
        'title = "Cream"\nstep = [{ id = "wet", add = ["A"] }]\n[phase.A]\ncharge.water = "to 100"\n',
        'title = "Cream"\n[phase.A.charge.water]\npct = "to 100"\n',
        'title = "Cream"',
        "",
    ],
    ids=[
        "inline",
        "dotted",
        "dotted below a heading",
        "half inline",
        "steps inline",
        "charges as tables",
        "bare",
        "empty",
    ],
)
def test_odd_layouts_say_the_same_in_the_end(text: str) -> None:
    written(text, OLD)
    rewritten(OLD, facts_of("recipe", data(text)), "recipe", text) if text else None


MATERIAL = """\
title     = "Kelp gum"
functions = ["thickener", "film former"]

[substances]
"Algin" = { pct = 100, cas = "9005-38-3" }   # dry

[[price]]
cost  = "16.50 EUR/kg"      # autumn
from  = "10 kg"

[[price]]
cost  = "14.80 EUR/kg"
from  = "50 kg"

[[certificate]]
scheme = "COSMOS"
number = "123"
"""


def test_a_price_changes_in_its_own_row_with_its_comment() -> None:
    new = changed(MATERIAL, ('"16.50 EUR/kg"      # autumn', '"17.10 EUR/kg"      # spring'))

    assert new == written(MATERIAL, new, "ingredients")


def test_rows_of_a_material_come_and_go() -> None:
    new = changed(
        MATERIAL,
        (
            '[[price]]\ncost  = "14.80 EUR/kg"\nfrom  = "50 kg"\n',
            '[[price]]\ncost = "12 EUR/kg"  # pallet\nfrom = "1 t"\n',
        ),
        ('number = "123"\n', 'number = "123"\n\n[[certificate]]\nscheme = "NOP"   # new\nnumber = "9"\n'),
        ('"film former"', '"film former", "gellant"'),
    )
    found = written(MATERIAL, new, "ingredients")

    assert 'scheme = "NOP"   # new' in found
    assert "# autumn" in found
    assert '"14.80' not in found


_RULES = (
    '[[rule]]\nid = "b"\nkind = "prohibited"\nsubstances = ["Camphor"]\nsource = "HS"\n\n[[rule]]\nid = "a"\n'
    'kind = "limit"\nsubstances = ["Menthol"]\nat_most = "0.8 %"\nsource = "HS"\n[rule.where]\ncontact = ["leave-on"]\n'
)


@pytest.mark.parametrize(
    ("kind", "old", "new"),
    [
        ("workspace", 'title = "Shed"  # ours\npacks = []\n', 'title = "Shed"\nmarkets = ["EU"]\nbatch = "9 kg"\n'),
        ("equipment", 'title = "Pot"\nkind = "vessel"\nvolume = "9 L" # brim\n', 'title = "Pot"\nkind = "vessel"\n'),
        (
            "rules",
            '# ours\n[[rule]]\nid = "a"\nkind = "limit"\nsubstances = ["Menthol"]\nat_most = "1 %"\nsource = "HS"\n',
            _RULES,
        ),
    ],
)
def test_other_kinds_of_files(kind: str, old: str, new: str) -> None:
    written(old, new, kind)
    written(new, old, kind)


def test_values_without_a_donor_are_spelled_by_their_facts() -> None:
    new = changed(
        OLD, ("= 4.00\n", "= 4.25\n"), ("4.8 to 5.2", "5 to 6"), ("[spec]\n", '[spec]\nviscosity = "9 Pa*s"\n')
    )
    found = rewritten(OLD, facts_of("recipe", data(new)), "recipe")

    assert facts_of("recipe", data(new)) == facts_of("recipe", data(found))
    assert 'viscosity = "9 Pa*s"' in found


def test_a_text_that_does_not_parse_is_refused_by_name() -> None:
    with pytest.raises(CannotWrite, match="line 1"):
        rewritten("title = [", facts_of("recipe", data(OLD)), "recipe")
    with pytest.raises(CannotWrite):
        rewritten(OLD, {("title",): "x"}, "recipe", "<<<<<<< ours\n=======\n>>>>>>> theirs\n")


def test_what_no_text_can_say_is_refused_by_name() -> None:
    """A mass in a recipe by percent: some subsets of changes would mean that."""
    grams = facts_of("recipe", data('title = "G"\namounts = "mass"\n[phase.A.charge]\nwater = "4 g"\n'))
    target = {path: value for path, value in grams.items() if path != ("amounts",)}

    with pytest.raises(CannotWrite, match="no content"):
        rewritten(OLD, target, "recipe")
