"""Where parts come from: the layout's own, the user's part files, the built-in catalogue; and what ``like`` takes over.

Start-up matters more than anything here: the built-in files are scanned for the lines that name a part, and only the
text of a part that is used is parsed.
"""
from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from chassis_describe.layout.build.part_taken import PartTaken
from chassis_describe.layout.build.parts import build_part
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.language.table_layout import CATALOGUE
from chassis_describe.layout.language.table_parts import PART
from chassis_describe.layout.model import Part
from chassis_describe.source import PACKAGE
from chassis_describe.yaml_text.compose import compose
from chassis_describe.yaml_text.nodes import Map, Node

FOLDER = PACKAGE / "catalogue"
_ENTRY = re.compile(r"^  ([a-z][a-z0-9_]*):", re.MULTILINE)
_PARTS = re.compile(r"^parts:[ ]*(?:#.*)?$", re.MULTILINE)
_NEXT_TOP = re.compile(r"^[^\s#]", re.MULTILINE)


class ShelfPlace(NamedTuple):
    """Where a built-in part stands: its file, the lines' text, and the number of the first."""

    file: str
    text: str
    line: int


@lru_cache(maxsize=1)
def _index() -> Mapping[str, ShelfPlace]:
    """Built-in parts by name. Our own files have a plain form: ``parts:`` and two spaces before each name."""
    out: dict[str, ShelfPlace] = {}
    for path in sorted(FOLDER.glob("*.yaml")):
        text = path.read_text(encoding="utf-8")
        top = _PARTS.search(text)
        if top is None:
            continue
        after = _NEXT_TOP.search(text, top.end())
        end = after.start() if after else len(text)
        entries = list(_ENTRY.finditer(text, top.end(), end))
        for k, entry in enumerate(entries):
            stop = entries[k + 1].start() if k + 1 < len(entries) else end
            out.setdefault(entry.group(1), ShelfPlace(str(path), text[entry.start():stop],
                                                 text.count("\n", 0, entry.start()) + 1))
    return out


def builtin_names() -> tuple[str, ...]:
    """Names of the built-in parts, in alphabetical order."""
    return tuple(sorted(_index()))


@lru_cache(maxsize=512)
def builtin_part(name: str) -> Part | None:
    """One built-in part, or None when there is none of that name. Raises LayoutError if the catalogue is broken.

    Made once: who reads a layout again and again, as the live node does, would spend most of its time here.
    """
    if name not in _index():
        return None
    r = Reading()
    taken = Shelves(r).follow(0, name)
    part = build_part(taken, r) if taken is not None else None
    r.give_up_on_faults()
    return part


class Shelves:
    """Parts by name: shelf 0 is the layout's ``parts``, then one for each part file, last the built-in catalogue."""

    def __init__(self, r: Reading, shelves: Sequence[Mapping[str, Taken | None]] = ()) -> None:
        self.r, self.shelves = r, list(shelves)
        self.builtin: dict[str, Taken | None] = {}
        self.followed: dict[tuple[int, str], PartTaken | None] = {}
        self.built: dict[tuple[int, str], Part | None] = {}

    def names(self) -> list[str]:
        """All names, in the order of look-up."""
        return list(dict.fromkeys([n for shelf in self.shelves for n in shelf] + list(builtin_names())))

    def find(self, name: str, start: int = 0) -> int | None:
        """The number of the first shelf from ``start`` that has the name."""
        for number in range(start, len(self.shelves)):
            if name in self.shelves[number]:
                return number
        return len(self.shelves) if start <= len(self.shelves) and name in _index() else None

    def part(self, name: str) -> Part | None:
        """The part of that name, built once; None when it does not exist or is faulty."""
        number = self.find(name)
        return self.at(number, name) if number is not None else None

    def at(self, number: int, name: str) -> Part | None:
        """The part of a shelf."""
        key = (number, name)
        if number == len(self.shelves):
            return builtin_part(name)  # it is like built-in ones alone
        if key not in self.built:
            taken = self.follow(number, name)
            self.built[key] = build_part(taken, self.r) if taken is not None else None
        return self.built[key]

    def follow(self, number: int, name: str) -> PartTaken | None:
        """The keys of a part with those of the part that it is like. Chains of any length, without recursion."""
        key: tuple[int, str] | None = (number, name)
        chain: dict[tuple[int, str], None] = {}
        while key is not None and key not in self.followed:
            if key in chain:
                self._loop(list(chain)[list(chain).index(key):])
                break
            chain[key] = None
            key = self._base(key)
        for key in reversed(chain):
            if key not in self.followed:
                self.followed[key] = self._merged(key)
        return self.followed[(number, name)]

    def _loop(self, loop: list[tuple[int, str]]) -> None:
        takens = [t for t in (self._taken(*key) for key in loop) if t is not None]
        self.r.fault("bad-value", "a loop of parts that are like one another: "
                     + " → ".join(n for _, n in [*loop, loop[0]]), takens[0].at("like"), takens[0].within("like"),
                     hint="leave out one `like`", also=[t.mark("like") for t in takens[1:]])
        self.followed.update(dict.fromkeys(loop))

    def _taken(self, number: int, name: str) -> Taken | None:
        if number < len(self.shelves):
            return self.shelves[number][name]
        if name not in self.builtin:
            self.builtin[name] = _read_builtin(name, self.r)
        return self.builtin[name]

    def _base(self, key: tuple[int, str]) -> tuple[int, str] | None:
        """The part that a part is like; None when there is none, or after a report."""
        number, name = key
        own = self._taken(number, name)
        like = own.get("like") if own is not None else None
        if own is None or like is None:
            if own is None or own.has("like"):
                self.followed[key] = None
            return None
        # A part may be like one of its own name further down: the built-in one with a few keys changed.
        other = self.find(like, number + 1 if like == name else number)
        if other is None:
            self.r.unknown("unknown-name", "a part", like, (n for n in self.names() if n != name), own.at("like"),
                           own.within("like"))
            self.followed[key] = None
            return None
        return (other, like)

    def _merged(self, key: tuple[int, str]) -> PartTaken | None:
        own = self._taken(*key)
        assert own is not None
        source = {k: own for k in own.keys if k != "like"}
        if not own.has("like"):
            return PartTaken(key[1], own, source)
        after = self._base(key)
        base = self.followed[after] if after is not None else None
        if base is None:
            return None
        merged = dict(base.source)
        for one, two in (("bolt_hole", "tapped"), ("wheel", "caster")):  # who gives the one means not the other
            if one in source:
                merged.pop(two, None)
            if two in source:
                merged.pop(one, None)
        return PartTaken(key[1], own, {**merged, **source})


def _read_builtin(name: str, r: Reading) -> Taken | None:
    place = _index()[name]
    root, faults = compose(place.text, place.file, first_line=place.line)
    r.findings.extend(faults)
    if not isinstance(root, Map) or name not in root.items:
        return None
    return PART.read(root.items[name][1], r, ("parts", name))


def read_catalogue(root: Node | None, r: Reading) -> tuple[dict[str, Taken | None], dict[str, float]]:
    """Parts and materials of one part file."""
    taken = CATALOGUE.read(root, r, ()) if root is not None else None
    if taken is None:
        return {}, {}
    materials = {k: v for k, v in taken.get("materials", {}).items() if v is not None}
    return taken.get("parts", {}), materials
