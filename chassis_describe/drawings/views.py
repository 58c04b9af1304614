"""What a plan of a deck shows, as plain values. Millimetres in the deck's own coordinates: x forward, y left, top face."""
from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import islice
from typing import NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, BoltUse, DeckFacet, PlacedPart
from chassis_describe.facts.bolting import bolts_of, holes_of
from chassis_describe.facts.holes import meets
from chassis_describe.facts.outlines import Outline, outlines_of
from chassis_describe.layout.model import Face
from chassis_describe.space.plane.areas import Areas
from chassis_describe.space.plate.contours import Contour, Cut, Edge, contours_of, cut_of
from chassis_describe.space.plate.shapes import Slot, Vec2
from chassis_describe.words import pair, plain

#: Over more smaller parts than this a part's name points to any place of it.
_CROWD = 100


class User(NamedTuple):
    """Who uses a hole, from which face."""

    name: str
    kind: str  # "part" or "standoff"
    face: Face


class PlanHole(NamedTuple):
    """A round hole that the plate has. ``name``: ``2 0`` on the lattice, ``d1`` for the first drilled one."""

    name: str
    at: Vec2
    diameter: float
    users: tuple[User, ...]


class PlanPart(NamedTuple):
    """What a placement covers, seen square to the deck. ``forward``: direction of the part's own x (None: across)."""

    name: str
    face: Face
    outer: tuple[Contour, ...]
    inner: tuple[Contour, ...]
    anchor: Vec2
    origin: Vec2
    forward: Vec2 | None
    detail: str


class Miss(NamedTuple):
    """A bolt or standoff that meets no hole."""

    at: Vec2
    user: str


class DeckView(NamedTuple):
    """One deck in plan. ``rows``, ``columns``: position (mm) of each lattice index that has holes."""

    name: str
    facet: DeckFacet
    cut: Cut
    holes: tuple[PlanHole, ...]
    slot_users: tuple[tuple[User, ...], ...]
    parts: tuple[PlanPart, ...]
    misses: tuple[Miss, ...]
    rows: Mapping[int, float]
    columns: Mapping[int, float]
    bounds: tuple[float, float, float, float]
    used_standoffs: tuple[str, ...]


def mm_contour(contour: Contour) -> Contour:
    """The same in millimetres."""
    return tuple(Edge(mm_point(e.start), mm_point(e.end), mm_point(e.centre) if e.centre else None, e.left) for e in contour)


def mm_point(p: Vec2) -> Vec2:
    """The same in millimetres, to the nanometre."""
    return (round(p[0] * 1e3, 6) + 0.0, round(p[1] * 1e3, 6) + 0.0)


def mm_cut(cut: Cut) -> Cut:
    """The same in millimetres."""
    return Cut(tuple(map(mm_contour, cut.outer)), tuple(map(mm_contour, cut.inner)),
               tuple(Slot(length=s.length * 1e3, width=s.width * 1e3, centre=mm_point(s.centre), turn=s.turn)
                     for s in cut.slots), tuple((x * 1e3, y * 1e3, d * 1e3) for x, y, d in cut.holes))


@kept
def deck_views(assembly: Assembly) -> Mapping[str, DeckView]:
    """Every deck."""
    return {name: _deck(assembly, name) for name in assembly.decks}


