"""Decks from what was read of them: shapes, lattices, how they are stacked. Rules that join two keys stand here."""
from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from chassis_describe.errors import never
from chassis_describe.layout.build.materials import MATERIALS, material
from chassis_describe.layout.build.plates import DrawnDeck, Plates, keys_of_files
from chassis_describe.layout.build.plausible import check_position
from chassis_describe.layout.build.polygon import fault_of_polygon
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.language.table_decks import OWN_LATTICE_RECORD
from chassis_describe.layout.model import (
    Attitude,
    CircleShape,
    Deck,
    DrilledHole,
    FixedTo,
    Lattice,
    OutlineShape,
    PolygonShape,
    RectangleShape,
    Stacked,
    StandoffGroup,
    Vec2,
)
from chassis_describe.source import Mark
from chassis_describe.tolerances import MOST_CROSSINGS, MOST_HOLES, SAME_LENGTH
from chassis_describe.units import LENGTH, show
from chassis_describe.values import replace
from chassis_describe.yaml_text.nodes import Node, mark_of

SMALLEST_DECK, LARGEST_DECK = 0.010, 5.0


def attitude(taken: Taken) -> Attitude:
    """The rotation of ``rpy`` or ``axes``."""
    if taken.has("axes"):
        return Attitude(axes=taken.get("axes"))
    return Attitude(rpy=taken.get("rpy"))


def lattice(taken: Taken | None, base: Lattice | None, mark: Mark, r: Reading) -> Lattice:
    """A lattice, with what is not said taken from ``base`` (or the language's own defaults)."""
    base = base or Lattice(**OWN_LATTICE_RECORD.defaults, mark=mark)
    if taken is None:
        return base
    out = replace(base, **{k: taken.values[k] for k in ("pitch", "hole", "screw", "origin") if k in taken.values},
                  mark=taken.mark())
    check_position(taken, "origin", "hole [0, 0]", r)
    if out.hole >= out.pitch and not (taken.faulty("pitch") or taken.faulty("hole")):
        key = "hole" if taken.has("hole") else "pitch"
        r.fault("bad-value", f"holes of {show(out.hole, LENGTH)} every {show(out.pitch, LENGTH)} leave no plate between "
                "them", taken.at(key) if taken.has(key) else taken.node, taken.within(key),
                hint="the pitch is larger than the hole")
    return out


def shape(taken: Taken, r: Reading) -> OutlineShape | None:
    """A shape, when it can be built."""
    v, mark = taken.values, taken.mark()
    centre: Vec2 = taken.get("centre")
    if taken.has("corner") and not taken.has("rectangle") and (taken.has("circle") or taken.has("polygon")):
        r.fault("meaningless-key", "only a rectangle has a corner radius", taken.keys["corner"], taken.within("corner"),
                hint="leave `corner` out")
    if "rectangle" in v:
        corner = taken.get("corner")
        if corner > min(v["rectangle"]) / 2 + SAME_LENGTH:
            r.fault("bad-value", f"a corner radius of {show(corner, LENGTH)} is more than half the shorter side",
                    taken.at("corner"), taken.within("corner"),
                    hint=f"at most {show(min(v['rectangle']) / 2, LENGTH)}")
            return None
        return RectangleShape(size=v["rectangle"], corner=min(corner, min(v["rectangle"]) / 2), centre=centre, mark=mark)
    if "circle" in v:
        return CircleShape(diameter=v["circle"], centre=centre, mark=mark)
    if "polygon" in v:
        points = [(x + centre[0], y + centre[1]) for (x, y), _ in v["polygon"]]
        places = [node for _, node in v["polygon"]]
        if len(points) > 3 and points[0] == points[-1]:  # closed by hand: the same polygon
            points.pop()
        fault = fault_of_polygon(points)
        if fault is not None:
            message, index = fault
            r.fault("bad-value", message, places[index], taken.within("polygon"),
                    hint="give the corners in the order of a walk around the edge")
            return None
        return PolygonShape(points=tuple(points), mark=mark)
    return None


