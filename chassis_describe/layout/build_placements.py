"""Placements from what was read of them: mirrors followed, supports found, keys that mean nothing refused."""
from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from chassis_describe.layout.catalogue import Shelves
from chassis_describe.layout.materials import MATERIALS, material
from chassis_describe.layout.model import Adjustment, Deck, Lattice, Part, Placement
from chassis_describe.layout.nodes import Node, Scalar, mark_of, nearest
from chassis_describe.layout.reading import Path, Reading
from chassis_describe.layout.record import Taken
from chassis_describe.source import Mark
from chassis_describe.units import shown

#: Keys that say where a part sits; on a shaft there is nothing left to say.
_POSITION = ("face", "at", "screws", "turn", "points", "lift", "spacer", "offset", "fixing")
#: Giving one of these means not to take the others from the placement that is mirrored.
_INSTEAD = {"at": ("screws",), "screws": ("at", "turn"), "turn": ("points", "screws"), "points": ("turn",)}
#: Names are one robot's only once: a mirror image needs its own.
_NOT_MIRRORED = ("mirror_of", "frame", "frames", "topic", "topics")
_SWAP = {"left": "right", "right": "left"}


class PlacementBuilder:
    """Turns the ``placements`` of a file into placements, in whatever order they stand."""

    def __init__(self, r: Reading, taken: Mapping[str, Taken | None], decks: Mapping[str, Deck | None],
                 shelves: Shelves, added: Mapping[str, float]) -> None:
        self.r, self.taken, self.decks, self.shelves, self.added = r, taken, decks, shelves, added
        self.sources: dict[str, dict[str, tuple[Taken, bool]] | None] = {}
        self.parts: dict[str, Part | None] = {}
        self.mirroring: list[str] = []
        self.part_names: list[str] | None = None

    # ------------------------------------------------------------------------------------------------------ mirrors
    def source(self, name: str) -> dict[str, tuple[Taken, bool]] | None:
        """For each key of a placement: the mapping that it stands in, and whether it is seen in the mirror."""
        if name in self.sources:
            return self.sources[name]
        own = self.taken.get(name)
        if own is None:
            return None
        out: dict[str, tuple[Taken, bool]] | None = {key: (own, False) for key in own.keys}
        if own.has("mirror_of"):
            out = self._mirrored(name, own)
        self.sources[name] = out
        return out

    def _mirrored(self, name: str, own: Taken) -> dict[str, tuple[Taken, bool]] | None:
        other = own.get("mirror_of")
        if other is None:
            return None
        if other not in self.taken:
            self.r.unknown("unknown-name", "a placement", other, [n for n in self.taken if n != name],
                           own.at("mirror_of"), own.within("mirror_of"))
            return None
        if name in self.mirroring or other == name:
            loop = [*self.mirroring[self.mirroring.index(name):], name] if name in self.mirroring else [name, name]
            self.r.fault("tree", f"a loop of mirrors: {' → '.join(loop)}", own.at("mirror_of"), own.within("mirror_of"),
                         hint="one of them has to say where it is")
            return None
        self.mirroring.append(name)
        try:
            base = self.source(other)
        finally:
            self.mirroring.pop()
        if base is None:
            return None
        out = {k: (t, not seen) for k, (t, seen) in base.items() if k not in _NOT_MIRRORED}
        for key in own.keys:
            for other_key in _INSTEAD.get(key, ()):
                out.pop(other_key, None)
            out[key] = (own, False)
        return out

    def value(self, source: Mapping[str, tuple[Taken, bool]], key: str) -> Any:
        """The value of a key, mirrored where it comes from the other side."""
        entry = source.get(key)
        if entry is None:
            return None
        taken, mirrored = entry
        value = taken.get(key)
        if not mirrored or value is None:
            return value
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

    # ---------------------------------------------------------------------------------------------------- placements
    def placement(self, name: str) -> Placement | None:
        """One placement, or None after a report."""
        own = self.taken[name]
        source = self.source(name)
        if own is None or source is None:
            return None
        r = self.r
        before = len(r.findings)
        complete = True
        for key in ("part", "on"):
            if key not in source:
                r.fault("missing-key", f"a placement needs `{key}`", own.node, own.path,
                        hint="`part` names what it is, `on` the deck, seat or shaft that carries it"
                        if not own.has("mirror_of") else "neither this placement nor the one that it mirrors has it")
                complete = False
        part = self.part_of(name)
        support = self._support(name, source, part)
        if part is None or support is None or not complete or any(t.faulty(k) for k, (t, _) in source.items()):
            return None
        kind, on, where = support
        grid, face_matters = self._ground(kind, on, where)
        self._meaningless(name, own, source, part, kind, grid)
        spacer = self._spacer(source)
        screws = self._screws(source, part)
        settings = self._settings(source, part)
        frames = self._by_sensor(source, part, "frame", "frames")
        topics = self._by_sensor(source, part, "topic", "topics")
        if len(r.findings) > before:
            return None
        value = self.value
        screws_entry = source.get("screws")
        return Placement(
            name=name, part=part, support=kind, on=on,  # type: ignore[arg-type]
            seat=where if kind == "seat" else None, shaft=where if kind == "shaft" else None,
            face=value(source, "face") or "top",
            at=None if screws is not None or kind == "shaft" else value(source, "at") or (0.0, 0.0),
            screws=screws, screws_mark=screws_entry[0].mark("screws") if screws_entry else None,
            turn=value(source, "turn") or 0.0, points=value(source, "points"), lift=value(source, "lift") or 0.0,
            spacer=spacer[0], spacer_density=spacer[1], offset=value(source, "offset") or (0.0, 0.0, 0.0),
            settings=settings, fixing=value(source, "fixing"), frames=frames, topics=topics,
            mass=value(source, "mass"), note=value(source, "note") or "", mirror_of=own.get("mirror_of"),
            mark=own.mark(), marks=own.marks() if not own.has("mirror_of") else
            {k: t.mark(k) for k, (t, _) in source.items()})

    def part_of(self, name: str) -> Part | None:
        """The part of a placement; None when it is unknown or faulty, which is reported once."""
        if name in self.parts:
            return self.parts[name]
        source = self.source(name)
        part, entry = None, (source or {}).get("part")
        if entry is not None and entry[0].get("part") is not None:
            wanted = entry[0].get("part")
            if self.shelves.find(wanted) is None:
                if not entry[1]:  # in the mirror it was reported already
                    self.part_names = self.part_names or self.shelves.names()
                    self.r.unknown("unknown-name", "a part in `parts`, the part files or the built-in catalogue",
                                   wanted, self.part_names, entry[0].at("part"), entry[0].within("part"))
            else:
                part = self.shelves.part(wanted, None)
        self.parts[name] = part
        return part

    def _support(self, name: str, source: Mapping[str, tuple[Taken, bool]],
                 part: Part | None) -> tuple[str, str, str | None] | None:
        """What carries a placement: ("deck", deck, None), ("seat", placement, seat) or ("shaft", placement, shaft)."""
        entry = source.get("on")
        if entry is None or entry[0].get("on") is None:
            return None
        taken, r = entry[0], self.r
        text: str = taken.get("on")
        node, path = taken.at("on"), taken.within("on")
        wheel = part is not None and part.wheel is not None
        if text in self.decks:
            if wheel:
                r.fault("bad-value", f"`{part.name}` is a wheel, and a wheel goes on a shaft", node,  # type: ignore[union-attr]
                        path, hint=f"write `on: {self._shafts_hint()}`")
                return None
            return ("deck", text, None)
        carrier, dot, place = text.partition(".")
        if carrier in self.decks:
            r.fault("bad-value", f"`{carrier}` is a deck and has no seats or shafts", node, path,
                    hint=f"write `on: {carrier}`, and the place with `at`")
            return None
        if carrier not in self.taken:
            known = [*self.decks, *(n for n in self.taken if n != name)]
            r.unknown("unknown-name", "a deck or a placement", carrier, known, node, path)
            return None
        if carrier == name:
            r.fault("tree", f"`{name}` can't stand on itself", node, path, hint="name what carries it")
            return None
        base = self.part_of(carrier)
        if base is None or part is None:
            return None
        return self._place(carrier, base, place if dot else None, part, node, path)

    def _place(self, carrier: str, base: Part, place: str | None, part: Part, node: Node,
               path: Path) -> tuple[str, str, str | None] | None:
        r, wheel = self.r, part.wheel is not None
        also = [base.mark]
        fitting = base.shafts if wheel else base.seats
        kind = "shaft" if wheel else "seat"
        if place is None:
            if len(fitting) == 1:
                return (kind, carrier, next(iter(fitting)))
            if not fitting:
                others = base.seats if wheel else base.shafts
                if not others:
                    r.fault("bad-value", f"nothing can be fixed to `{carrier}`: its part `{base.name}` has no seats or "
                            "shafts", node, path, hint="name a deck or another placement", also=also)
                elif wheel:
                    r.fault("bad-value", f"`{part.name}` is a wheel and goes on a shaft; `{base.name}` has none", node,
                            path, hint=f"write `on: {self._shafts_hint()}`", also=also)
                else:
                    r.fault("bad-value", f"only a wheel goes on a shaft, and `{base.name}` has no seats for "
                            f"`{part.name}`", node, path, hint="name a deck, or a placement with a seat", also=also)
                return None
            r.fault("bad-value", f"`{base.name}` has {len(fitting)} {kind}s; say which", node, path,
                    hint="one of " + ", ".join(f"`{carrier}.{n}`" for n in fitting), also=also)
            return None
        if place in fitting:
            return (kind, carrier, place)
        if place in (base.seats if wheel else base.shafts):
            why = (f"`{place}` is a seat, and the wheel `{part.name}` goes on a shaft" if wheel else
                   f"`{place}` is a shaft, and `{part.name}` is no wheel")
            r.fault("bad-value", why, node, path, hint="one of " + ", ".join(f"`{carrier}.{n}`" for n in fitting)
                    if fitting else f"`{base.name}` has no {kind}", also=also)
            return None
        r.unknown("unknown-name", f"a seat or shaft of `{base.name}`", place, [*base.seats, *base.shafts], node, path,
                  also=also)
        return None

    def _shafts_hint(self) -> str:
        for name in self.taken:
            part = self.part_of(name)
            if part is not None and part.shafts:
                return name
        return "NAME` with a placement whose part has a shaft, such as a motor; `on: MOTOR"

    def _ground(self, kind: str, on: str, where: str | None) -> tuple[Lattice | None, bool]:
        """The lattice that the placement stands on, if any, and whether the deck is known to be good."""
        if kind == "deck":
            deck = self.decks[on]
            return (deck.lattice, True) if deck is not None else (_ANY, False)
        if kind == "seat":
            part = self.part_of(on)
            return (part.seats[where].lattice if part is not None and where is not None else None, False)
        return (None, False)

    # ------------------------------------------------------------------------------------------------ keys that fit
    def _meaningless(self, name: str, own: Taken, source: Mapping[str, tuple[Taken, bool]], part: Part, kind: str,
                     grid: Lattice | None) -> None:
        r = self.r

        def refuse(key: str, why: str, hint: str = "") -> None:
            taken = source[key][0]
            r.fault("meaningless-key", why, taken.keys[key], taken.within(key), hint=hint or f"leave `{key}` out")

        for key in source:
            if kind == "shaft" and key in _POSITION:
                refuse(key, f"`{key}` means nothing on a shaft: the wheel's own `offset` says where it sits")
            elif kind == "seat" and key == "face":
                refuse(key, "`face` is for decks; a seat has one side")
            elif kind == "seat" and key == "points":
                refuse(key, "`points` is for decks", "give `turn` in degrees")
        if kind != "shaft" and grid is None:
            place = f"deck `{self.value(source, 'on')}`" if kind == "deck" else "this seat"
            if "screws" in source:
                refuse("screws", f"{place} has no lattice", "place it with `offset`, in mm")
            at = self.value(source, "at")
            if at is not None and at != (0.0, 0.0):
                taken = source["at"][0]
                r.fault("bad-value", f"{place} has no lattice, so `at` can only be [0, 0]", taken.at("at"),
                        taken.within("at"), hint="leave `at` out, and give `offset` in mm where needed")
        if "spacer" in source and kind != "shaft" and "lift" not in source:
            refuse("spacer", "there is no spacer without `lift`", "say how high it is with `lift`, or leave it out")
        if not part.bolts:
            if "screws" in source and grid is not None:
                refuse("screws", f"the part `{part.name}` has no bolts", "place it with `at` and `turn`")
            if self.value(source, "fixing") == "bolts":
                taken = source["fixing"][0]
                r.fault("bad-value", f"the part `{part.name}` has no bolts", taken.at("fixing"), taken.within("fixing"),
                        hint="write `adhesive` or `strap`, or add `bolts` to the part", also=[part.mark])

    def _spacer(self, source: Mapping[str, tuple[Taken, bool]]) -> tuple[str, float]:
        entry = source.get("spacer")
        if entry is None:
            return ("nylon", MATERIALS["nylon"])
        name = entry[0].get("spacer")
        found = material(name, self.added)
        if found is None:
            self.r.unknown("unknown-name", "a known material", name, [*self.added, *MATERIALS], entry[0].at("spacer"),
                           entry[0].within("spacer"))
        return found or ("nylon", MATERIALS["nylon"])

    def _screws(self, source: Mapping[str, tuple[Taken, bool]], part: Part) -> tuple[tuple[int, int], ...] | None:
        value = self.value(source, "screws")
        if value is None:
            return None
        taken = source["screws"][0]
        path = taken.within("screws")
        seen: dict[tuple[int, int], Node] = {}
        for hole, node in value:
            if hole in seen:
                self.r.fault("bad-value", f"hole {list(hole)} stands twice", node, path,
                             hint="each bolt uses its own hole", also=[mark_of(seen[hole], path)])
            seen[hole] = node
        if part.bolts and len(value) > len(part.bolts):
            self.r.fault("bad-value", f"{len(value)} holes, and the part `{part.name}` has {len(part.bolts)} "
                         f"bolt{'s' if len(part.bolts) > 1 else ''}", taken.at("screws"), path,
                         hint="name the holes that its bolts use", also=[part.mark])
        return tuple(hole for hole, _ in value)

    def _settings(self, source: Mapping[str, tuple[Taken, bool]], part: Part) -> dict[str, float]:
        entry = source.get("set")
        if entry is None:
            return {}
        taken = entry[0]
        known: dict[str, Adjustment] = {a.name: a for seat in part.seats.values() for a in seat.adjust}
        out: dict[str, float] = {}
        node = taken.at("set")
        for name, value in taken.get("set").items():
            key, given = node.items[name]  # type: ignore[union-attr, index]
            path = (*taken.within("set"), name)
            if name not in known:
                if not known:
                    self.r.fault("meaningless-key", f"the part `{part.name}` has nothing to set", key, path,
                                 hint="leave `set` out", also=[part.mark])
                    break
                self.r.unknown("unknown-name", f"an adjustment of `{part.name}`", name, known, key, path,
                               also=[part.mark])
                continue
            if value is None:
                continue
            low, high = known[name].range
            if not low - 1e-9 <= value <= high + 1e-9:
                self.r.fault("bad-value", f"{math.degrees(value):.6g}° is out of the range of `{name}`", given, path,
                             hint=f"it goes from {math.degrees(low):.6g}° to {math.degrees(high):.6g}°",
                             also=[known[name].mark])
            out[name] = value
        return out

    def _by_sensor(self, source: Mapping[str, tuple[Taken, bool]], part: Part, one: str, many: str) -> dict[str, str]:
        names = [s.name for s in part.sensors]
        for key in (one, many):
            if key in source and not names:
                taken = source[key][0]
                self.r.fault("meaningless-key", f"the part `{part.name}` has no sensor to give a {one} to",
                             taken.keys[key], taken.within(key), hint=f"leave `{key}` out", also=[part.mark])
                return {}
        if one in source:
            taken = source[one][0]
            if len(names) > 1:
                example = ", ".join(f"{n}: …" for n in names)
                self.r.fault("bad-value", f"the part `{part.name}` has {len(names)} sensors; say whose {one} it is",
                             taken.keys[one], taken.within(one), hint=f"write `{many}: {{{example}}}`",
                             also=[part.mark])
                return {}
            return {names[0]: taken.get(one)}
        if many not in source:
            return {}
        taken = source[many][0]
        node = taken.at(many)
        for name in taken.get(many):
            if name not in names:
                self.r.unknown("unknown-name", f"a sensor of `{part.name}`", name, names,
                               node.items[name][0], (*taken.within(many), name), also=[part.mark])  # type: ignore[union-attr, index]
        return {n: v for n, v in taken.get(many).items() if v is not None and n in names}


