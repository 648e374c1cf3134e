"""Merges of meaning, case by case: what is put together, what a person has to decide, and what is written."""

from __future__ import annotations

from typing import Any

import pytest

from formula_vcs.merge.markers import Style
from formula_vcs.merge.merge_file import MergedFile, merge_texts
from formula_vcs.merge.three_way import ThreeWay
from tests.git.helpers_merge import CREAM, INCI

_HASH = "a" * 64
OIL = "# pressed cold\noil = 6.00\n"


def merge(ours: str, theirs: str, base: str = CREAM, kind: str = "recipe") -> MergedFile:
    def grade(name: str) -> str | None:
        return INCI[name].casefold() if name in INCI else None

    grades: Any = ThreeWay(grade, grade, grade)
    found = merge_texts(kind, ThreeWay(ours.encode(), base.encode(), theirs.encode()), grades)
    assert found is not None
    return found


def clean(ours: str, theirs: str, base: str = CREAM, kind: str = "recipe") -> str:
    found = merge(ours, theirs, base, kind)
    assert found.clashes == ()
    return found.text


def words(ours: str, theirs: str, base: str = CREAM, kind: str = "recipe") -> list[str]:
    """Merge both ways round: the same clashes, with markers in the text."""
    found, other = merge(ours, theirs, base, kind), merge(theirs, ours, base, kind)
    assert {clash.where for clash in found.clashes} == {clash.where for clash in other.clashes}
    assert found.clashes
    assert "<<<<<<< ours\n" in found.text
    return [clash.words for clash in found.clashes]


def changed(*pairs: tuple[str, str], text: str = CREAM) -> str:
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    return text


def step(name: str, vessel: str | None = "main") -> str:
    into = f'into  = "{vessel}"\n' if vessel else ""
    return f'[[step]]\nid    = "{name}"\n{into}shear = "low"\n\n'


def before(name: str, block: str, text: str = CREAM) -> str:
    """Put a block before a step."""
    at = text.index(f'[[step]]\nid    = "{name}"') if f'id    = "{name}"' in text else text.index("[[step]]\nid      =")
    return text[:at] + block + text[at:]


def without(name: str, text: str = CREAM) -> tuple[str, str]:
    """Give the text without a step, and the step."""
    start = text.index(f'[[step]]\nid    = "{name}"')
    end = text.index("[[step]]", start + 1)
    return text[:start] + text[end:], text[start:end]


