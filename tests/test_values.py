"""Values behave as the standard library's dataclasses of the same definition (Python's documentation, ``dataclasses``)."""
from __future__ import annotations

import copy
import dataclasses
import pickle
from typing import Any

import pytest

from chassis_describe import values


def kinds(module: Any) -> dict[str, Any]:
    """The same classes, made by one module or the other."""

    @module.dataclass(frozen=True, slots=True, kw_only=True)
    class Part:
        name: str
        at: tuple[float, float] = (0.0, 0.0)
        notes: dict[str, int] = module.field(default_factory=dict, compare=False, repr=False)

        def doubled(self) -> float:
            return 2 * self.at[0]

    @module.dataclass(frozen=True)
    class Disc:
        radius: float
        width: float = 1.0

        def __post_init__(self) -> None:
            if self.radius < 0:
                raise ValueError("radius")

    @module.dataclass(frozen=True, slots=True)
    class Sized(Disc):
        label: str = ""

    return {"Part": Part, "Disc": Disc, "Sized": Sized}


OURS, THEIRS = kinds(values), kinds(dataclasses)


def both(name: str, /, *positional: Any, **named: Any) -> tuple[Any, Any]:
    return OURS[name](*positional, **named), THEIRS[name](*positional, **named)


def test_values_defaults_and_words() -> None:
    for mine, theirs in (both("Part", name="a"), both("Part", name="a", at=(1.0, 2.0), notes={"x": 1}), both("Disc", 2.0),
                         both("Disc", radius=2.0, width=3.0), both("Sized", 1.0, 2.0, "s")):
        assert repr(mine) == repr(theirs)
        assert dataclasses.asdict(mine) == dataclasses.asdict(theirs)
        assert [f.name for f in dataclasses.fields(mine)] == [f.name for f in dataclasses.fields(theirs)]
    assert OURS["Part"](name="a").notes is not OURS["Part"](name="a").notes
    assert OURS["Part"](name="a", at=(2.0, 0.0)).doubled() == 4.0


@pytest.mark.parametrize("module", ["ours", "theirs"])
def test_what_is_refused(module: str) -> None:
    made = OURS if module == "ours" else THEIRS
    for kind, positional, named in (("Part", ("a",), {}), ("Part", (), {}), ("Part", (), {"name": "a", "nme": "b"}), ("Disc", (), {})):
        with pytest.raises(TypeError):
            made[kind](*positional, **named)
    with pytest.raises(ValueError, match="radius"):
        made["Disc"](-1.0)
    for value in (made["Part"](name="a"), made["Disc"](1.0)):
        with pytest.raises(dataclasses.FrozenInstanceError):
            value.name = "b"
        with pytest.raises(dataclasses.FrozenInstanceError):
            del value.name
    with pytest.raises(AttributeError):
        object.__setattr__(made["Part"](name="a"), "other", 1)  # slots


def test_equality_and_hash() -> None:
    for made in (OURS, THEIRS):
        a, b = made["Part"](name="a", notes={"x": 1}), made["Part"](name="a")
        assert a == b  # notes are not compared
        assert hash(a) == hash(b)
        assert a != made["Part"](name="b")
        assert made["Disc"](1.0) != made["Sized"](1.0)
        assert made["Disc"](1.0) != 1.0
        assert len({made["Disc"](1.0), made["Disc"](1.0), made["Disc"](2.0)}) == 2


def test_replace_copy_and_match() -> None:
    for made, replace in ((OURS, values.replace), (OURS, dataclasses.replace), (THEIRS, dataclasses.replace)):
        part = made["Part"](name="a", at=(1.0, 2.0))
        assert replace(part, name="b") == made["Part"](name="b", at=(1.0, 2.0))
        with pytest.raises(TypeError):
            replace(part, nme="b")
        with pytest.raises(ValueError, match="radius"):
            replace(made["Disc"](1.0), radius=-1.0)
        assert copy.deepcopy(part) == copy.copy(part) == part
        assert (made["Part"].__match_args__, made["Disc"].__match_args__) == ((), ("radius", "width"))


def test_values_of_the_package_go_to_other_processes() -> None:
    from chassis_describe.findings import finding
    from chassis_describe.source import Mark

    item = finding("rocks", "it rocks", where=[Mark("r.yaml", 1, 2)], measured=1.5)
    assert pickle.loads(pickle.dumps(item)) == item


def test_values_are_frozen_or_nothing() -> None:
    with pytest.raises(TypeError, match="frozen"):
        values.dataclass(type("Loose", (), {"__annotations__": {"a": "int"}}))
