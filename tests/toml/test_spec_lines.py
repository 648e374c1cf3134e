"""Lines of a spec in numbers and in words, with method and temperature; results against them."""

from __future__ import annotations

import pytest

from formula_vcs.model.batch import Batch
from formula_vcs.model.facts import unread
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.spec_line import conforms, spec_lines
from formula_vcs.toml.batch_file import read_batch
from formula_vcs.toml.ingredient_file import read_ingredient
from formula_vcs.toml.recipe_file import read_recipe
from formula_vcs.toml.syntax import parse
from formula_vcs.toml.write_facts import rewritten

HEAD = 'title = "Cream"\n\n[spec]\n'
PINNED = f'recipe = "cream"\ncommit = "{"a" * 40}"\nhash = "{"b" * 64}"\nsize = "1 kg"\ndate = 2026-03-04\n\n[result]\n'


def spec(text: str) -> Recipe:
    return Recipe("cream", read_recipe(parse(f"{HEAD}{text}".encode()).data))


def results(text: str) -> Batch:
    return Batch("b-1", read_batch(parse(f"{PINNED}{text}".encode()).data))


def test_a_line_is_a_range_or_words_with_method_and_temperature() -> None:
    found = spec(
        'pH = "4.8 to 5.4"\n'
        'appearance = "white, glossy cream without lumps above 1 mm"\n'
        'odour = { is = "faint, of rose", method = "against the reference sample" }\n'
        'viscosity = { is = "18 to 28 Pa*s", method = "spindle 4, 20 rpm", temp = "20 degC" }\n'
        'particles = { words = "none above 100 um" }\n'
        "hardness = 12\n"
    )

    assert [] == list(unread(found.facts))
    assert {
        "pH": "4.8 to 5.4",
        "appearance": "white, glossy cream without lumps above 1 mm",
        "odour": "faint, of rose (against the reference sample)",
        "viscosity": "18 to 28 Pa*s at 20 degC (spindle 4, 20 rpm)",
        "particles": "none above 100 um",
        "hardness": "12",
    } == {name: str(line) for name, line in found.spec_lines.items()}
    assert ["pH", "viscosity", "hardness"] == list(found.spec)  # what is measured


@pytest.mark.parametrize(
    ("text", "path", "words"),
    [
        ('pH = "about neutral"\n', "spec/pH", "does not begin with a number"),
        ('density = "as water"\n', "spec/density", "'density'"),
        ('slip = "at most a little"\n', "spec/slip", "'slip'"),
        (
            'particles = "none above 100 um"\n',
            "spec/particles",
            'words that hold a number are written { words = "..." }',
        ),
        ("appearance = true\n", "spec/appearance", "a quantity or words, in quotes, is wanted here"),
        ('appearance = ""\n', "spec/appearance", "'appearance' is empty"),
        ('viscosity = { method = "spindle 4" }\n', "spec/viscosity/is", "'is' is missing in spec 'viscosity'"),
        (
            'viscosity = { is = "18 Pa*s", temp = "20 kg" }\n',
            "spec/viscosity/temp",
            "'20 kg' is a mass; a temperature is wanted",
        ),
        ('viscosity = { is = "18 Pa*s", spindel = "4" }\n', "spec/viscosity/spindel", "unknown key 'spindel'"),
        ('odour = { is = "faint", words = "of rose" }\n', "spec/odour/words", "states 'is' and 'words'; one is enough"),
    ],
)
def test_what_is_no_line_of_a_spec(text: str, path: str, words: str) -> None:
    found = {"/".join(where): no.message for where, no in unread(spec(text).facts)}

    assert [path] == list(found)
    assert words in found[path]


def test_a_material_has_words_too_and_may_measure_its_own_way() -> None:
    text = 'title = "Oil"\n[substances]\n"Squalane" = 100\n[spec]\ncolour = "clear"\nviscosity = "20 to 30 mm^2/s"\n'
    facts = read_ingredient(parse(text.encode()).data)

    assert {"colour", "viscosity"} == set(spec_lines(facts))


def test_results_are_values_or_judgements() -> None:
    found = results(
        'pH = 5.0\nodour = true\ncolour = { conforms = false, seen = "yellowish", by = "Una" }\n'
        'viscosity = { is = "21.4 Pa*s", temp = "25 degC" }\n'
    )

    assert [] == list(unread(found.facts))
    assert {"pH": "5.0", "viscosity": "21.4 Pa*s"} == {name: str(value) for name, value in found.results.items()}
    assert {"odour": True, "colour": False} == found.judged
    assert "yellowish" == found.beside("colour", "seen")


@pytest.mark.parametrize(
    ("text", "path", "words"),
    [
        ('odour = "fresh"\n', "result/odour", "of a spec in words write true where the product conforms"),
        ('odour = { seen = "fresh" }\n', "result/odour/is", "'is' is missing in result 'odour'"),
        ('odour = { conforms = "yes" }\n', "result/odour", "true or false is wanted here"),
        ('pH = { is = "4 to 5" }\n', "result/pH", "a result is one value"),
        ('pH = { is = 5, temp = "20 to 25 degC" }\n', "result/pH/temp", "'to 25 degC' is not a unit"),
    ],
)
def test_what_is_no_result(text: str, path: str, words: str) -> None:
    found = {"/".join(where): no.message for where, no in unread(results(text).facts)}

    assert [path] == list(found)
    assert words in found[path]


@pytest.mark.parametrize(
    ("said", "judged"),
    [("yes", True), (" Conforms ", True), ("no", False), ("does  not conform", False), ("a bit", None), ("", None)],
)
def test_a_judgement_is_yes_or_no(said: str, judged: bool | None) -> None:
    assert judged is conforms(said)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('viscosity = "18 Pa*s"\n', 'viscosity = { is = "18 Pa*s", temp = "20 degC" }\n'),
        ('viscosity = { is = "18 Pa*s", temp = "20 degC" }\n', 'viscosity = "20 Pa*s"\n'),
        ('odour = "faint"\n', 'odour = { words = "of 2 roses", method = "nose" }\n'),
        ('odour = { words = "of 2 roses", method = "nose" }\n', 'odour = { words = "faint", method = "nose" }\n'),
    ],
)
def test_any_part_of_a_line_is_written_back(old: str, new: str) -> None:
    whole = spec(new).facts
    before = spec(old).facts
    for path in {*whole, *before}:
        part = {key: value for key, value in {**before, path: whole.get(path)}.items() if value is not None}
        if ("spec", "odour", "method") in part and ("spec", "odour") not in part:
            continue
        text = rewritten(HEAD + old, part, "recipe")
        assert part == read_recipe(parse(text.encode()).data)