class TestCharges:
    def test_a_move_and_an_amount_are_both_kept_and_the_comment_goes_along(self) -> None:
        moved = changed((OIL, ""), ("[phase.C.charge]\n", f"[phase.C.charge]\n{OIL}"))
        raised = changed(("oil = 6.00", "oil = 7.00"))

        assert clean(moved, raised) == moved.replace("6.00", "7.00")
        assert clean(raised, moved) == changed(
            (OIL, ""), ("[phase.C.charge]\n", "[phase.C.charge]\n# pressed cold\noil  = 7.00\n")
        )

    def test_a_step_follows_the_charge_that_the_other_side_moved(self) -> None:
        moved = changed(
            ("scent = 0.10\n", ""), ("wax = 2.00\n", "wax = 2.00\nscent = 0.10\n"), ('["C"]', '["B/scent"]')
        )
        base = changed(('["C"]', '["C/scent"]'))
        theirs = base.replace('add   = ["C/scent"]', 'add   = ["C/scent", "A/glycerin"]')

        assert 'add   = ["B/scent", "A/glycerin"]' in clean(moved, theirs, base)

    def test_fields_beside_the_amount_are_merged_one_by_one(self) -> None:
        ours = changed(("pct = 0.20", "pct = 0.25"))
        theirs = changed(("at_most = 0.40", 'at_most = 0.50, note = "slowly"'))

        assert 'acid = { pct = 0.25, for = "pH", at_most = 0.50, note = "slowly" }' in clean(ours, theirs)

    @pytest.mark.parametrize("value", ["6.0", "6", "6.000"])
    def test_another_spelling_is_no_change(self, value: str) -> None:
        ours = changed(("oil = 6.00", f"oil = {value}"))

        assert "oil = 7.00\n" in clean(ours, changed(("oil = 6.00", "oil = 7.00")))
        assert clean(ours, CREAM) == ours

    def test_the_same_ingredient_with_the_same_amount_is_added_once(self) -> None:
        added = changed(("wax = 2.00\n", "wax = 2.00\nsorbate = 0.1\n"))

        assert clean(added, changed(("wax = 2.00\n", "wax = 2.00\nsorbate = 0.10\n"))) == added

    @pytest.mark.parametrize(
        ("ours", "theirs", "said"),
        [
            (
                ("oil = 6.00", "oil = 7.00"),
                ("oil = 6.00", "oil = 8.00"),
                "its amount became 7.00 % and 8.00 % (was 6.00 %)",
            ),
            ((OIL, ""), ("oil = 6.00", "oil = 7.00"), "removed on one side, changed on the other"),
            (('pct = 0.20, for = "pH"', "pct = 0.20"), ('for = "pH"', 'for = "acid value"'), "for became"),
            (
                ("oil = 6.00", "oil-organic = 6.00"),
                ("oil = 6.00", "oil = 7.00"),
                "swapped for another grade on one side",
            ),
            (("oil = 6.00", "oil-organic = 6.00"), (OIL, ""), "removed on one side, changed on the other"),
            (("oil = 6.00", "sorbate = 6.00"), ("oil = 6.00", "benzoate = 6.00"), "replaced in two ways"),
            (
                ("oil = 6.00", "oil-organic = 6.00"),
                ("oil = 6.00", "benzoate = 5.00"),
                "replaced on one side, changed on the other",
            ),
            (
                ("wax = 2.00\n", "wax = 2.00\nsorbate = 1\n"),
                ("wax = 2.00\n", "wax = 2.00\nsorbate = 2\n"),
                "added on both sides",
            ),
            (
                ("wax = 2.00\n", "wax = 2.00\nsorbate = 1\n"),
                ("scent = 0.10\n", "scent = 0.10\nsorbate = 1\n"),
                "added to two phases, B and C",
            ),
        ],
    )
    def test_what_a_person_decides(self, ours: tuple[str, str], theirs: tuple[str, str], said: str) -> None:
        found = words(changed(ours), changed(theirs))

        assert 1 == len(found)
        assert said in found[0]

    def test_one_charge_moved_to_two_phases(self) -> None:
        ours = changed((OIL, ""), ("[phase.C.charge]\n", "[phase.C.charge]\noil = 6.00\n"))
        theirs = changed((OIL, ""), ("[phase.A.charge]\n", "[phase.A.charge]\noil = 6.00\n"))

        assert words(ours, theirs) == ["'oil': its phase became C and A (was B)"]

    def test_a_charge_put_into_a_phase_that_the_other_side_took_away(self) -> None:
        ours = changed(("wax = 2.00\n", "wax = 2.00\nsorbate = 0.10\n"))
        theirs = changed((f"[phase.B.charge]\n{OIL}wax = 2.00\n\n", ""))

        assert words(ours, theirs) == ["'sorbate': put into phase B on one side, the phase taken away on the other"]

    def test_parts_on_one_side_and_a_new_amount_on_the_other(self) -> None:
        ours = changed(('form    = "emulsion"', 'form    = "emulsion"\namounts = "parts"'))

        assert "another measure" in words(ours, changed(("oil = 6.00", "oil = 7.00")))[0]