def _deck(assembly: Assembly, name: str) -> DeckView:
    facet = assembly.decks[name]
    lattice, deck = facet.deck.lattice, facet.deck
    users: dict[object, list[User]] = {}
    misses: list[Miss] = []
    for use in bolts_of(assembly):
        if use.deck != name:
            continue
        if use.hole is None or not use.hole.exists or not meets(use):
            misses.append(Miss(mm_point(use.at), use.user))
            continue
        users.setdefault(use.hole.hole, []).append(_user(use))
    holes: list[PlanHole] = []
    for number, drilled in enumerate(deck.drilled):
        if drilled.hole is not None:
            holes.append(PlanHole(f"d{number + 1}", mm_point(drilled.at), drilled.hole * 1e3, tuple(users.get(number, ()))))
    lattice_holes = sorted(holes_of(assembly)[name].lattice_holes)
    rows: dict[int, float] = {}
    columns: dict[int, float] = {}
    if lattice is not None:
        for i, j in lattice_holes:
            at = mm_point((lattice.origin[0] + lattice.pitch * i, lattice.origin[1] + lattice.pitch * j))
            rows[i], columns[j] = at
            holes.append(PlanHole(f"{i} {j}", at, lattice.hole * 1e3, tuple(users.get((i, j), ()))))
    x0, y0, x1, y1 = facet.plate.outline.bounds
    standoffs = tuple(dict.fromkeys(u.user for u in bolts_of(assembly) if u.kind == "standoff" and u.deck == name))
    slots = tuple(tuple(users.get(n, ())) for n, d in enumerate(deck.drilled) if d.slot is not None)
    outlines = {n: o for n, o in outlines_of(assembly).items() if o.deck == name}
    shapes = [_part(facet, assembly.parts[n], outline, anchor)
              for (n, outline), anchor in zip(outlines.items(), _anchors(outlines))]
    return DeckView(name, facet, mm_cut(cut_of(facet.plate)), tuple(holes), slots, tuple(shapes),
                    tuple(misses), dict(sorted(rows.items())), dict(sorted(columns.items())),
                    (x0 * 1e3, y0 * 1e3, x1 * 1e3, y1 * 1e3), standoffs)


def _user(use: BoltUse) -> User:
    return User(use.user, use.kind, use.face or "top")


def _anchors(outlines: Mapping[str, Outline]) -> list[Vec2]:
    """For each part a point (m) of it that no smaller one shares, for the line to its name; any point of it where there is none."""
    import numpy as np
    from shapely.ops import unary_union

    every = Areas([o.area for o in outlines.values()])
    sizes = np.array([area.area for area in every.areas])
    out: list[Vec2] = []
    for k, own in enumerate(every.areas):
        smaller = sizes <= sizes[k]
        smaller[k] = False
        others = [every.areas[n] for n in islice(every.meeting(own, smaller), _CROWD + 1)]
        # Over many others there is hardly a place of its own, and hardly a drawing in which it would be seen.
        hidden = len(others) > _CROWD or any(other.covers(own) for other in others)
        free = own.difference(unary_union(others)) if others and not hidden else own
        chosen = free if free.area > 0.02 * own.area else own
        point = max(getattr(chosen, "geoms", [chosen]), key=lambda g: float(g.area)).representative_point()
        out.append((float(point.x), float(point.y)))
    return out


def _part(facet: DeckFacet, placed: PlacedPart, outline: Outline, anchor: Vec2) -> PlanPart:
    outer, inner = contours_of(outline.area, outline.circles)
    part = facet.pose.inverse() @ placed.pose
    x, y, _ = part.x_axis
    length = math.hypot(x, y)
    return PlanPart(placed.name, outline.face, tuple(map(mm_contour, outer)), tuple(map(mm_contour, inner)),
                    mm_point(anchor), mm_point((part.t[0], part.t[1])),
                    (x / length, y / length) if length > 0.2 else None, detail_of(placed))


def detail_of(placed: PlacedPart) -> str:
    """Where a placement is, in the words of the layout."""
    placement = placed.placement
    if placement.support == "shaft":
        return f"on {placement.on}"
    turn = math.degrees(placed.turn) % 360
    way = f", turn {plain(turn)}°" if placement.points is None and turn else ""
    way = f", {placement.points}" if placement.points is not None else way
    at = pair(placed.at) if placed.at is not None else ""
    if placement.support == "seat":
        return f"on {placement.on}" + (f" {at}" if at and placed.at != (0.0, 0.0) else "") + way
    return (at or "no lattice") + way
