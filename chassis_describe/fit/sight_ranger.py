"""Rangers: cones that meet the robot or the floor."""
from __future__ import annotations

import math
from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.sight import CONE_RINGS, sight_of
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.sight_words import degrees, marks_of, metres
from chassis_describe.words import listing


def cone_on_robot(assembly: Assembly) -> Iterator[Finding]:
    """Rangers whose cone meets the robot within range."""
    for view in sight_of(assembly).rangers.values():
        if not view.meets or view.facet.sensor.fov is None:
            continue
        owners = tuple(name for name, _ in view.meets)
        step = degrees(view.facet.sensor.fov / 2 / CONE_RINGS, 2)
        reach = view.facet.sensor.range[1] if view.facet.sensor.range is not None else None
        what = listing("its own body" if name == view.facet.placement else name for name in owners)
        yield finding(
            "cone-hits-robot", f"the cone of {view.facet.frame} ({degrees(view.facet.sensor.fov)}) meets {what}, "
            f"nearest {metres(view.meets[0][1])} away (rays {step} apart)",
            hint="turn or move the ranger, or move what stands in its cone",
            where=marks_of(assembly, view.facet, owners),
            of=(view.facet.placement, *(o for o in owners if o != view.facet.placement)),
            measured=view.meets[0][1], allowed=reach, unit="m")


def cone_on_floor(assembly: Assembly) -> Iterator[Finding]:
    """Rangers whose cone meets the floor within range."""
    for view in sight_of(assembly).rangers.values():
        if view.floor is None or view.facet.sensor.fov is None or assembly.rest is None or view.facet.sensor.looks == "floor":
            continue
        height = (assembly.rest.base_in_ground @ view.facet.pose).t[2]
        reach = view.facet.sensor.range[1] if view.facet.sensor.range is not None else math.inf
        within = f", its range is {metres(reach)}" if math.isfinite(reach) else ""
        yield finding(
            "cone-hits-floor", f"the cone of {view.facet.frame} ({degrees(view.facet.sensor.fov)}, {metres(height)} "
            f"above the floor) meets the floor {metres(view.floor.along)} ahead along the floor{within}",
            hint="beyond that it may report the floor: raise it, turn it up, or believe it only up to there; "
            "where it shall see the floor, say `looks: floor` in its part",
            where=marks_of(assembly, view.facet), of=(view.facet.placement,), measured=view.floor.along,
            allowed=reach if math.isfinite(reach) else None, unit="m")