class TestSteps:
    def test_fields_of_one_step(self) -> None:
        ours = changed(('shear = "high"\ntemp  = "70 to 75 degC"', 'shear = "high"\ntemp  = "72 to 75 degC"'))
        theirs = changed(
            ('time  = "5 min"\n\n[[step]]\nid    = "finish"', 'time  = "6 min"\n\n[[step]]\nid    = "finish"')
        )
        text = clean(ours, theirs)

        assert 'temp  = "72 to 75 degC"\ntime  = "6 min"' in text

    def test_one_value_of_a_step_changed_twice(self) -> None:
        ours, theirs = (changed(('shear = "high"', f'shear = "{mode}"')) for mode in ("fold", "low"))

        assert words(ours, theirs) == ["step join shear became fold and low"]

    def test_both_sides_moves_are_put_into_one_order(self) -> None:
        """Ours melts after the water is hot, theirs finishes after the pH."""
        left, melt = without("melt")
        ours = before("join", melt, left)
        left, finish = without("finish")
        theirs = left.replace("[spec]", f"{finish}[spec]")
        found = clean(ours, theirs)

        order = [line.split('"')[1] for line in found.split("\n") if line.startswith("id ")]
        assert order == ["heat-water", "melt", "join", "set-pH", "finish"]

    def test_orders_that_contradict_each_other(self) -> None:
        """Ours chills between joining and finishing, theirs finishes before it joins."""
        ours = before("finish", step("chill"))
        left, finish = without("finish")

        assert words(ours, before("join", finish, left)) == [
            "the steps were put into two orders that contradict each other"
        ]

    @pytest.mark.parametrize(
        ("ours", "theirs", "clash"), [("main", "main", True), ("main", "pot", False), ("main", None, True)]
    )
    def test_two_steps_in_one_gap(self, ours: str, theirs: str | None, *, clash: bool) -> None:
        one, two = before("finish", step("chill", ours)), before("finish", step("strain", theirs))
        if clash:
            assert words(one, two) == ["steps 'chill' and 'strain' were put into one gap"]
            found = merge(one, two).text
            assert (
                f"<<<<<<< ours\n{step('chill', ours)}||||||| base\n=======\n{step('strain', theirs)}>>>>>>> theirs\n"
                in found
            )
        else:
            text = clean(one, two)
            assert text.index('"join"') < text.index('"chill"') < text.index('"strain"') < text.index('"finish"')

    def test_two_steps_in_two_gaps(self) -> None:
        text = clean(before("finish", step("chill")), before("join", step("strain")))

        assert text.index('"strain"') < text.index('"join"') < text.index('"chill"') < text.index('"finish"')

    def test_a_step_deleted_here_and_changed_there(self) -> None:
        ours, _ = without("finish")
        theirs = changed(('temp  = "30 to 35 degC"', 'temp  = "28 to 32 degC"'))

        assert words(ours, theirs) == ["'step finish': removed on one side, changed on the other"]

    def test_one_step_added_twice_and_not_the_same(self) -> None:
        found = words(before("finish", step("chill")), before("finish", step("chill").replace("low", "none")))

        assert found == ["'step chill': added on both sides, and not the same"]


class TestSetsAndSingleFacts:
    def test_claims_merge_as_a_set(self) -> None:
        ours = changed(('["natural-origin at least 20 %"]', '["natural-origin at least 20 %", "cosmos-natural-4"]'))
        theirs = changed(('["natural-origin at least 20 %"]', '["organic-origin at least 5 %"]'))

        assert 'claims  = ["cosmos-natural-4", "organic-origin at least 5 %"]' in clean(ours, theirs)

    def test_the_spec_and_the_header(self) -> None:
        ours = changed(('pH = "4.8 to 5.2"\n', 'pH = "4.8 to 5.2"\nviscosity = "18 to 28 Pa*s"\n'))
        theirs = changed(('product = "hand cream"', 'product = "face cream"'))

        assert clean(ours, theirs) == ours.replace("hand cream", "face cream")

    def test_the_spec_deleted_here_and_changed_there(self) -> None:
        ours, theirs = changed(('[spec]\npH = "4.8 to 5.2"\n', "")), changed(('[spec]\npH = "4.8', '[spec]\npH = "4.9'))

        assert words(ours, theirs) == ["'spec pH': removed on one side, changed on the other"]


