"""All solids and plates of a robot in one frame (base_link), ready for questions about overlap and distance."""
from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, Body, Link
from chassis_describe.assembly.seats import seat_moves
from chassis_describe.assembly.weigh import body_pose
from chassis_describe.facts.plate_item import PlateItem
from chassis_describe.space.overlap.pairs import Crowd, deep_pairs, near_pairs
from chassis_describe.space.overlap.penetration import gap, meets, penetration
from chassis_describe.space.pose import IDENTITY, Pose, Vec3, smallest_between
from chassis_describe.space.solids import Box, Cylinder, Hull
from chassis_describe.tolerances import CURVED, IN_PLATE, MOST_DEPTHS, PLAIN, SAME_LENGTH

if TYPE_CHECKING:
    from chassis_describe.space.overlap.plates import Prism

#: Who a body belongs to: a placement, a deck (its plate), or the standoffs on a deck.
Owner = tuple[str, str]  # ("part" | "plate" | "standoff", name)


class Clash(NamedTuple):
    """Two things in one place: ``b`` moved by ``depth`` along ``direction`` (base_link) is clear of ``a``."""

    a: Owner
    b: Owner
    depth: float
    direction: Vec3
    body_a: Body | None
    body_b: Body | None


class Bodies:
    """Bodies with their owners, as arrays; plates; and which placements ride on which."""

    def __init__(self, assembly: Assembly) -> None:
        self.limit = assembly.layout.limits["overlap_mm"] * 1e-3
        self.bodies: list[Body] = []
        self.poses: list[Pose] = []
        self.owners: list[Owner] = []
        self.plates: list[PlateItem] = []
        for link in assembly.links:
            self._take(link, assembly.poses[link.name])
        numbers: dict[Owner, int] = {}
        self.group = np.array([numbers.setdefault(o, len(numbers)) for o in self.owners], dtype=np.intp)
        self.numbers = numbers
        self.crowd = Crowd([b.solid for b in self.bodies], self.poses)
        self.riders: dict[str, list[str]] = {}
        for name, placed in assembly.parts.items():
            if placed.placement.support != "deck":
                self.riders.setdefault(placed.placement.on, []).append(name)
        self.wheel_gap = assembly.layout.limits["wheel_gap_mm"] * 1e-3
        self.wheels = {w.placement: (Cylinder(w.radius, w.width), Pose(smallest_between((0.0, 0.0, 1.0), w.axis), w.centre),
                                     w.motor_placement) for w in assembly.wheels}
        self._spaces(assembly)
        #: Pairs of bodies that `clashes` left out, once it has run, and whether there are no more than these.
        self.not_judged = 0
        self.all_counted = True
        #: A wheel and the motor that carries it may share space: the hub is on the shaft.
        self.exempt = {frozenset((w.placement, w.motor_placement)) for w in assembly.wheels}

    def _take(self, link: Link, pose: Pose) -> None:
        for body in link.bodies:
            self.bodies.append(body)
            self.poses.append(pose @ body.pose)
            self.owners.append(("standoff" if body.role == "standoff" else "part", body.owner))
        if link.plate is not None:
            self.plates.append(PlateItem(link.owner, link.plate, pose))

    def _spaces(self, assembly: Assembly) -> None:
        """Space to keep clear: whose it is, the solid as a body, and its pose in base_link."""
        self.space_owners: list[str] = []
        self.spaces: list[Body] = []
        self.space_poses: list[Pose] = []
        for name, placed in assembly.parts.items():
            if not placed.part.keep_clear:
                continue
            moves = seat_moves(placed.part, placed.placement.settings) if placed.part.seats else {}
            for body in placed.part.keep_clear:
                solid, pose = body_pose(body, moves)
                self.space_owners.append(name)
                self.spaces.append(Body(name, "part", solid, IDENTITY, 0.0, None, body.mark))
                self.space_poses.append(placed.pose @ pose)
        self.space_crowd = Crowd([s.solid for s in self.spaces], self.space_poses)

    def carried_by(self, name: str) -> frozenset[str]:
        """A placement and everything that stands on it, at any remove."""
        found, waiting = {name}, [name]
        while waiting:
            for rider in self.riders.get(waiting.pop(), ()):
                if rider not in found:
                    found.add(rider)
                    waiting.append(rider)
        return frozenset(found)

    def allowed(self, a: Owner, b: Owner) -> bool:
        """Pairs that may share space: a wheel and its motor, a standoff and its own plate."""
        if a[0] == b[0] == "part":
            return frozenset((a[1], b[1])) in self.exempt
        return a[1] == b[1] and {a[0], b[0]} == {"standoff", "plate"}

    # ---------------------------------------------------------------------------------------------------------- clashes
    def clashes(self) -> Iterator[Clash]:
        """Every two bodies, and body and plate, and two plates, deeper in one another than the limit."""
        self.not_judged, self.all_counted = 0, True
        yield from self._body_clashes()
        work = 0
        for item in self.plates:
            inside = [k for k in self.near_plate(item, self.crowd, -self.limit)
                      if not self.allowed(("plate", item.name), self.owners[k])]
            for n, k in enumerate(inside):
                work += IN_PLATE
                if work > MOST_DEPTHS:
                    self.not_judged += len(inside) - n
                    break
                depth, d = self.in_plate(item, self.bodies[k], self.poses[k])
                if depth > self.limit:
                    yield Clash(("plate", item.name), self.owners[k], depth, d, None, self.bodies[k])
        near = [(other, item) for n, item in enumerate(self.plates) for other in self.plates[:n] if other.near(item)]
        for n, (other, item) in enumerate(near):
            from chassis_describe.space.overlap.plates import plates_penetration

            work += IN_PLATE
            if work > MOST_DEPTHS:
                self.not_judged += len(near) - n
                break
            depth, d = plates_penetration(other.plain, other.pose, item.plain, item.pose)
            if depth > self.limit:
                depth, d = self._drilled_plates(other, item, depth, d)
            if depth > self.limit:
                yield Clash(("plate", other.name), ("plate", item.name), depth, d, None, None)

    def _body_clashes(self) -> Iterator[Clash]:
        work = 0
        for i, j in near_pairs(self.crowd, self.group):
            if work > MOST_DEPTHS:
                self.all_counted = False
                return
            pairs = list(zip(*(k.tolist() for k in deep_pairs(self.crowd, i, j, self.limit))))
            for n, (x, y) in enumerate(pairs):
                if self.allowed(self.owners[x], self.owners[y]):
                    continue
                work += work_of(self.bodies[x], self.bodies[y])
                if work > MOST_DEPTHS:
                    self.not_judged += len(pairs) - n
                    break
                depth, d = penetration(self.bodies[x].solid, self.poses[x], self.bodies[y].solid, self.poses[y])
                if depth > self.limit:
                    yield Clash(self.owners[x], self.owners[y], depth, d, self.bodies[x], self.bodies[y])

    def _drilled_plates(self, a: PlateItem, b: PlateItem, depth: float, d: Vec3) -> tuple[float, Vec3]:
        """Again with slots, where a tab may stand in one."""
        from chassis_describe.space.overlap.plates import plates_penetration

        slotted, other = a.slotted(), b.slotted()
        if slotted is None and other is None:
            return depth, d
        return plates_penetration(slotted or a.plain, a.pose, other or b.plain, b.pose)

    def near_plate(self, item: PlateItem, crowd: Crowd, margin: float) -> list[int]:
        """Bodies that reach within ``margin`` of the plate's faces and bounds (negative: that deep into them)."""
        if not len(crowd.centres):
            return []
        r = np.array(item.pose.r).reshape(3, 3)
        local = (crowd.centres - np.array(item.pose.t)) @ r
        x0, y0, x1, y1 = item.bounds
        low, high = (x0, y0, -item.plate.thickness), (x1, y1, 0.0)
        keep = np.ones(len(local), dtype=bool)
        for axis in (2, 0, 1):
            wide = crowd.along(r[:, axis].tolist())
            keep &= (local[:, axis] + wide > low[axis] - margin) & (local[:, axis] - wide < high[axis] + margin)
        return [int(k) for k in np.flatnonzero(keep)]

    def in_plate(self, item: PlateItem, body: Body, pose: Pose) -> tuple[float, Vec3]:
        """Depth of a body in a plate, its holes counted where the body goes into the material without them."""
        from chassis_describe.space.overlap.plates import plate_meets, plate_penetration

        depth, d = plate_penetration(item.plain, item.pose, body.solid, pose)
        if depth > self.limit:
            drilled = self._drilled_about(item, body, pose)
            if drilled is not None and not plate_meets(drilled, item.pose, body.solid, pose, self.limit):
                return 0.0, d
        return depth, d

    def meets_plate(self, item: PlateItem, body: Body, pose: Pose) -> bool:
        """Whether a body is in a plate by more than the limit, without the depth."""
        from chassis_describe.space.overlap.plates import plate_meets

        if not plate_meets(item.plain, item.pose, body.solid, pose, self.limit):
            return False
        drilled = self._drilled_about(item, body, pose)
        return drilled is None or plate_meets(drilled, item.pose, body.solid, pose, self.limit)

    def _drilled_about(self, item: PlateItem, body: Body, pose: Pose) -> Prism | None:
        if not (item.plate.holes or item.plate.slots):
            return None
        from chassis_describe.space.overlap.plates import faceted

        shadow = faceted(body.solid, item.pose.inverse() @ pose).slice(-item.plate.thickness, 0.0)
        return item.drilled_for(shadow.buffer(-self.limit))

    # ------------------------------------------------------------------------------------------------------------- room
    def has_room(self, moving: frozenset[str], shift: Pose) -> bool:
        """Whether those placements, moved in base_link, would be clear of everything else: no overlap, nothing in space
        to be kept clear (theirs or another's), and room around wheels."""
        return next(self.obstacles(moving, shift), None) is None

    def obstacles(self, moving: frozenset[str], shift: Pose) -> Iterator[Owner]:
        """Who is in the way of those placements, moved in base_link; one that is may come more than once."""
        yield from self.in_bodies(moving, shift)
        yield from self._in_spaces(moving, shift)
        yield from self._near_wheels(moving, shift)

    def in_bodies(self, moving: frozenset[str], shift: Pose) -> Iterator[Owner]:
        """Whose bodies or plates those placements would be in, moved in base_link, by more than the limit."""
        rows = [k for name in sorted(moving) for k in self._rows(name)]
        poses = [shift @ self.poses[k] for k in rows]
        crowd = Crowd([self.bodies[k].solid for k in rows], poses)
        others = self._others(moving)
        for n, k in enumerate(rows):
            for other in self.meeting(crowd, n, others):
                if self.allowed(self.owners[k], self.owners[other]):
                    continue
                if meets(self.bodies[k].solid, poses[n], self.bodies[other].solid,
                               self.poses[other], self.limit):
                    yield self.owners[other]
        for item in self.plates:
            for n in self.near_plate(item, crowd, -self.limit):
                if self.meets_plate(item, self.bodies[rows[n]], poses[n]):
                    yield ("plate", item.name)

    def in_one_another(self, some: frozenset[str], shift: Pose, others: frozenset[str], shifted: Pose) -> bool:
        """Whether placements would be in others, both moved in base_link."""
        mine, theirs = ([k for name in sorted(names) for k in self._rows(name)] for names in (some, others))
        return any(meets(self.bodies[a].solid, shift @ self.poses[a], self.bodies[b].solid, shifted @ self.poses[b], self.limit)
                   for a in mine for b in theirs)

    def _others(self, moving: frozenset[str]) -> Any:
        others = np.ones(len(self.owners), dtype=bool)
        for name in moving:
            number = self.numbers.get(("part", name))
            if number is not None:
                others &= self.group != number
        return others

    def _in_spaces(self, moving: frozenset[str], shift: Pose) -> Iterator[Owner]:
        if not self.spaces:
            return
        own = [k for k, name in enumerate(self.space_owners) if name in moving]
        poses = [shift @ self.space_poses[k] for k in own]
        crowd = Crowd([self.spaces[k].solid for k in own], poses)
        for n, k in enumerate(own):
            for other in self.meeting(crowd, n, self._others(moving)):
                if meets(self.spaces[k].solid, poses[n], self.bodies[other].solid,
                               self.poses[other], self.limit):
                    yield self.owners[other]
        for item in self.plates:
            for n in self.near_plate(item, crowd, -self.limit):
                if self.meets_plate(item, self.spaces[own[n]], poses[n]):
                    yield ("plate", item.name)
        for k in (k for name in sorted(moving) for k in self._rows(name)):
            pose = shift @ self.poses[k]
            body = Crowd([self.bodies[k].solid], [pose])
            apart = np.abs(self.space_crowd.centres - body.centres[0]) - self.space_crowd.extents - body.extents[0]
            for space in np.flatnonzero((apart < -self.limit).all(axis=1)).tolist():
                if self.space_owners[space] not in moving and meets(
                        self.spaces[space].solid, self.space_poses[space], self.bodies[k].solid, pose, self.limit):
                    yield ("part", self.space_owners[space])

    def _near_wheels(self, moving: frozenset[str], shift: Pose) -> Iterator[Owner]:
        for name, (solid, pose, motor) in self.wheels.items():
            if name in moving:
                from chassis_describe.space.overlap.plates import plate_gap

                pose = shift @ pose
                near = self.meeting(Crowd([solid], [pose]), 0, self._others(moving), self.wheel_gap)
                rest = [(self.bodies[k], self.poses[k], self.owners[k]) for k in near if self.owners[k] != ("part", motor)]
                for item in self.plates:
                    if plate_gap(item.plain, item.pose, solid, pose, self.wheel_gap) < self.wheel_gap - SAME_LENGTH:
                        yield ("plate", item.name)
            else:
                rest = [(self.bodies[k], shift @ self.poses[k], ("part", name)) for other in sorted(moving)
                        for k in self._rows(other) if other != motor]
            for body, place, owner in rest:
                if math.dist(place.t, pose.t) < self.wheel_gap + _radius(body) + math.hypot(solid.radius, solid.length / 2) \
                        and gap(solid, pose, body.solid, place) < self.wheel_gap - SAME_LENGTH:
                    yield owner

    def meeting(self, crowd: Crowd, n: int, among: Any, margin: float | None = None) -> list[int]:
        """Bodies whose boxes meet that of solid ``n`` of another crowd by more than the limit (or within a margin)."""
        apart = np.abs(self.crowd.centres - crowd.centres[n]) - self.crowd.extents - crowd.extents[n]
        return [int(k) for k in np.flatnonzero((apart < (-self.limit if margin is None else margin)).all(axis=1) & among)]

    def _rows(self, name: str) -> Sequence[int]:
        number = self.numbers.get(("part", name))
        return [] if number is None else [int(k) for k in np.flatnonzero(self.group == number)]


def work_of(*bodies: Body) -> int:
    """What the depth of a pair counts against ``MOST_DEPTHS``: that of plain boxes takes a moment."""
    return PLAIN if all(isinstance(b.solid, Box) and not isinstance(b.solid, Hull) for b in bodies) else CURVED


def _radius(body: Body) -> float:
    """Of a ball about the body's centre that holds it."""
    solid: Any = body.solid
    if hasattr(solid, "size"):
        return math.hypot(*solid.size) / 2
    return math.hypot(solid.radius, getattr(solid, "length", 0.0) / 2)


@kept
def bodies_of(assembly: Assembly) -> Bodies:
    """The bodies of an assembly."""
    return Bodies(assembly)
