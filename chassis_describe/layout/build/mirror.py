"""``mirror_of``: a placement whose keys are another's, seen in the x–z plane.

The part is placed mirrored, not mirrored itself: the y of its place (millimetres, so ``j`` is -j - 2 y0/pitch on a lattice
whose hole [0, 0] is at y0), the y of ``offset`` and the turn are negated, ``left`` and ``right`` change places. The plane is that
of the deck, or of the seat, that carries it; ``on`` and everything else is taken as it is. Names of frames and topics are not
taken over: a robot has each only once. A key given on the mirror image wins, together with what it stands instead of.
"""
from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple, Union

from chassis_describe.layout.language.reading import KeyPath, Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.model import Lattice
from chassis_describe.source import Mark
from chassis_describe.yaml_text.nodes import Node, Scalar

#: Giving one of these means not to take the others from the placement that is mirrored.
_INSTEAD = {"at": ("screws",), "screws": ("at", "turn"), "turn": ("points", "screws"), "points": ("turn",)}
NOT_MIRRORED = ("mirror_of", "frame", "frames", "topic", "topics", "calibrated")
_SWAP = {"left": "right", "right": "left"}


class Opposite(NamedTuple):
    """From lattice coordinates that :class:`Mirrored` has negated to those of the image: the lattices on which they were
    written, and on which the image is, and whether it is a mirror image or (mirrored twice) the thing itself."""

    there: Lattice | None
    here: Lattice | None
    mirrored: bool

    def at(self, at: tuple[float, float]) -> tuple[float, float]:
        """``at``: as it was written, j negated where ``mirrored``."""
        there, here = self.there, self.here
        if there is None or here is None:
            return at
        sign = -1.0 if self.mirrored else 1.0
        if there.pitch == here.pitch and there.origin[0] == here.origin[0] and sign * there.origin[1] == here.origin[1]:
            return at
        x = there.origin[0] + there.pitch * at[0]
        y = sign * there.origin[1] + there.pitch * at[1]
        return _plain((x - here.origin[0]) / here.pitch), _plain((y - here.origin[1]) / here.pitch)


def _plain(value: float) -> float:
    """Without the last digits' rounding."""
    near = round(value, 6)
    return near + 0.0 if abs(value - near) < 1e-9 else value


class Mirrored:
    """The keys of a mirror image; offers what :class:`Taken` offers, each key knowing where it was written."""

    __slots__ = ("keys", "owner", "path", "record", "values")

    def __init__(self, own: Taken, base: PlacementKeys) -> None:
        instead = {other for key in own.keys for other in _INSTEAD.get(key, ())}
        self.path, self.record = own.path, own.record
        self.keys: dict[str, Scalar] = {}
        self.values: dict[str, Any] = {}
        self.owner: dict[str, Taken] = {}
        for key, written in base.keys.items():
            if key in NOT_MIRRORED or (key in instead and key not in own.keys):
                continue
            self.keys[key] = written
            self.owner[key] = base.owner[key] if isinstance(base, Mirrored) else base
            if key in base.values:
                self.values[key] = _image(key, base.values[key])
        for key, written in own.keys.items():
            self.keys[key] = written
            self.owner[key] = own
            self.values.pop(key, None)
            if key in own.values:
                self.values[key] = own.values[key]

    def get(self, name: str, default: Any = None) -> Any:
        """The value of a key as the mirror image has it; else the language's default, else ``default``."""
        value = self.values.get(name)
        return value if value is not None else self.record.defaults.get(name, default)

    def has(self, name: str) -> bool:
        """Whether the key stands, here or in what is mirrored."""
        return name in self.keys

    def at(self, name: str) -> Node:
        """The node of a key's value."""
        return self.owner[name].at(name)

    def mark(self, name: str | None = None) -> Mark:
        """The place of a key."""
        return self.owner[name or "mirror_of"].mark(name)

    def marks(self) -> dict[str, Mark]:
        """The place of each key."""
        return {name: owner.mark(name) for name, owner in self.owner.items()}

    def within(self, name: str) -> KeyPath:
        """The path of a key, where it was written."""
        return self.owner[name].within(name)


PlacementKeys = Union[Taken, Mirrored]


def _image(key: str, value: Any) -> Any:
    """A value of a placement in the mirror."""
    if key == "at":
        return (value[0], 0.0 - value[1])
    if key == "offset":
        return (value[0], 0.0 - value[1], value[2])
    if key == "turn":
        return 0.0 - value
    if key == "points":
        return _SWAP.get(value, value)
    if key == "screws":
        return tuple(((i, -j), node) for (i, j), node in value)
    return value


class Mirrors:
    """What each placement has written, mirrors followed."""

    def __init__(self, taken: Mapping[str, Taken | None], r: Reading) -> None:
        self.taken, self.r = taken, r
        self.known: dict[str, PlacementKeys | None] = {}

    def of(self, name: str) -> PlacementKeys | None:
        """The keys of a placement; None when it, or what it mirrors, could not be read. Chains without recursion."""
        own = self.taken.get(name)
        if own is None or "mirror_of" not in own.keys:
            return own
        chain: dict[str, None] = {}
        while name not in self.known and (taken := self.taken.get(name)) is not None and "mirror_of" in taken.keys:
            if name in chain:
                self._loop(list(chain)[list(chain).index(name):])
                break
            chain[name] = None
            other = taken.get("mirror_of")
            if other is None or other not in self.taken:
                if other is not None:
                    self.r.unknown("unknown-name", "a placement", other, (n for n in self.taken if n != taken.path[-1]),
                                   taken.at("mirror_of"), taken.within("mirror_of"))
                self.known[name] = None
                break
            name = other
        for name in reversed(chain):
            if name not in self.known:
                image = self.taken[name]
                assert image is not None
                base = self.of(image.get("mirror_of"))  # known by now, or a placement that mirrors nothing
                self.known[name] = Mirrored(image, base) if base is not None else None
        return self.known[next(iter(chain))] if chain else self.known[name]

    def _loop(self, loop: list[str]) -> None:
        takens = [t for t in (self.taken[n] for n in loop) if t is not None]
        self.r.fault("tree", f"a loop of mirrors: {' → '.join([*loop, loop[0]])}", takens[0].at("mirror_of"),
                     takens[0].within("mirror_of"), hint="one of them has to say where it is",
                     also=[t.mark("mirror_of") for t in takens[1:]])
        self.known.update(dict.fromkeys(loop))