class TestComments:
    def test_what_theirs_says_comes_along_and_ours_stays(self) -> None:
        ours = changed(
            ("glycerin = 4.00   # humectant", "glycerin = 4.50   # humectant"), ("# pressed cold", "# pressed in May")
        )
        theirs = changed(
            ("# humectant", "# humectant, from rape"),
            ("wax = 2.00", "# bees\nwax = 2.00"),
            ("[spec]", "# as filled\n[spec]"),
        )
        text = clean(ours, theirs)

        assert "glycerin = 4.50   # humectant, from rape\n" in text
        assert "# pressed in May\noil = 6.00\n# bees\nwax = 2.00\n" in text
        assert "# as filled\n[spec]\n" in text

    def test_where_only_comments_clash_both_are_kept(self) -> None:
        ours, theirs = (
            changed(("# humectant", f"# {word}"), ("# pressed cold", f"# from {word}")) for word in ("one", "two")
        )
        text = clean(ours, theirs)

        assert "glycerin = 4.00   # one  # two\n" in text
        assert "# from one\n# from two\noil" in text
        assert clean(text, theirs) == text

    @pytest.mark.parametrize("theirs", ["oil = 7.00   # from May", "oil = 6.00   # from May"])
    def test_a_comment_of_ours_stays_where_theirs_has_another(self, theirs: str) -> None:
        ours = changed(("oil = 6.00", "oil = 6.00   # low"))

        assert f"{theirs[:10]}   # low  # from May\n" in clean(ours, changed(("oil = 6.00", theirs)))

    def test_comments_of_a_line_that_the_other_side_moved(self) -> None:
        ours = changed(("# pressed cold", "# pressed warm"), ("oil = 6.00", "oil = 6.00   # low"))
        moved = changed((OIL, ""), ("[phase.C.charge]\n", f"[phase.C.charge]\n{OIL}"))
        for one, other in ((ours, moved), (moved, ours)):
            assert "[phase.C.charge]\n# pressed warm\noil  = 6.00   # low\n" in clean(one, other).replace(
                "oil = ", "oil  = "
            )

    def test_a_comment_that_stayed_when_its_line_moved(self) -> None:
        """Theirs moves the oil alone: what stood above it now stands above the wax."""
        theirs = changed(("oil = 6.00\n", ""), ("[phase.C.charge]\n", "[phase.C.charge]\noil = 6.00\n"))
        text = clean(changed(("oil = 6.00", "oil = 7.00")), theirs)

        assert "# pressed cold\nwax = 2.00\n" in text
        assert 1 == text.count("# pressed cold")

    @pytest.mark.parametrize("comment", [("# pressed cold", "# pressed warm"), ("oil = 6.00", "oil = 6.00   # low")])
    def test_a_comment_follows_its_line_to_another_grade(self, comment: tuple[str, str]) -> None:
        said, swapped = changed(comment), changed(("oil = 6.00", "oil-organic = 6.00"))
        for one, other in ((said, swapped), (swapped, said)):
            assert clean(one, other) == changed(comment, ("oil = 6.00", "oil-organic = 6.00"))

    def test_the_comment_of_what_both_added(self) -> None:
        ours, theirs = (changed(("wax = 2.00\n", f"wax = 2.00\nsorbate = 0.10{tail}\n")) for tail in ("", "   # raw"))

        assert clean(ours, theirs) == theirs

    def test_layout_is_that_of_ours(self) -> None:
        ours = CREAM.replace("    = ", " = ").replace("   = ", " = ").replace("\n\n", "\n\n\n")
        theirs = changed(("oil = 6.00", "oil       =    7.00"))

        assert clean(ours, theirs) == ours.replace("oil = 6.00", "oil = 7.00")

    @pytest.mark.parametrize("ending", ["\r\n", "\n"])
    def test_line_endings_are_those_of_ours(self, ending: str) -> None:
        ours = changed(("wax = 2.00", "wax = 2.50")).replace("\n", ending)
        theirs = changed(("wax = 2.00", "wax = 3.00"), ("oil = 6.00", "oil = 7.00"))
        found = merge(ours, theirs)

        assert found.text.count("\n") == found.text.count(ending)
        assert f"oil = 7.00{ending}" in found.text

    def test_a_file_without_a_last_line_end(self) -> None:
        text = clean(CREAM.rstrip("\n"), changed(("oil = 6.00", "oil = 7.00")))

        assert text == changed(("oil = 6.00", "oil = 7.00")).rstrip("\n")


