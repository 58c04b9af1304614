"""The robot on its ground: what rolls, where it touches, what each contact carries. base_footprint, metres."""
from __future__ import annotations

from dataclasses import dataclass

from chassis_describe.assembly.model import Assembly
from chassis_describe.space.ground.support import Loads, TipEdge, loads, tip_edges
from chassis_describe.space.plane.hull import Vec2, convex_hull, depth
from chassis_describe.space.pose import Vec3


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """``points``: the lowest point of every roller; ``touching``: those on the ground, whose ``feet`` are theirs.

    ``com`` is None for a robot without mass: then there are no loads or tips either.
    """

    names: tuple[str, ...]
    points: tuple[Vec3, ...]
    gaps: tuple[float, ...]
    touching: tuple[str, ...]
    feet: tuple[Vec2, ...]
    com: Vec3 | None
    loads: Loads
    tips: tuple[TipEdge, ...]

    @property
    def shares(self) -> dict[str, float]:
        """Share of the weight by contact; empty where there is none to tell."""
        found = dict(zip(self.touching, self.loads.shares or ()))
        return {n: found.get(n, 0.0) for n in self.names} if found else {}

    @property
    def margin(self) -> float | None:
        """Depth of the centre of mass in the support polygon (m), negative outside; None without mass."""
        return depth(convex_hull(self.feet), self.com[:2]) if self.com is not None else None


def standing(assembly: Assembly) -> Standing | None:
    """How the robot stands; None when nothing rolls."""
    rest = assembly.rest
    if rest is None:
        return None
    ground = rest.base_in_ground
    points = {c.name: (*ground.point(c.point)[:2], c.gap) for c in rest.contacts}
    feet = tuple((points[n][0], points[n][1]) for n in rest.touching)
    com = ground.point(assembly.inertial.com) if assembly.inertial is not None else None
    carried, tips = Loads(None, ""), tuple[TipEdge, ...]()
    if com is not None:
        carried = loads(feet, com[:2])
        tips = tip_edges(feet, com[:2], com[2])
    return Standing(names=tuple(points), points=tuple(points.values()), gaps=tuple(c.gap for c in rest.contacts),
                    touching=rest.touching, feet=feet, com=com, loads=carried, tips=tips)
