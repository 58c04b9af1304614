"""Frozen values: ``dataclasses.dataclass``, but its methods are written only when the first value is made.

Most commands make few of the kinds of values that there are, and generating six methods for each kind on import took a third
of the time of a small ``urdf``. A kind here has one generated method, ``__init__``, at its first use; the rest is shared.
Type checkers see the standard decorator. Only ``frozen=True`` is supported, with or without ``slots`` and ``kw_only``.
"""
from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass, field, replace

    __all__ = ["dataclass", "field", "replace"]
else:
    #: No default.
    _NONE = object()

    class Field:
        """What :func:`field` says of one field."""

        __slots__ = ("compare", "default", "default_factory", "name", "repr")

        def __init__(self, default: Any, default_factory: Any, compare: bool, repr: bool) -> None:  # noqa: A002
            self.name, self.default, self.default_factory, self.compare, self.repr = "", default, default_factory, compare, repr

    def field(*, default: Any = _NONE, default_factory: Any = _NONE, compare: bool = True,
              repr: bool = True) -> Field:  # noqa: A002 - the standard's own words
        """As ``dataclasses.field``."""
        return Field(default, default_factory, compare, repr)

    def dataclass(cls: type | None = None, /, *, frozen: bool = False, slots: bool = False,
                  kw_only: bool = False) -> Any:
        """As ``dataclasses.dataclass(frozen=True)``."""
        if cls is None:
            return lambda decorated: dataclass(decorated, frozen=frozen, slots=slots, kw_only=kw_only)
        if not frozen:
            raise TypeError(f"{cls.__name__}: values are frozen")
        own: dict[str, Field] = {}
        for name in cls.__annotations__:
            said = cls.__dict__.get(name, _NONE)
            own[name] = said if isinstance(said, Field) else Field(said, _NONE, True, True)
            own[name].name = name
        inherited = {n: f for base in reversed(cls.__mro__[1:]) for n, f in getattr(base, "_fields_", {}).items()}
        fields = {**inherited, **own}
        compared = [n for n, f in fields.items() if f.compare]
        added = {"_fields_": fields, "_kw_only_": kw_only, "__match_args__": () if kw_only else tuple(fields),
                 "_compared_": staticmethod(attrgetter(*compared) if compared else lambda value: ()),
                 "__dataclass_fields__": _StandardFields(), "__setattr__": _frozen, "__delattr__": _frozen}
        if "__repr__" not in cls.__dict__:
            added["__repr__"] = _repr
        if "__eq__" not in cls.__dict__:
            added |= {"__eq__": _eq, "__hash__": cls.__dict__.get("__hash__") or _hash}

        def first(self: Any, *positional: Any, **named: Any) -> None:
            made.__init__ = _written_init(made)
            made.__init__(self, *positional, **named)

        added["__init__"] = first
        if slots:
            kept = {n: v for n, v in cls.__dict__.items() if n not in own and n not in ("__dict__", "__weakref__")}
            names = {"__qualname__": cls.__qualname__, "__slots__": tuple(n for n in own if n not in inherited),
                     "__getstate__": _getstate, "__setstate__": _setstate}
            made = type(cls)(cls.__name__, cls.__bases__, {**kept, **added, **names})
        else:
            made = cls
            for name, one in own.items():
                if one.default is not _NONE:
                    setattr(cls, name, one.default)
                elif name in cls.__dict__:
                    delattr(cls, name)
            for name, value in added.items():
                setattr(cls, name, value)
        return made

    def _written_init(cls: type) -> Callable[..., None]:
        """``__init__`` as one would write it by hand."""
        given: dict[str, Any] = {"_set": object.__setattr__, "_NONE": _NONE}
        parameters, lines = [], []
        for name, one in cls._fields_.items():
            value = name
            if one.default_factory is not _NONE:
                given[f"_make_{name}"] = one.default_factory
                parameters.append(f"{name}=_NONE")
                value = f"_make_{name}() if {name} is _NONE else {name}"
            elif one.default is not _NONE:
                given[f"_default_{name}"] = one.default
                parameters.append(f"{name}=_default_{name}")
            else:
                parameters.append(name)
            lines.append(f" _set(self, {name!r}, {value})\n")
        if hasattr(cls, "__post_init__"):
            lines.append(" self.__post_init__()\n")
        between = ["*"] if cls._kw_only_ and parameters else []
        exec(f"def __init__(self, {', '.join([*between, *parameters])}):\n{''.join(lines) or ' pass'}", given)
        return given["__init__"]

    def replace(value: Any, /, **changes: Any) -> Any:
        """As ``dataclasses.replace``."""
        for name in value._fields_:
            if name not in changes:
                changes[name] = getattr(value, name)
        return type(value)(**changes)

    def _eq(self: Any, other: object) -> Any:
        if other.__class__ is not self.__class__:
            return NotImplemented
        return self._compared_(self) == self._compared_(other)

    def _hash(self: Any) -> int:
        return hash((self._compared_(self),))

    def _repr(self: Any) -> str:
        said = ", ".join(f"{name}={getattr(self, name)!r}" for name, one in self._fields_.items() if one.repr)
        return f"{type(self).__qualname__}({said})"

    def _frozen(self: Any, name: str, *value: Any) -> None:
        from dataclasses import FrozenInstanceError

        raise FrozenInstanceError(f"{'cannot assign to' if value else 'cannot delete'} field {name!r}")

    def _getstate(self: Any) -> list[Any]:
        return [getattr(self, name) for name in self._fields_]

    def _setstate(self: Any, state: list[Any]) -> None:
        for name, value in zip(self._fields_, state):
            object.__setattr__(self, name, value)

    class _StandardFields:
        """``__dataclass_fields__`` when somebody asks: ``dataclasses.replace``, ``fields`` and ``asdict`` work as on their own."""

        def __get__(self, instance: Any, owner: type) -> dict[str, Any]:
            import dataclasses

            out = {}
            for name, one in owner._fields_.items():
                given = {k: v for k, v in (("default", one.default), ("default_factory", one.default_factory)) if v is not _NONE}
                standard = dataclasses.field(compare=one.compare, repr=one.repr, kw_only=owner._kw_only_, **given)
                standard.name, standard._field_type = name, dataclasses._FIELD
                out[name] = standard
            return out