class TestOtherFiles:
    EVIDENCE = (
        'recipe = "cream"\n\n[[proof]]\nkind = "stability"\ncommit = "1111111"\n'
        f'hash = "{_HASH}"\nreport = "ST-1"\npassed = 2026-01-01\n'
    )

    def test_proofs_are_known_by_what_they_prove(self) -> None:
        more = '\n[[proof]]\nkind = "{}"\ncommit = "2222222"\nhash = "{}"\nreport = "{}"\npassed = 2026-02-01\n'
        ours = self.EVIDENCE + more.format("challenge-test", "b" * 64, "CT-1")
        theirs = self.EVIDENCE.replace("2026-01-01", "2026-01-02") + more.format("stability", "c" * 64, "ST-2")
        text = clean(ours, theirs, self.EVIDENCE, "evidence")

        assert 3 == text.count("[[proof]]")
        assert "passed = 2026-01-02" in text
        assert '"CT-1"' in text
        assert '"ST-2"' in text

    def test_prices_are_known_by_day_and_quantity(self) -> None:
        base = 'title = "x"\n[substances]\nAqua = 100\n\n[[price]]\ncost = "4 EUR/kg"\n'
        ours = base.replace("4 EUR", "5 EUR")
        theirs = base + '\n[[price]]\ncost = "3 EUR/kg"\nsince = 2026-05-01\n'

        assert '"5 EUR/kg"' in clean(ours, theirs, base, "ingredients")
        assert "2026-05-01" in clean(ours, theirs, base, "ingredients")
        assert words(ours, base.replace("4 EUR", "6 EUR"), base, "ingredients")

    def test_two_prices_of_one_day(self) -> None:
        base = 'title = "x"\n[substances]\nAqua = 100\n\n[[price]]\ncost = "4 EUR/kg"\nsince = 2026-01-01\n'
        more = '\n[[price]]\ncost = "{} EUR/kg"\nsince = 2026-06-01\n'

        assert words(base.replace("4 EUR", "5 EUR"), base.replace("4 EUR", "6 EUR"), base, "ingredients") == [
            "price became 5 EUR/kg since 2026-01-01 and 6 EUR/kg since 2026-01-01"
        ]
        assert words(base + more.format(5), base + more.format(6), base, "ingredients") == [
            "'price': added on both sides, as 5 EUR/kg since 2026-06-01 and as 6 EUR/kg since 2026-06-01"
        ]

    def test_a_name_keeps_the_quotes_that_theirs_gives_it(self) -> None:
        base = 'title = "x"\n[substances]\n"Aqua" = 100\n\n[allergens]\n"Linalool" = 0.01\n'
        text = clean(base.replace("x", "y"), f'{base}"Geraniol" = 0.01\n', base, "ingredients")

        assert text == f'{base}"Geraniol" = 0.01\n'.replace("x", "y")

    def test_the_values_of_a_lot_keep_their_names(self) -> None:
        """A lot has one certificate of named values, an ingredient numbered certificates."""
        base = 'ingredient = "oil"\nquantity = "25 kg"\n\n[certificate]\nwater = "0.1 %"\nassay = "99 %"\n'
        ours, theirs = base.replace("25 kg", "24 kg"), base.replace("0.1 %", "0.2 %")

        assert clean(ours, theirs, base, "lots") == theirs.replace("25 kg", "24 kg")
        assert words(theirs, base.replace("0.1 %", "0.3 %"), base, "lots") == [
            "certificate water became 0.2 % and 0.3 %"
        ]

    def test_rates_are_told_apart_by_currency_and_day(self) -> None:
        row = '\n[[rate]]\nof = "{}"\nis = "{} EUR"\nday = 2026-06-01\n'
        base = f'title = "Shed"\ncurrency = "EUR"\n{row.format("CHF", "1.05")}'
        dollar, pound = row.format("USD", "0.9"), row.format("GBP", "1.15")

        assert clean(base + dollar, base + pound, base, "workspace") == base + pound + dollar
        assert words(base + dollar, base + row.format("USD", "0.95"), base, "workspace") == [
            "'rate USD 2026-06-01': added on both sides, and not the same"
        ]

    def test_a_charge_weighed_from_several_lots(self) -> None:
        head = f'recipe = "cream"\ncommit = "1111111"\nhash = "{_HASH}"\nsize = "1 kg"\ndate = 2026-01-01\n'
        lots = '{ lot = "s1", weighed = "30 g" }, { lot = "s2", weighed = "30 g" }'
        base = f'{head}\n[phase.B.charge]\noil = {{ target = "60 g", lots = [{lots}] }}   # two drums\n'
        ours = base.replace('"s1", weighed = "30 g"', '"s1", weighed = "31 g"')
        theirs = base.replace('"s2", weighed = "30 g" }', '"s2", weighed = "20 g" }, { lot = "s3", weighed = "9 g" }')

        assert clean(ours, theirs, base, "batches") == theirs.replace(
            '"s1", weighed = "30 g"', '"s1", weighed = "31 g"'
        )

    def test_the_last_proof_deleted_here_and_changed_there(self) -> None:
        ours, theirs = self.EVIDENCE[: self.EVIDENCE.index("\n[[")], self.EVIDENCE.replace("01-01", "01-03")

        assert words(ours, theirs, self.EVIDENCE, "evidence") == [
            "'proof stability ST-1': removed on one side, changed on the other"
        ]

    def test_two_people_weigh_one_batch(self) -> None:
        base = (
            'recipe = "cream"\ncommit = "1111111"\nhash = "{}"\nsize = "1 kg"\ndate = 2026-01-01\n\n[phase.A.charge]\n'
            'water = {{ target = "900 g" }}\noil = {{ target = "100 g" }}\n\n[result]\npH = "5.0"\n'
        ).format("a" * 64)
        ours = base.replace('target = "900 g"', 'target = "900 g", weighed = "901 g"')
        theirs = base.replace('target = "100 g"', 'target = "100 g", weighed = "99 g", lot = "o1"')
        text = clean(ours, theirs, base, "batches")

        assert 'weighed = "901 g"' in text
        assert 'weighed = "99 g", lot = "o1"' in text

    def test_rows_of_the_house_are_known_by_their_ids(self) -> None:
        row = '[[rule]]\nid = "{}"\nkind = "limit"\nsubstances = ["Menthol"]\nat_most = "{} %"\nsource = "HS"\n\n'
        base = row.format("a", 1) + row.format("b", 2)
        ours = row.format("a", 3) + row.format("b", 2)
        theirs = row.format("new", 9) + row.format("a", 1) + row.format("b", 4)
        text = clean(ours, theirs, base, "rules")

        assert [word in text for word in ('"3 %"', '"4 %"', '"9 %"')] == [True, True, True]

    def test_workspace_and_equipment(self) -> None:
        base = 'title = "Shed"\nmarkets = ["EU"]\nbatch = "100 kg"\n'
        ours, theirs = (
            base.replace('["EU"]', '["EU", "US"]'),
            base.replace('["EU"]', '["EU", "UK"]').replace("100", "50"),
        )

        assert (
            clean(ours, theirs, base, "workspace") == 'title = "Shed"\nmarkets = ["EU", "US", "UK"]\nbatch = "50 kg"\n'
        )


