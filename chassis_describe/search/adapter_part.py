"""An adapter as values: its measures, the part that it is, and the robot with it in place. Metres, radians."""
from __future__ import annotations

from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly
from chassis_describe.assembly.place import assemble
from chassis_describe.layout.bare import bare_placement
from chassis_describe.layout.model import Attitude, Face, Part, PartPlate, Placement, Seat, SeatBolt
from chassis_describe.layout.part_plate import with_plate
from chassis_describe.search.smallest_plate import Hole, Rect, Vec2
from chassis_describe.values import dataclass, replace

#: The one seat of an adapter.
SEAT = "top"


@dataclass(frozen=True, kw_only=True)
class Adapter:
    """A plate between ``placement`` and ``deck``. Deck coordinates: ``rect`` the plate, ``origin`` the part's own, turned by
    ``turn`` about its outward axis, ``wanted`` its holes. The adapter's origin is at hole ``at``, its bolts are in ``holes``;
    ``reliefs``: x, y, diameter of holes that leave the heads of other screws free."""

    name: str
    placement: str
    deck: str
    face: Face
    turn: float
    origin: Vec2
    at: Hole
    rect: Rect
    corner: float
    thickness: float
    gap: float
    material: str | None
    density: float
    holes: tuple[Hole, ...]
    screw: str
    bolt_hole: float
    wanted: tuple[Vec2, ...]
    part_screw: str
    part_hole: float
    sink: float
    overhang: float
    rise: float
    reliefs: tuple[tuple[float, float, float], ...] = ()


def in_adapter(assembly: Assembly, one: Adapter, p: Vec2) -> Vec2:
    """A point of the deck's plane in the adapter's axes: those of the deck, under it with y mirrored; to the nanometre."""
    x, y = lattice_point(assembly.decks[one.deck].deck.lattice, one.at)
    side = -1.0 if one.face == "under" else 1.0
    return (round(p[0] - x, 9) + 0.0, round(side * (p[1] - y), 9) + 0.0)


def adapter_part(assembly: Assembly, one: Adapter) -> Part:
    """What the adapter's part file says."""
    mark = assembly.parts[one.placement].placement.mark
    lattice, r = assembly.decks[one.deck].deck.lattice, one.rect
    own = assembly.parts[one.placement].part
    flat = PartPlate(size=(round(r.x1 - r.x0, 9), round(r.y1 - r.y0, 9)), corner=one.corner,
                     centre=in_adapter(assembly, one, ((r.x0 + r.x1) / 2, (r.y0 + r.y1) / 2)), thickness=one.thickness,
                     material=one.material, density=one.density, mark=mark,
                     holes=tuple((*in_adapter(assembly, one, (x, y)), d) for x, y, d in one.reliefs))
    seat = Seat(name=SEAT, at=(*in_adapter(assembly, one, one.origin), one.thickness), attitude=Attitude(rpy=(0.0, 0.0, one.turn)),
                bolts=tuple(SeatBolt(at=p, hole=one.part_hole, countersink=one.sink, mark=mark) for p in own.bolts), mark=mark)
    part = Part(name=one.name, plate=flat, bolts=tuple(in_adapter(assembly, one, lattice_point(lattice, h)) for h in one.holes),
                bolt_marks=(mark,) * len(one.holes), bolt_hole=one.bolt_hole, screw=one.screw, flange=one.thickness,
                seats={SEAT: seat}, mark=mark)
    return with_plate(part, None)


def with_adapter(assembly: Assembly, one: Adapter) -> Assembly:
    """The robot with the adapter on the deck and the part on the adapter."""
    layout = assembly.layout
    placements: dict[str, Placement] = {}
    for name, placement in layout.placements.items():
        if name == one.placement:
            placements[one.name] = bare_placement(one.name, adapter_part(assembly, one), one.deck, placement.mark, face=one.face,
                                                  at=(float(one.at[0]), float(one.at[1])))
            placement = replace(placement, support="seat", on=one.name, seat=SEAT, face="top", at=(0.0, 0.0), screws=None,
                                screws_mark=None, turn=0.0, points=None, lift=one.gap, offset=(0.0, 0.0, 0.0))
        placements[name] = placement
    return assemble(replace(layout, placements=placements), prefix=assembly.prefix)