def _size(outline: OutlineShape) -> Vec2:
    if isinstance(outline, RectangleShape):
        return outline.size
    if isinstance(outline, CircleShape):
        return (outline.diameter, outline.diameter)
    if isinstance(outline, PolygonShape):
        xs, ys = [x for x, _ in outline.points], [y for _, y in outline.points]
        return (max(xs) - min(xs), max(ys) - min(ys))
    raise never(outline)


class DeckBuilder:
    """Turns the ``decks`` of a file into decks; names of other decks are looked up among ``names``."""

    def __init__(self, r: Reading, base_lattice: Lattice, names: Mapping[str, Any], added: Mapping[str, float],
                 plates: Plates) -> None:
        self.r, self.lattice, self.names, self.added, self.plates = r, base_lattice, names, added, plates
        self.holes = self.crossings = 0

    def deck(self, name: str, taken: Taken) -> Deck | None:
        """One deck, or None after a report."""
        r, v = self.r, taken.values
        before = len(r.findings)
        own = self._lattice(taken)
        drawn: DrawnDeck | None = None
        outline: OutlineShape | None = None
        if "outline" in v and v["outline"].has("file"):
            drawn = self.plates.deck(v["outline"], own, self.lattice)
            outline, own = (drawn.outline, drawn.lattice) if drawn is not None else (None, own)
        elif "outline" in v:
            keys_of_files(v["outline"], r)
            outline = shape(v["outline"], r)
        if outline is not None:
            self._plausible(outline, taken)
        cutouts = tuple(s for s in (shape(t, r) for t, _ in v.get("cutouts", ())) if s is not None)
        known = self.material(taken, "material")
        drilled = tuple(d for d in (self._drilled(t) for t, _ in v.get("drilled", ())) if d is not None)
        if drawn is not None:
            cutouts, drilled = (*cutouts, *drawn.cutouts), (*drilled, *drawn.drilled)
        placing = self._placing(name, taken)
        if outline is not None:
            self._bounded(name, taken, outline, cutouts, own, len(drawn.holes) if drawn and drawn.holes is not None else None)
        if outline is None or "thickness" not in v or len(r.findings) > before:
            return None
        return Deck(
            name=name, outline=outline, cutouts=cutouts, thickness=v["thickness"], material=known and known[0],
            density=v.get("density", known and known[1]), mass=v.get("mass"), lattice=own,
            skip=tuple(h for h, _ in v.get("skip", ())),
            skip_marks=tuple(mark_of(n, taken.within("skip")) for _, n in v.get("skip", ())),
            drilled=drilled, holes=drawn.holes if drawn else None, file=drawn.file if drawn else None, placing=placing,
            note=v.get("note", ""), mark=taken.mark(), marks=taken.marks())

    def material(self, taken: Taken, key: str) -> tuple[str, float] | None:
        """Name and density of the material under a key."""
        name = taken.get(key)
        if name is None:
            return None
        found = material(name, self.added)
        if found is None:
            self.r.unknown("unknown-name", "a known material", name, [*self.added, *MATERIALS], taken.at(key),
                           taken.within(key))
        return found

    def _bounded(self, name: str, taken: Taken, outline: OutlineShape, cutouts: tuple[OutlineShape, ...],
                 own: Lattice | None, counted: int | None) -> None:
        """Report more holes, or more cutouts over one another, than any robot has; all decks of the file together."""
        if own is not None:
            wide, long = _size(outline)
            holes = counted if counted is not None else round(wide / own.pitch) * round(long / own.pitch)
            self.holes += holes
            if self.holes > MOST_HOLES:
                key = "lattice" if taken.has("lattice") else "outline"
                self.r.fault("implausible", f"deck {name} would have up to {holes} holes every {show(own.pitch, LENGTH)}; all "
                             f"decks together have {MOST_HOLES} at most", taken.at(key), taken.within(key),
                             hint="check the pitch and the size; `lattice: none` is a plate without holes")
                self.holes -= holes
        self.crossings += _crossings(cutouts, MOST_CROSSINGS - self.crossings)
        if self.crossings > MOST_CROSSINGS:
            self.r.fault("bad-value", f"more than {MOST_CROSSINGS} pairs of cutouts run into one another", taken.at("cutouts"),
                         taken.within("cutouts"), hint="draw what is cut out of one piece as one polygon")
            self.crossings = 0

    def _plausible(self, outline: OutlineShape, taken: Taken) -> None:
        size = _size(outline)
        if min(size) >= SMALLEST_DECK and max(size) <= LARGEST_DECK:
            return
        inner: Taken = taken.values["outline"]
        key = next(k for k in ("rectangle", "circle", "polygon", "file") if inner.has(k))
        low = min(size) < SMALLEST_DECK
        value = min(size) if low else max(size)
        if key == "file":
            self.r.fault("implausible", f"a deck of {show(size[0], LENGTH)} by {show(size[1], LENGTH)} is not plausible: 10 mm "
                         "to 5 m", inner.at(key), inner.within(key), hint="is the drawing at 1:1, and does its file name its unit "
                         "($INSUNITS)? Without one its numbers are mm")
            return
        hint = "a bare number is mm: write `0.24 m` for metres, `9 in` for inches" if low else \
            "a bare number is mm: is there a zero too much, or a unit too large?"
        self.r.fault("implausible", f"a deck of {show(value, LENGTH)} is not plausible: 10 mm to 5 m",
                     inner.at(key), inner.within(key), hint=hint)

    def _lattice(self, taken: Taken) -> Lattice | None:
        own = taken.get("lattice")
        if own == "none":
            for key in ("skip",):
                if taken.has(key):
                    self.r.fault("meaningless-key", f"a deck without lattice has no holes to {key}", taken.keys[key],
                                 taken.within(key), hint=f"leave `{key}` out", also=[taken.mark("lattice")])
            return None
        return lattice(own, self.lattice, self.lattice.mark, self.r)

    def _drilled(self, taken: Taken) -> DrilledHole | None:
        v, r = taken.values, self.r
        if taken.has("turn") and taken.has("hole") and not taken.has("slot"):
            r.fault("meaningless-key", "a round hole has no turn", taken.keys["turn"], taken.within("turn"),
                    hint="leave `turn` out, or give a `slot`")
        if "slot" in v and v["slot"][0] < v["slot"][1]:
            r.fault("bad-value", "a slot is at least as long as it is wide", taken.at("slot"), taken.within("slot"),
                    hint="`slot: [length, width]`; its direction is `turn`")
        if "at" not in v:
            return None
        check_position(taken, "at", "a drilled hole", r)
        return DrilledHole(at=v["at"], hole=v.get("hole"), slot=v.get("slot"), turn=taken.get("turn"),
                           mark=taken.mark())

    def _placing(self, name: str, taken: Taken) -> Stacked | FixedTo | None:
        r, v = self.r, taken.values
        relation = next((k for k in ("above", "below", "fixed_to") if taken.has(k)), None)
        meant = {"standoffs": ("above", "below"), "shift": ("above", "below"), "turn": ("above", "below"),
                 "xyz": ("fixed_to",), "rpy": ("fixed_to",), "axes": ("fixed_to",)}
        for key, places in meant.items():
            if taken.has(key) and relation not in places:
                listed = " or ".join(f"`{p}`" for p in places)
                base = "the base deck" if relation is None else f"a deck that is placed by `{relation}`"
                r.fault("meaningless-key", f"`{key}` means nothing on {base}", taken.keys[key], taken.within(key),
                        hint=f"it goes with {listed}: name the other deck there, or leave `{key}` out")
        if relation is None:
            return None
        if relation != "fixed_to" and not taken.has("standoffs"):
            r.fault("missing-key", f"a deck that is placed by `{relation}` needs `standoffs`", taken.keys[relation],
                    taken.within(relation), hint="write `standoffs: [{length: 60, holes: [[-3, -3], [-3, 3], [3, 0]]}]`")
        other = self.other_deck(name, taken, relation)
        if other is None:
            return None
        if relation == "fixed_to":
            check_position(taken, "xyz", "a plate", r)
            return FixedTo(deck=other, xyz=taken.get("xyz"), attitude=attitude(taken),
                           mark=taken.mark(relation))
        groups = tuple(g for g in (self._standoffs(name, other, t) for t, _ in v.get("standoffs", ())) if g is not None)
        self._one_height(groups)
        return Stacked(relation=relation, deck=other, standoffs=groups,  # type: ignore[arg-type]
                       shift=taken.get("shift"), turn=taken.get("turn"), mark=taken.mark(relation))

    def other_deck(self, name: str, taken: Taken, key: str) -> str | None:
        """The deck named under a key, when it exists and is another."""
        other: str | None = taken.get(key)
        if other is None:
            return None
        if other not in self.names:
            self.r.unknown("unknown-name", "a deck", other, [n for n in self.names if n != name], taken.at(key),
                           taken.within(key))
            return None
        if other == name:
            self.r.fault("tree", f"deck `{name}` can't be placed on itself", taken.at(key), taken.within(key),
                         hint="name the deck that carries it")
            return None
        return other

    def _standoffs(self, name: str, other: str, taken: Taken) -> StandoffGroup | None:
        v = taken.values
        on = self.other_deck(name, taken, "on") if taken.has("on") else other
        known = self.material(taken, "material")
        if on is None or known is None or "length" not in v or "holes" not in v:
            return None
        holes: dict[Vec2, Node] = {}
        for hole, node in v["holes"]:
            if hole in holes:
                self.r.fault("bad-value", f"two standoffs in one hole {list(hole)}", node, taken.within("holes"),
                             hint="give each its own hole", also=[mark_of(holes[hole], taken.within("holes"))])
            holes[hole] = node
        return StandoffGroup(
            length=v["length"], holes=tuple(holes), on=on, diameter=taken.get("diameter"), material=known[0],
            density=known[1], mass=v.get("mass"), thread=taken.get("thread"), mark=taken.mark(),
            hole_marks=tuple(mark_of(n, taken.within("holes")) for n in holes.values()))

    def _one_height(self, groups: tuple[StandoffGroup, ...]) -> None:
        first: dict[str, StandoffGroup] = {}
        for group in groups:
            known = first.setdefault(group.on, group)
            if abs(known.length - group.length) > SAME_LENGTH:
                self.r.fault("bad-value", f"standoffs of {show(group.length, LENGTH)} and {show(known.length, LENGTH)} "
                             f"on deck `{group.on}` can't end at one height", group.mark, hint="make them equally long, or "
                             "say with `on` which deck the others stand on", also=[known.mark])


def _crossings(shapes: tuple[OutlineShape, ...], most: int) -> int:
    """How many pairs of shapes have boxes that meet; counted no further than one past ``most``."""
    boxes = sorted((x - w / 2, x + w / 2, y - h / 2, y + h / 2) for s in shapes for (x, y), (w, h) in ((_middle(s), _size(s)),))
    found = 0
    open_boxes: list[tuple[float, float, float, float]] = []
    for box in boxes:
        open_boxes = [b for b in open_boxes if b[1] > box[0]]
        found += sum(1 for b in open_boxes if b[2] < box[3] and box[2] < b[3])
        if found > most:
            return most + 1
        open_boxes.append(box)
    return found


def _middle(one: OutlineShape) -> Vec2:
    """The middle of the box around a shape."""
    if isinstance(one, PolygonShape):
        xs, ys = zip(*one.points)
        return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
    return one.centre