class TestWhatCannotBeRead:
    @pytest.mark.parametrize("at", range(3))
    @pytest.mark.parametrize("text", ["<<<<<<< ours\n", "[spec\n", '[[step]]\nid = "melt"\n', "\0", '"\\ud800"'])
    def test_no_merge_of_meaning(self, at: int, text: str) -> None:
        sides = [changed(("oil = 6.00", "oil = 7.00")), CREAM, changed(("wax = 2.00", "wax = 3.00"))]
        sides[at] += text

        assert merge_texts("recipe", ThreeWay(*(side.encode() for side in sides))) is None

    def test_a_key_that_nobody_knows_is_merged_as_it_is(self) -> None:
        theirs = changed(('form    = "emulsion"', 'form    = "emulsion"\nfrom    = "somewhere"'))

        assert 'from    = "somewhere"' in clean(changed(("oil = 6.00", "oil = 7.00")), theirs)

    def test_labels_and_length_of_markers(self) -> None:
        sides = ThreeWay(*(changed(("oil = 6.00", f"oil = {n}")).encode() for n in ("7.00", "6.00", "8.00")))
        found = merge_texts("recipe", sides, style=Style(9, "HEAD", "1a2b3c4", "topic"))

        assert found is not None
        lines = [
            "<<<<<<<<< HEAD",
            "oil = 7.00",
            "||||||||| 1a2b3c4",
            "oil = 6.00",
            "=========",
            "oil = 8.00",
            ">>>>>>>>> topic",
        ]
        assert "\n".join(lines) in found.text
