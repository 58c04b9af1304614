"""The driven wheels as a controller takes them, from wheels and joints in place."""
from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from chassis_describe.assembly.model import DriveFacet, Joint, MovingFacet, SteeredFacet, WheelFacet
from chassis_describe.errors import never
from chassis_describe.layout.model import Drive, Layout
from chassis_describe.space.pose import Pose, unit


def drive_of(layout: Layout, wheels: Sequence[WheelFacet], moving: Sequence[MovingFacet], joints: Sequence[Joint],
             at_zero: Mapping[str, Pose]) -> DriveFacet | None:
    """The drive, None without one. ``at_zero``: in base_link the links that move while the robot runs, all at their zero."""
    drive = layout.drive
    if drive is None:
        return None
    by_name = {w.placement: w for w in wheels}
    all_driven = [by_name[n] for n in drive.wheels]
    radius = sum(w.radius for w in all_driven) / len(all_driven)
    if drive.kind == "omni":
        around = tuple(by_name[n] for n in drive.around)
        circle, first = _circle(around)
        return DriveFacet(kind=drive.kind, around=around, wheel_radius=radius, circle_radius=circle, first_angle=first)
    left = tuple(by_name[n] for n in drive.left)
    right = tuple(by_name[n] for n in drive.right)
    apart = sum(w.centre[1] for w in left) / len(left) - sum(w.centre[1] for w in right) / len(right)
    if drive.kind == "ackermann":
        steered = _steered(drive, wheels, moving, joints, at_zero)
        ys = [s.point[1] for s in steered]
        return DriveFacet(kind=drive.kind, left=left, right=right, steered=steered, wheel_separation=apart, wheel_radius=radius,
                          wheel_base=abs(sum(s.point[0] for s in steered)) / len(steered),
                          steer_track=ys[0] - ys[-1] if len(ys) == 2 else 0.0)
    if drive.kind == "differential" or drive.kind == "skid_steer" or drive.kind == "mecanum":
        # Where a side is shifted, the mean of both: a mecanum controller takes the mean of the four levers.
        xs = [[w.centre[0] for w in side] for side in (left, right)]
        return DriveFacet(kind=drive.kind, left=left, right=right, wheel_separation=apart, wheel_radius=radius,
                          wheel_base=sum(max(side) - min(side) for side in xs) / 2)
    raise never(drive.kind)


def _circle(around: Sequence[WheelFacet]) -> tuple[float, float]:
    """Mean distance of the wheels from the middle, and the direction of the first that fits all best at equal angles."""
    count = len(around)
    radius = sum(math.hypot(w.centre[0], w.centre[1]) for w in around) / count
    turned = [math.atan2(w.centre[1], w.centre[0]) - 2 * math.pi * n / count for n, w in enumerate(around)]
    first = math.atan2(sum(map(math.sin, turned)), sum(map(math.cos, turned)))
    return radius, first


def _steered(drive: Drive, wheels: Sequence[WheelFacet], moving: Sequence[MovingFacet], joints: Sequence[Joint],
             at_zero: Mapping[str, Pose]) -> tuple[SteeredFacet, ...]:
    named = {(m.placement, m.seat, m.adjustment.name): m for m in moving}
    by_child = {j.child: j for j in joints}
    out = []
    for steer in drive.steer:
        facet = named[steer[:3]]
        pose = at_zero[facet.link]
        x, y, z = unit(pose.vector(by_child[facet.link].axis))
        # On the height of the driven axle, which base_link is at; an axis that lies flat has no such point.
        along = pose.t[2] / z if abs(z) > 1e-6 else 0.0
        point = (pose.t[0] - along * x, pose.t[1] - along * y, pose.t[2] - along * z)
        out.append(SteeredFacet(facet, point, (x, y, z), tuple(
            w.placement for w in wheels if _below(w.link, facet.link, by_child))))
    return tuple(out)


def _below(at: str, link: str, by_child: Mapping[str, Joint]) -> bool:
    """Whether one link is in the tree below another."""
    while at != link and at in by_child:
        at = by_child[at].parent
    return at == link
