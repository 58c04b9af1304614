"""Placements from what was read of them: parts and supports found, keys that mean nothing in a place refused."""
from __future__ import annotations

from collections.abc import Iterator, Mapping

from chassis_describe.layout.build.adjustments import amount
from chassis_describe.layout.build.described import Descriptions
from chassis_describe.layout.build.joints import joint_settings
from chassis_describe.layout.build.materials import MATERIALS, material
from chassis_describe.layout.build.mirror import Mirrored, Mirrors, Opposite, PlacementKeys
from chassis_describe.layout.build.supports import Support, Supports
from chassis_describe.layout.catalogue import Shelves
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.language.table_layout import PLACEMENT
from chassis_describe.layout.model import Adjustment, Calibration, Deck, Lattice, Part, Placement
from chassis_describe.tolerances import SAME_HOLE
from chassis_describe.words import amount_words
from chassis_describe.yaml_text.nodes import Node, mark_of

#: Keys that say where a part sits; on a shaft there is nothing left to say.
_POSITION = frozenset(("face", "at", "screws", "turn", "points", "lift", "spacer", "offset", "fixing"))
_DECKS_ONLY = {"face": ("`face` is for decks; a seat has one side", ""),
               "points": ("`points` is for decks", "give `turn` in degrees")}


class PlacementBuilder:
    """Turns the ``placements`` of a file into placements, in whatever order they stand."""

    def __init__(self, r: Reading, taken: Mapping[str, Taken | None], decks: Mapping[str, Deck | None],
                 shelves: Shelves, added: Mapping[str, float], descriptions: Descriptions) -> None:
        self.r, self.taken, self.decks, self.shelves, self.added = r, taken, decks, shelves, added
        self.descriptions = descriptions
        self.mirrors = Mirrors(taken, r)
        self.supports = Supports(r, decks, taken, self.part_of)
        self.parts: dict[str, Part | None] = {}
        self.carried_by: dict[str, Support | None] = {}
        self.writers: dict[str, tuple[str, int]] = {}

    def placement(self, name: str) -> Placement | None:
        """One placement, or None after a report."""
        own, w, r = self.taken[name], self.mirrors.of(name), self.r
        if own is None or w is None:
            return None
        before = len(r.findings)
        for key in ("part", "on"):
            if key not in w.keys:
                hint = ("neither this placement nor the one that it mirrors has it" if own.has("mirror_of") else
                        "`part` names what it is, `on` the deck, seat or shaft that carries it")
                r.fault("missing-key", f"a placement needs `{key}`", own.node, own.path, hint=hint)
        part = self.part_of(name)
        support = self._support(name, w)
        if part is None or support is None or len(w.values) < len(w.keys):
            return None
        self._meaningless(w, part, support)
        spacer = self._spacer(w)
        opposite = self._opposite(name, support)
        screws = self._screws(w, part, opposite) if "screws" in w.keys else None
        settings = self._settings(w, part) if "set" in w.keys else {}
        frames = self._by_sensor(w, part, "frame", "frames")
        topics = self._by_sensor(w, part, "topic", "topics")
        calibrated = self._calibrated(w, part) if "calibrated" in w.keys else {}
        if len(r.findings) > before:
            return None
        get = w.get
        kind = support.kind
        return Placement(
            name=name, part=part, support=kind, on=support.on,  # type: ignore[arg-type]
            seat=support.place if kind == "seat" else None, shaft=support.place if kind == "shaft" else None,
            face=get("face"), at=None if screws is not None or kind == "shaft" else opposite.at(get("at")),
            screws=screws, screws_mark=w.mark("screws") if screws is not None else None, turn=get("turn"),
            points=get("points"), lift=get("lift"), spacer=spacer[0], spacer_density=spacer[1],
            offset=get("offset"), settings=settings, fixing=get("fixing"), frames=frames, topics=topics,
            calibrated=calibrated, mass=get("mass"), note=get("note", ""), mirror_of=own.get("mirror_of"),
            mark=own.mark(), marks=w.marks())

    def _support(self, name: str, w: PlacementKeys) -> Support | None:
        """What carries a placement; looked up, and reported, once."""
        if name not in self.carried_by:
            self.carried_by[name] = self.supports.of(name, w, self.part_of(name))
        return self.carried_by[name]

    def _lattice(self, support: Support | None) -> Lattice | None:
        """The lattice of a support; None for none, or where that is not known."""
        if support is None or support.kind == "shaft":
            return None
        if support.kind == "deck":
            deck = self.decks[support.on]
            return deck.lattice if deck is not None else None
        part = self.part_of(support.on)
        return part.seats[support.place].lattice if part is not None and support.place is not None else None

    def _opposite(self, name: str, support: Support) -> Opposite:
        """From the place that a placement takes over to its own: what is mirrored are the millimetres of deck or seat."""
        writer, times = self._writer(name)
        written = self.mirrors.of(writer)
        if not times or written is None:
            return Opposite(None, None, False)
        there, here = self._lattice(self._support(writer, written)), self._lattice(support)
        return Opposite(there, here, times % 2 == 1) if there is not None and here is not None else Opposite(None, None, False)

    def _writer(self, name: str) -> tuple[str, int]:
        """Who wrote the place that a placement takes over, and over how many mirrors; each step of a chain is gone once."""
        way, at = [], name
        while at not in self.writers:
            own, w = self.taken[at], self.mirrors.of(at)
            writer = w.owner.get("at", w.owner.get("screws")) if isinstance(w, Mirrored) else own
            if own is None or own is writer or own.get("mirror_of") not in self.taken:
                self.writers[at] = (at, 0)
            else:
                way.append(at)
                at = own.get("mirror_of")
        found, times = self.writers[at]
        self.writers.update((passed, (found, times + n)) for n, passed in enumerate(reversed(way), 1))
        return self.writers[name]

    def part_of(self, name: str) -> Part | None:
        """The part of a placement; None when it is unknown or faulty, which is reported once."""
        if name in self.parts:
            return self.parts[name]
        written, own = self.mirrors.of(name), self.taken[name]
        wanted = written.get("part") if written is not None else None
        part = None
        if written is not None and wanted is not None:
            if self.shelves.find(wanted) is not None:
                part = self.descriptions.of(self.shelves.part(wanted))
            elif own is not None and own.has("part"):  # in a mirror image it was reported already
                self.r.unknown("unknown-name", "a part in `parts`, the part files or the built-in catalogue", wanted,
                               self._part_names(), written.at("part"), written.within("part"))
        self.parts[name] = part
        return part

    def _part_names(self) -> Iterator[str]:
        yield from self.shelves.names()

    # ------------------------------------------------------------------------------------------------ keys that fit
    def _has_lattice(self, support: Support) -> bool:
        if support.kind == "deck":
            deck = self.decks[support.on]
            return deck is None or deck.lattice is not None  # a faulty deck has been reported
        part = self.part_of(support.on)
        return part is not None and support.place is not None and part.seats[support.place].lattice is not None

    def _refuse(self, w: PlacementKeys, key: str, why: str, hint: str = "", part: Part | None = None) -> None:
        self.r.fault("meaningless-key", why, w.keys[key], w.within(key), hint=hint or f"leave `{key}` out",
                     also=[part.mark if part is not None else None])

    def _meaningless(self, w: PlacementKeys, part: Part, support: Support) -> None:
        if support.kind == "shaft":
            for key in w.keys:
                if key in _POSITION:
                    self._refuse(w, key, f"`{key}` means nothing on a shaft: the wheel's own `offset` says where it sits")
            return
        if support.kind == "seat":
            for key, (why, hint) in _DECKS_ONLY.items():
                if key in w.keys:
                    self._refuse(w, key, why, hint)
        if ("at" in w.keys or "screws" in w.keys) and not self._has_lattice(support):
            place = f"deck `{support.on}`" if support.kind == "deck" else "this seat"
            if "screws" in w.keys:
                self._refuse(w, "screws", f"{place} has no lattice", "place the part with `offset`, in mm")
            elif w.get("at") != PLACEMENT.defaults["at"]:
                self.r.fault("bad-value", f"{place} has no lattice, so `at` can only be [0, 0]", w.at("at"),
                             w.within("at"), hint="leave `at` out, and give `offset` in mm where needed")
        elif "screws" in w.keys and not part.bolts:
            self._refuse(w, "screws", f"the part `{part.name}` has no bolts", "place it with `at` and `turn`", part)
        if "spacer" in w.keys and "lift" not in w.keys:
            self._refuse(w, "spacer", "there is no spacer without `lift`", "say how high it is with `lift`, or leave "
                         "it out")
        if "mass" in w.keys and part.described is not None:
            self._refuse(w, "mass", f"the description of `{part.name}` says what it weighs", part=part)
        if not part.bolts and w.get("fixing") == "bolts":
            self.r.fault("bad-value", f"the part `{part.name}` has no bolts", w.at("fixing"), w.within("fixing"),
                         hint="write `adhesive` or `strap`, or add `bolts` to the part", also=[part.mark])

    def _spacer(self, w: PlacementKeys) -> tuple[str, float]:
        name: str = w.get("spacer")
        found = material(name, self.added)
        if found is None:
            self.r.unknown("unknown-name", "a known material", name, [*self.added, *MATERIALS], w.at("spacer"),
                           w.within("spacer"))
        return found or (name, 0.0)  # reported

    def _screws(self, w: PlacementKeys, part: Part, opposite: Opposite) -> tuple[tuple[int, int], ...]:
        path = w.within("screws")
        seen: dict[tuple[int, int], Node] = {}
        for written, node in w.get("screws"):
            i, j = opposite.at(written)
            hole = (round(i), round(j))
            if max(abs(i - hole[0]), abs(j - hole[1])) > SAME_HOLE:
                self.r.fault("bad-value", f"no hole lies opposite: the mirror image is at [{i:.6g}, {j:.6g}] of the lattice",
                             node, path, hint="give the mirror image its own `screws` or `at`")
                continue
            if hole in seen:
                self.r.fault("bad-value", f"hole {list(hole)} stands twice", node, path,
                             hint="each bolt uses its own hole", also=[mark_of(seen[hole], path)])
            seen[hole] = node
        if part.bolts and len(w.get("screws")) > len(part.bolts):
            self.r.fault("bad-value", f"{len(seen)} holes, and the part `{part.name}` has {len(part.bolts)} "
                         f"bolt{'s' if len(part.bolts) > 1 else ''}", w.at("screws"), path,
                         hint="name the holes that its bolts use", also=[part.mark])
        return tuple(seen)

    def _settings(self, w: PlacementKeys, part: Part) -> dict[str, float]:
        if part.description is not None:
            return joint_settings(w, part.description, part, self.r)
        known: dict[str, Adjustment] = {a.name: a for a in part.adjustments}
        if not known:
            self._refuse(w, "set", f"the part `{part.name}` has nothing to set", part=part)
            return {}
        out: dict[str, float] = {}
        for name, kept in w.get("set").items():
            key, given = _entry(w, "set", name)
            path = (*w.within("set"), name)
            if name not in known:
                self.r.unknown("unknown-name", f"an adjustment of `{part.name}`", name, known, key, path,
                               also=[part.mark])
                continue
            adjustment = known[name]
            if adjustment.follows is not None:
                leader = adjustment.follows.of
                self.r.fault("meaningless-key", f"`{name}` follows `{leader}`", key, path, hint=f"set `{leader}` instead",
                             also=[adjustment.mark])
            elif kept is not None and (value := amount(adjustment.kind).read(kept[0], self.r, kept[1])) is not None:
                self._in_range(value, adjustment, given, path)
                out[name] = value
        return out

    def _in_range(self, value: float, adjustment: Adjustment, given: Node, path: tuple[str, ...]) -> None:
        if adjustment.range is None:
            return
        (low, high), kind = adjustment.range, adjustment.kind
        if not low - 1e-9 <= value <= high + 1e-9:
            self.r.fault("bad-value", f"{amount_words(value, kind)} is out of the range of `{adjustment.name}`", given, path,
                         hint=f"it goes from {amount_words(low, kind)} to {amount_words(high, kind)}", also=[adjustment.mark])

    def _by_sensor(self, w: PlacementKeys, part: Part, one: str, many: str) -> dict[str, str]:
        key = one if one in w.keys else many if many in w.keys else None
        if key is None:
            return {}
        names = [s.name for s in part.sensors]
        if not names:
            self._refuse(w, key, f"the part `{part.name}` has no sensor to give a {one} to", part=part)
            return {}
        if key == one:
            if len(names) == 1:
                return {names[0]: w.get(one)}
            example = ", ".join(f"{n}: …" for n in names)
            self.r.fault("bad-value", f"the part `{part.name}` has {len(names)} sensors; say whose {one} it is",
                         w.keys[one], w.within(one), hint=f"write `{many}: {{{example}}}`", also=[part.mark])
            return {}
        for name in w.get(many):
            if name not in names:
                self.r.unknown("unknown-name", f"a sensor of `{part.name}`", name, names, _entry(w, many, name)[0],
                               (*w.within(many), name), also=[part.mark])
        return {n: v for n, v in w.get(many).items() if v is not None and n in names}


    def _calibrated(self, w: PlacementKeys, part: Part) -> dict[str, Calibration]:
        names = [s.name for s in part.sensors]
        out: dict[str, Calibration] = {}
        for name, taken in (w.get("calibrated") or {}).items():
            key = w.keys["calibrated"] if not name else _entry(w, "calibrated", name)[0]
            path = w.within("calibrated") if not name else (*w.within("calibrated"), name)
            if not names:
                self._refuse(w, "calibrated", f"the part `{part.name}` has no sensor", part=part)
            elif not name and len(names) > 1:
                self.r.fault("bad-value", f"the part `{part.name}` has {len(names)} sensors; say which was calibrated", key, path,
                             hint="write `calibrated: {" + ", ".join(f"{n}: …" for n in names) + "}`", also=[part.mark])
            elif name and name not in names:
                self.r.unknown("unknown-name", f"a sensor of `{part.name}`", name, names, key, path, also=[part.mark])
            elif next(s for s in part.sensors if s.name == (name or names[0])).link is not None:
                self.r.fault("meaningless-key", "its frame is the described model's own, and stays", key, path,
                             hint="correct it in that description", also=[part.mark])
            elif taken is not None and taken.get("nominal") is not None:
                nominal: Taken = taken.get("nominal")
                out[name or names[0]] = Calibration(
                    nominal_xyz=nominal.get("xyz"), nominal_rpy=nominal.get("rpy"), xyz=taken.get("xyz"), rpy=taken.get("rpy"),
                    date=taken.get("date", ""), note=taken.get("note", ""), mark=taken.mark())
        return out


def _entry(w: PlacementKeys, key: str, name: str) -> tuple[Node, Node]:
    """Key and value of an entry of the mapping under a key."""
    found: tuple[Node, Node] = w.at(key).items[name]  # type: ignore[union-attr, call-overload]
    return found


def shared_shafts(placements: Mapping[str, Placement], r: Reading) -> None:
    """Report wheels that sit on one and the same shaft."""
    taken: dict[tuple[str, str], str] = {}
    for name, p in placements.items():
        if p.shaft is None:
            continue
        first = taken.setdefault((p.on, p.shaft), name)
        if first == name:
            continue
        other = next((n for n, q in placements.items() if q.mirror_of == p.on), None)
        if other is None and p.on in placements:
            other = placements[p.on].mirror_of
        hint = f"write `on: {other}`" if other else "give it a shaft of its own"
        if p.mirror_of is not None:
            hint += "; a mirror image takes over `on` as it is"
        r.fault("bad-value", f"the shaft of `{p.on}` carries `{first}` already", p.mark, hint=hint,
                also=[placements[first].mark])
