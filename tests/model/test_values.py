"""Classes of values: the same as those of the standard module, made later."""

from __future__ import annotations

import copy
import dataclasses
import importlib
import inspect
import pickle
import pkgutil
from collections.abc import Callable
from functools import cached_property
from typing import Any, ClassVar

import pytest

import formula_vcs
from formula_vcs.model import values


def every() -> list[type[Any]]:
    """Give all classes of values that the package has."""
    found = {}
    for module in pkgutil.walk_packages(formula_vcs.__path__, "formula_vcs."):
        if module.name.endswith("__main__"):
            continue
        loaded = importlib.import_module(module.name)
        for one in vars(loaded).values():
            if isinstance(one, type) and "__value_fields__" in vars(one):
                found[f"{one.__module__}.{one.__qualname__}"] = one
    return [found[name] for name in sorted(found)]


def shadow(cls: type[Any]) -> type[Any]:
    """Give the class that the standard module makes of the same description."""
    fields = [(one.name, one.type, _as_said(one)) for one in dataclasses.fields(cls)]
    options = cls.__value_options__
    made: type[Any] = dataclasses.make_dataclass(cls.__name__, fields, frozen=options.frozen, eq=options.eq)
    return made


def _as_said(one: dataclasses.Field[Any]) -> Any:
    begins: dict[str, Any] = {}
    if one.default is not dataclasses.MISSING:
        begins["default"] = one.default
    if one.default_factory is not dataclasses.MISSING:
        begins["default_factory"] = one.default_factory
    return dataclasses.field(**begins, init=one.init, repr=one.repr, hash=one.hash, compare=one.compare)


CLASSES = every()


def test_the_package_has_them() -> None:
    assert len(CLASSES) > 200


@pytest.mark.parametrize("cls", CLASSES, ids=lambda cls: f"{cls.__module__}.{cls.__qualname__}")
def test_a_class_is_as_the_standard_module_makes_it(cls: type[Any]) -> None:
    """Signature, places, comparison, hash and text are those that ``dataclasses`` gives for the same fields."""
    standard = shadow(cls)
    expected = inspect.signature(standard.__init__).parameters
    ours = inspect.signature(values._init(cls)).parameters
    assert [(one.name, one.kind) for one in expected.values()] == [(one.name, one.kind) for one in ours.values()]
    for there, here in zip(expected.values(), ours.values(), strict=True):
        assert (there.default is inspect.Parameter.empty) == (here.default is inspect.Parameter.empty)
    assert standard.__match_args__ == cls.__match_args__
    assert (standard.__hash__ is None) == (cls.__hash__ is None)
    assert cls.__value_options__.slots == ("__slots__" in vars(cls))
    if "__post_init__" in vars(cls):
        return  # makes what it is given into something else
    given = {name: f"<{name}>" for name in list(expected)[1:]}
    value, other = cls(**given), standard(**given)
    fields = [one for one in dataclasses.fields(cls) if one.init]
    assert [getattr(other, one.name) for one in fields] == [getattr(value, one.name) for one in fields]
    if any(one.compare and not one.init for one in dataclasses.fields(cls)):
        return  # no two of them are equal
    for one in fields:
        changed = {**given, one.name: "other"}
        assert (standard(**changed) == other) == (cls(**changed) == value), one.name


@values.dataclass(frozen=True, slots=True)
class Point:
    """Has all kinds of fields."""

    x: int
    y: int = 2
    words: list[str] = values.field(default_factory=list)
    note: str = values.field(default="", compare=False, repr=False)
    made: dict[str, int] = values.field(default_factory=dict, init=False, compare=False)
    kind: ClassVar[str] = "point"


@values.dataclass(frozen=True)
class Base:
    """Has no places."""

    x: int = 1

    @cached_property
    def double(self) -> int:
        return 2 * self.x


@values.dataclass(frozen=True)
class Below(Base):
    """Adds a field."""

    z: int = 3


class Open(Base):
    """Adds an attribute that is no field."""

    def __init__(self) -> None:
        super().__init__(5)
        self.other = 6


@values.dataclass
class Loose:
    """Can be changed."""

    items: set[str] = values.field(default_factory=set)
    count: int = 0


def test_values() -> None:
    one = Point(1, words=["a"])
    assert (1, 2, ["a"], "", {}) == (one.x, one.y, one.words, one.note, one.made)
    assert "Point(x=1, y=2, words=['a'], made={})" == repr(one)
    assert Point(1, 2, ["a"], "said") == one
    assert Point(1, 3, ["a"]) != one
    assert Point(1).words is not Point(1).words
    assert hash(Base(4)) == hash(Base(4))
    assert Base(1) != Below(1)
    assert 8 == Base(4).double
    assert (1, 3) == (Below().x, Below().z)
    assert (5, 6) == (Open().x, Open().other)
    with pytest.raises(TypeError, match="missing 1 required positional argument: 'x'"):
        Point()  # type: ignore[call-arg]
    with pytest.raises(TypeError, match="unhashable"):
        hash(Loose())
    with pytest.raises(TypeError, match="unhashable"):
        hash(one)  # for its list


@pytest.mark.parametrize("change", [lambda one: setattr(one, "x", 2), lambda one: delattr(one, "x")])
@pytest.mark.parametrize("one", [Point(1), Base(), Below(), Open()])
def test_a_value_stays(one: Any, change: Callable[[Any], None]) -> None:
    with pytest.raises(dataclasses.FrozenInstanceError, match="'x'"):
        change(one)


def test_replace() -> None:
    one = Point(1, words=["a"], note="n")
    assert Point(1, 9, ["a"]) == values.replace(one, y=9)
    assert "n" == values.replace(one, y=9).note
    assert Below(7, 8) == values.replace(Below(1, 8), x=7)
    with pytest.raises(TypeError, match="q"):
        values.replace(one, q=1)
    with pytest.raises(ValueError, match="made"):
        values.replace(one, made={})


def test_the_standard_functions_know_it() -> None:
    one = Point(1)
    assert dataclasses.is_dataclass(one)
    assert Point(3) == dataclasses.replace(one, x=3)
    assert {"x": 1, "y": 2, "words": [], "note": "", "made": {}} == dataclasses.asdict(one)
    assert ["x", "z"] == [field.name for field in dataclasses.fields(Below)]


@pytest.mark.parametrize("one", [Point(1, words=["b"], note="kept"), Below(2, 3), Loose({"a"}, 2)])
def test_copies(one: Any) -> None:
    for other in (copy.copy(one), copy.deepcopy(one), pickle.loads(pickle.dumps(one))):  # noqa: S301 - written here
        assert one == other
        assert dataclasses.astuple(one) == dataclasses.astuple(other)


def test_a_default_that_all_would_share_is_refused() -> None:
    with pytest.raises(ValueError, match="default_factory"):

        @values.dataclass
        class Shared:
            items: list[str] = []  # noqa: RUF012 - what is refused


def test_the_description_for_the_standard_module_is_made_once_a_class() -> None:
    @values.dataclass(frozen=True)
    class Above:
        one: int

    @values.dataclass(frozen=True)
    class Below(Above):
        two: int = 2

    class Plain(Below):
        pass

    assert ["one"] == [field.name for field in dataclasses.fields(Above)]
    assert ["one", "two"] == [field.name for field in dataclasses.fields(Below)]
    assert ["one", "two"] == [field.name for field in dataclasses.fields(Plain)]
    assert dataclasses.fields(Below(1))[0] is dataclasses.fields(Below)[0]
