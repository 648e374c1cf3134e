"""Value classes as ``dataclasses`` has them, made when they are first used.

A hook loads a hundred of them and makes values of thirty.  The standard module writes and compiles six methods for each
at once, which took a third of the time of a hook; here ``__init__`` is compiled with the first value, and comparing,
hashing and printing need no code of their own.  What the standard functions want of a class (``fields``, ``asdict``,
``replace``) is there when they ask.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from operator import attrgetter
from types import MemberDescriptorType
from typing import Any, Final, NamedTuple, TypeVar, dataclass_transform, overload

T = TypeVar("T")
_MISSING: Final = object()
_set: Final = object.__setattr__


class Field:
    """How a field begins and what it counts for; see ``dataclasses.field``."""

    __slots__ = ("compare", "default", "factory", "hash", "init", "kind", "name", "repr")

    def __init__(self, default: Any, factory: Any, init: bool, repr: bool, hash: bool | None, compare: bool) -> None:  # noqa: A002, PLR0917 - as the standard module has it
        """Take what was said of it; its name and kind come with its class."""
        self.name = self.kind = ""
        self.default = default
        self.factory = factory
        self.init = init
        self.repr = repr
        self.hash = hash
        self.compare = compare


def field(
    *,
    default: Any = _MISSING,
    default_factory: Any = _MISSING,
    init: bool = True,
    repr: bool = True,  # noqa: A002 - as the standard module calls it
    hash: bool | None = None,  # noqa: A002 - likewise
    compare: bool = True,
) -> Any:
    """Describe a field, as ``dataclasses.field`` does."""
    return Field(default, default_factory, init, repr, hash, compare)


class ValueOptions(NamedTuple):
    """What a class of values was made with."""

    frozen: bool
    slots: bool
    eq: bool


@overload
def dataclass(cls: type[T], /) -> type[T]: ...


@overload
def dataclass(*, frozen: bool = ..., slots: bool = ..., eq: bool = ...) -> Callable[[type[T]], type[T]]: ...


@dataclass_transform(field_specifiers=(field,))
def dataclass(
    cls: type[Any] | None = None, /, *, frozen: bool = False, slots: bool = False, eq: bool = True
) -> type[Any] | Callable[[type[Any]], type[Any]]:
    """Make a class of values of its annotations, as ``dataclasses.dataclass`` does."""
    options = ValueOptions(frozen, slots, eq)
    return (lambda given: _made(given, options)) if cls is None else _made(cls, options)


def replace(value: T, /, **changes: Any) -> T:
    """A value with some fields changed."""
    every: tuple[Field, ...] = type(value).__value_fields__  # type: ignore[attr-defined]
    for one in every:
        if one.init:
            if one.name not in changes:
                changes[one.name] = getattr(value, one.name)
        elif one.name in changes:
            raise ValueError(f"'{one.name}' is worked out, not given")
    return type(value)(**changes)


def _made(cls: type[Any], options: ValueOptions) -> type[Any]:
    own = [_own(cls, name, kind) for name, kind in _kinds(cls) if _counts(kind)]
    above = [one for base in reversed(cls.__mro__[1:]) for one in vars(base).get("__value_fields__", ())]
    every = tuple({one.name: one for one in (*above, *own)}.values())
    for one in own:
        if one.name in vars(cls) and (options.slots or one.default is _MISSING):
            delattr(cls, one.name)
        elif one.default is not _MISSING:
            setattr(cls, one.name, one.default)
    given = _given(cls, every, options)
    if options.slots:
        cls = _slotted(cls, own)
    given |= {"__init__": _first_init(cls), **(_closed(cls, every) if options.frozen else {})}
    for name, what in given.items():
        if name not in vars(cls) or (name == "__hash__" and vars(cls)[name] is None):
            setattr(cls, name, what)
    return cls


def _kinds(cls: type[Any]) -> Iterable[tuple[str, str]]:
    # inspect, which has a function for it, takes as long to load as all that is made here
    return vars(cls).get("__annotations__", {}).items()  # type: ignore[no-any-return]


def _counts(kind: object) -> bool:
    """Say whether an annotation is that of a field, and not of the class itself."""
    return not str(kind).startswith(("ClassVar", "typing.ClassVar"))


def _own(cls: type[Any], name: str, kind: str) -> Field:
    found = getattr(cls, name, _MISSING)
    if not isinstance(found, Field):
        found = Field(_MISSING if isinstance(found, MemberDescriptorType) else found, _MISSING, True, True, None, True)
    if found.default is not _MISSING and type(found.default).__hash__ is None:
        raise ValueError(f"all values would share the default of '{name}': use default_factory")
    found.name, found.kind = name, kind
    return found


def _given(cls: type[Any], every: tuple[Field, ...], options: ValueOptions) -> dict[str, Any]:
    """What a class has besides what makes its values and keeps them as they are."""
    given: dict[str, Any] = {
        "__value_fields__": every,
        "__value_options__": options,
        "__match_args__": tuple(one.name for one in every if one.init),
        "__dataclass_fields__": _Standard("__dataclass_fields__"),
        "__dataclass_params__": _Standard("__dataclass_params__"),
        "__repr__": _repr,
    }
    if options.eq:
        given["__eq__"] = _equal(_together([one.name for one in every if one.compare]))
        given["__hash__"] = None
        if options.frozen and ("__hash__" not in vars(cls) or "__eq__" in vars(cls)):
            counted = [one.name for one in every if (one.compare if one.hash is None else one.hash)]
            given["__hash__"] = _hash(_together(counted))
    if options.frozen and options.slots:
        given |= {"__getstate__": _state, "__setstate__": _restore}
    return given


def _slotted(cls: type[Any], own: list[Field]) -> type[Any]:
    """The class anew, with places for its fields: they cannot be added to one that is there."""
    body = {name: what for name, what in vars(cls).items() if name not in ("__dict__", "__weakref__")}
    held = {name for base in cls.__mro__[1:] for name in vars(base).get("__slots__", ())}
    body["__slots__"] = tuple(one.name for one in own if one.name not in held)
    made: type[Any] = type.__new__(type(cls), cls.__name__, cls.__bases__, body)
    made.__qualname__ = cls.__qualname__
    return made


def _first_init(cls: type[Any]) -> Callable[..., None]:
    def __init__(self: Any, *args: Any, **kwargs: Any) -> None:  # noqa: N807 - this is what it stands for
        cls.__init__ = made = _init(cls)
        made(self, *args, **kwargs)

    return __init__


def _init(cls: type[Any]) -> Callable[..., None]:
    """Compile what makes the values of a class."""
    options: ValueOptions = cls.__value_options__
    names: dict[str, Any] = {"_set": _set, "_MISSING": _MISSING}
    taken, lines = ["self"], []
    for one in cls.__value_fields__:
        begins = f"_of_{one.name}"
        what = one.name
        if one.factory is not _MISSING:
            names[begins] = one.factory
            what = f"{begins}() if {one.name} is _MISSING else {one.name}" if one.init else f"{begins}()"
            taken += [f"{one.name}=_MISSING"] if one.init else []
        elif one.default is not _MISSING:
            names[begins] = one.default
            what = one.name if one.init else begins
            taken += [f"{one.name}={begins}"] if one.init else []
        elif one.init:
            taken.append(one.name)
        else:
            continue
        lines.append(f"_set(self, {one.name!r}, {what})" if options.frozen else f"self.{one.name} = {what}")
    if hasattr(cls, "__post_init__"):
        lines.append("self.__post_init__()")
    text = f"def __init__({', '.join(taken)}):\n " + "\n ".join(lines or ["pass"])
    exec(text, names)  # noqa: S102 - names of fields, as their class has them
    made: Callable[..., None] = names["__init__"]
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    return made


def _together(names: list[str]) -> Callable[[Any], tuple[Any, ...]]:
    """What takes some attributes of a value as one tuple."""
    if len(names) > 1:
        return attrgetter(*names)
    if not names:
        return lambda _value: ()
    one = attrgetter(names[0])
    return lambda value: (one(value),)


def _equal(together: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any, object], bool]:
    def __eq__(self: Any, other: object) -> bool:  # noqa: N807 - this is what it stands for
        if other.__class__ is self.__class__:
            return together(self) == together(other)
        return NotImplemented

    return __eq__


def _hash(together: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any], int]:
    def __hash__(self: Any) -> int:  # noqa: N807 - this is what it stands for
        return hash(together(self))

    return __hash__


def _repr(self: Any) -> str:
    told = (f"{one.name}={getattr(self, one.name)!r}" for one in self.__value_fields__ if one.repr)
    return f"{type(self).__qualname__}({', '.join(told)})"


def _closed(cls: type[Any], every: tuple[Field, ...]) -> dict[str, Callable[..., None]]:
    """What keeps values as they are made; what a class below adds of its own stays open."""
    names = frozenset(one.name for one in every)

    def refuse(self: Any, name: str) -> None:
        if type(self) is cls or name in names:
            from dataclasses import FrozenInstanceError

            raise FrozenInstanceError(f"cannot change field '{name}'")

    def __setattr__(self: Any, name: str, value: Any) -> None:  # noqa: N807 - this is what it stands for
        refuse(self, name)
        super(cls, self).__setattr__(name, value)

    def __delattr__(self: Any, name: str) -> None:  # noqa: N807 - likewise
        refuse(self, name)
        super(cls, self).__delattr__(name)

    return {"__setattr__": __setattr__, "__delattr__": __delattr__}


def _state(self: Any) -> list[Any]:
    return [getattr(self, one.name) for one in self.__value_fields__]


def _restore(self: Any, state: list[Any]) -> None:
    for one, value in zip(self.__value_fields__, state, strict=True):
        _set(self, one.name, value)


class _Standard:
    """What the standard module would have put on a class, for its functions and for those who ask whether it did."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __get__(self, _value: object, cls: type[Any]) -> Any:
        import dataclasses

        fields = []
        for one in cls.__value_fields__:
            begins = {} if one.default is _MISSING else {"default": one.default}
            begins |= {} if one.factory is _MISSING else {"default_factory": one.factory}
            said = dataclasses.field(**begins, init=one.init, repr=one.repr, hash=one.hash, compare=one.compare)
            fields.append((one.name, one.kind, said))
        options: ValueOptions = cls.__value_options__
        # the class itself keeps what it has: this one only carries the description, which it is asked for but once
        made = dataclasses.make_dataclass(cls.__name__, fields, frozen=options.frozen, eq=options.eq)
        found = getattr(made, self._name)
        setattr(cls, self._name, found)
        return found
