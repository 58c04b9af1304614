"""Clouds: points on the robot itself, which would stop it."""
from __future__ import annotations

from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.own_cloud import own_clouds
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.sight_words import marks_of, percent
from chassis_describe.words import listing


def cloud_sees_robot(assembly: Assembly) -> Iterator[Finding]:
    """Depth cameras and layered lidars whose points lie on the robot, inside its outline and above its clearance."""
    for cloud in own_clouds(assembly).values():
        if not cloud.boxes:
            continue
        owners = (*(name for name, _ in cloud.shares), *cloud.moving)
        parts = listing(f"{name} {percent(share)}" for name, share in cloud.shares)
        words = []
        if cloud.shares:
            words.append(f"{percent(cloud.share)} of the points of {cloud.facet.frame} are the robot itself: {parts}")
        if cloud.moving:
            words.append(f"{cloud.facet.frame} can see {listing(cloud.moving)} when {listing(cloud.moved_by)} "
                         f"move{'s' if len(cloud.moved_by) == 1 else ''}")
        yield finding(
            "cloud-sees-robot", "; ".join(words),
            hint="start `launch/filters.launch.py` of the compiled package, which takes them out; without it the collision "
                 "monitor stops the robot on itself",
            where=marks_of(assembly, cloud.facet, owners),
            of=(cloud.facet.placement, *(o for o in owners if o != cloud.facet.placement)),
            measured=100 * cloud.share, allowed=0.0, unit="percent")
