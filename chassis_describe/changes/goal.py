"""The frame that was measured, and how it hangs on the placement that is asked about."""
from __future__ import annotations

from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, PlacedPart, SensorFacet
from chassis_describe.assembly.seats import seat_moves
from chassis_describe.changes.measured import Measured
from chassis_describe.errors import UsageError
from chassis_describe.facts.bodies import bodies_of
from chassis_describe.facts.known import known_placement
from chassis_describe.layout.model import Adjustment
from chassis_describe.space.pose import Pose
from chassis_describe.words import listing, nearest, not_known


class Goal(NamedTuple):
    """``frame`` was measured in ``start``; it moves with ``owner``, a placement, and hangs on the placement's part at
    ``in_part`` (as bolted, adjustments in force). ``key``: what of the part carries it, as ``seat`` or ``seat.adjustment``."""

    measured: Measured
    frame: str
    frame_pose: Pose  # as bolted, in base_link
    owner: str
    start: str
    start_pose: Pose
    in_part: Pose
    key: str | None
    now: Pose | None  # how what it hangs on has moved, with the adjustments in force
    adjustments: tuple[Adjustment, ...]  # those set by hand on the way

    def tail(self, moved: Pose | None) -> Pose:
        """The frame in part axes, what it hangs on moved so."""
        if moved is None or self.now is None:
            return self.in_part
        return moved @ self.now.inverse() @ self.in_part


def goal_of(assembly: Assembly, placement: str, measured: Measured) -> Goal:
    """What a measured pose is the pose of. Raises UsageError where a name is none, or the question has no sense."""
    placed = known_placement(assembly, placement)
    if placed.placement.support == "shaft":
        raise UsageError(f"`{placement}` is a wheel on a shaft: ask for `{placed.placement.on}`, which carries it")
    riding = bodies_of(assembly).carried_by(placement)
    frame, pose, owner, sensor = _frame(assembly, placement, riding, measured.of)
    start = _start(assembly, placement, riding, measured.start)
    key, adjustments = _way(assembly, placed, owner, sensor)
    now = seat_moves(placed.part, placed.settings)[key] if key is not None else None
    return Goal(measured=measured, frame=frame, frame_pose=pose, owner=owner, start=start, start_pose=assembly.poses[start],
                in_part=placed.pose.inverse() @ pose, key=key, now=now, adjustments=adjustments)


def message_pose(assembly: Assembly, facet: SensorFacet) -> tuple[str, Pose]:
    """The frame that a sensor's messages carry, and its pose in base_link as bolted, without a calibration."""
    bolted = facet.nominal if facet.nominal is not None else facet.pose
    if facet.optical_frame is not None and facet.message_frame == facet.optical_frame:
        return facet.message_frame, bolted @ assembly.poses[facet.frame].inverse() @ assembly.poses[facet.optical_frame]
    if facet.sensor.link is not None:
        return facet.frame, assembly.poses[facet.frame]
    return facet.frame, bolted


def _frame(assembly: Assembly, placement: str, riding: frozenset[str],
           of: str | None) -> tuple[str, Pose, str, SensorFacet | None]:
    """Name and pose of the measured frame, the placement that it moves with, and its sensor."""
    sensors = [s for s in assembly.sensors if s.placement in riding]
    if of is None:
        own = [s for s in sensors if s.placement == placement] or sensors
        if len(own) == 1:
            return (*message_pose(assembly, own[0]), own[0].placement, own[0])
        if own:
            raise UsageError(f"{len(own)} sensors move with `{placement}`; say whose pose it is: "
                             + listing((f"`--of {s.frame}`" for s in own), most=8, last=" or "))
        placed = assembly.parts[placement]
        return placed.link, assembly.poses[placed.link], placement, None
    name, _, sensor = of.partition(".")
    if name in assembly.parts:
        if name not in riding:
            raise UsageError(f"`{name}` does not move with `{placement}`, so its pose says nothing of where `{placement}` is; "
                             f"riding on it: {listing(sorted(riding), most=12)}")
        own = [s for s in sensors if s.placement == name and sensor in ("", s.sensor.name)]
        if len(own) == 1:
            return (*message_pose(assembly, own[0]), name, own[0])
        if own or sensor:
            raise UsageError(f"`{of}` names {'several sensors' if own else 'no sensor'}; known: " + listing(
                (f"`{name}.{s.sensor.name}`" for s in sensors if s.placement == name), most=8))
        return assembly.parts[name].link, assembly.poses[assembly.parts[name].link], name, None
    frame = of if of in assembly.poses else assembly.prefix + of
    if frame not in assembly.poses:
        near = nearest(of, [*assembly.poses, *assembly.parts])
        raise UsageError(f"`{of}` is no placement and no frame" + (f"; did you mean `{near}`?" if near else ""))
    for facet in sensors:
        if frame in (facet.frame, facet.optical_frame):
            bolted = facet.nominal if facet.nominal is not None else facet.pose
            return frame, bolted @ assembly.poses[facet.frame].inverse() @ assembly.poses[frame], facet.placement, facet
    owner = next((link.owner for link in assembly.links if link.name == frame), "")
    if owner not in riding:
        raise UsageError(f"the frame `{frame}` does not move with `{placement}`, so it says nothing of where that is")
    return frame, assembly.poses[frame], owner, None


def _start(assembly: Assembly, placement: str, riding: frozenset[str], start: str | None) -> str:
    name = start if start is not None else assembly.base
    name = name if name in assembly.poses else assembly.prefix + name
    if name not in assembly.poses:
        raise UsageError(not_known(start or "", "frame", assembly.poses))
    if any(link.name == name and link.owner in riding for link in assembly.links):
        raise UsageError(f"the frame `{name}` moves with `{placement}`: a pose measured in it says nothing of where that is; "
                         f"measure in {assembly.base}, or in a deck's frame")
    driven = assembly.drive is not None and any(w.placement in riding for w in assembly.drive.wheels)
    rolls = bool(riding & {*(w.placement for w in assembly.wheels), *(c.placement for c in assembly.casters)})
    if (name == assembly.base and driven) or (name == assembly.root != assembly.base and rolls):
        deck = assembly.decks[assembly.layout.base_deck.name].link
        raise UsageError(f"{name} is where the wheels put it, and `{placement}` carries some of them: measure in a deck's frame, "
                         f"with `--from {deck}`")
    return name


def _way(assembly: Assembly, placed: PlacedPart, owner: str,
         sensor: SensorFacet | None) -> tuple[str | None, tuple[Adjustment, ...]]:
    """What of the part carries the frame, and the adjustments on the way that are set by hand."""
    if owner == placed.name:
        key = sensor.sensor.moves_with if sensor is not None else None
    else:
        name = owner
        while assembly.parts[name].placement.on != placed.name:
            name = assembly.parts[name].placement.on
        key = assembly.parts[name].placement.seat
        shaft = assembly.parts[name].placement.shaft
        if key is None and shaft is not None:
            key = placed.part.shafts[shaft].moves_with
    if key is None or key.partition(".")[0] not in placed.part.seats:
        return None, ()
    seat, _, last = key.partition(".")
    if placed.part.seats[seat].link is not None:
        return None, ()
    found = []
    for a in placed.part.seats[seat].adjust:
        if not a.moves and a.follows is None:
            found.append(a)
        if a.name == last:
            break
    return key, tuple(found)