_ANY = Lattice(pitch=0.020, hole=0.0035, screw="M3", mark=Mark("", 0, 0))  # stands in for a faulty deck's


def shared_shafts(placements: Mapping[str, Placement], r: Reading) -> None:
    """Report wheels that sit on one and the same shaft."""
    taken: dict[tuple[str, str], str] = {}
    for name, p in placements.items():
        if p.shaft is None:
            continue
        key = (p.on, p.shaft)
        first = taken.setdefault(key, name)
        if first == name:
            continue
        other = next((n for n, q in placements.items() if q.mirror_of == p.on), None)
        if other is None and p.mirror_of is not None:
            other = placements[p.on].mirror_of
        hint = f"write `on: {other}`" if other else "give it a shaft of its own"
        if p.mirror_of is not None and "on" in p.marks:
            hint += "; a mirror image takes over `on` as it is"
        r.fault("bad-value", f"the shaft of `{p.on}` carries `{first}` already", p.mark, hint=hint,
                also=[placements[first].mark])


def near_text(name: str, known: Mapping[str, Any]) -> str:
    """``; did you mean ...?`` or nothing."""
    near = nearest(name, known)
    return f"; did you mean `{near}`?" if near else ""


__all__ = ["PlacementBuilder", "Scalar", "shared_shafts", "shown"]
