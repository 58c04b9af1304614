"""The robot on its ground: what rolls, where it touches, what each contact carries. base_footprint, metres."""
from __future__ import annotations

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.swing import axis_on_ground, swings_of
from chassis_describe.space.ground.support import Loads, TipEdge, loads, tip_edges
from chassis_describe.space.plane.hull import Vec2, convex_hull, depth
from chassis_describe.space.pose import Vec3
from chassis_describe.tolerances import REACHED
from chassis_describe.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """``points``: the lowest point of every roller; ``touching``: those on the ground at rest.

    ``reached``: those that are on it or so near (``REACHED``) that a floor, tyres and decks bring them down: they span the
    support polygon and carry, ``feet`` are theirs. Of a robot that falls over they are those that it falls from.
    ``tips``: with the swivel casters at its ends swung the worst way. ``com`` is None for a robot without mass: then there are
    no loads or tips either.
    """

    names: tuple[str, ...]
    points: tuple[Vec3, ...]
    gaps: tuple[float, ...]
    touching: tuple[str, ...]
    reached: tuple[str, ...]
    feet: tuple[Vec2, ...]
    com: Vec3 | None
    loads: Loads
    tips: tuple[TipEdge, ...]

    @property
    def shares(self) -> dict[str, float]:
        """Share of the weight of each contact that is reached; empty where there is none to tell."""
        return dict(zip(self.reached, self.loads.shares or ()))

    @property
    def rocks_by(self) -> dict[str, float]:
        """How far each contact that is reached hangs over the ground until the robot rocks onto it (m)."""
        return {n: g for n, g in zip(self.names, self.gaps) if n in self.reached and n not in self.touching}

    @property
    def margin(self) -> float | None:
        """Depth of the centre of mass in the support polygon (m), negative outside; None without mass."""
        return depth(convex_hull(self.feet), self.com[:2]) if self.com is not None else None


@kept
def standing(assembly: Assembly) -> Standing | None:
    """How the robot stands; None when nothing rolls."""
    rest = assembly.rest
    if rest is None:
        return None
    ground = rest.base_in_ground
    points = {c.name: (*ground.point(c.point)[:2], c.gap) for c in rest.contacts}
    reached = tuple(c.name for c in rest.contacts if c.name in rest.touching or (
        c.gap <= REACHED and rest.status in ("stable", "rocks")))
    feet = tuple((points[n][0], points[n][1]) for n in reached)
    com = ground.point(assembly.inertial.com) if assembly.inertial is not None else None
    carried, tips = Loads(None, ""), tuple[TipEdge, ...]()
    if com is not None:
        carried = loads(feet, com[:2], [points[n][2] for n in reached])
        about, trails = list(feet), [0.0] * len(feet)
        for swing in swings_of(assembly):
            if swing.facet.placement in reached:
                k = reached.index(swing.facet.placement)
                about[k], trails[k] = axis_on_ground(swing, ground)[:2], swing.trail
        tips = tip_edges(about, com[:2], com[2], trails)
    return Standing(names=tuple(points), points=tuple(points.values()), gaps=tuple(c.gap for c in rest.contacts),
                    touching=rest.touching, reached=reached, feet=feet, com=com, loads=carried, tips=tips)
