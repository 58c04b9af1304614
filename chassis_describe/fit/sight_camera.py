"""Cameras: how much of the image is the robot itself."""
from __future__ import annotations

from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.sight import sight_of
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.sight_words import marks_of, percent
from chassis_describe.words import listing

#: Share of the image that may be the robot without a word (our choice).
SHARE = 0.05


def camera_sees_robot(assembly: Assembly) -> Iterator[Finding]:
    """Cameras that see much of the robot, by whom."""
    for view in sight_of(assembly).cameras.values():
        if view.covered is None or view.covered <= SHARE:
            continue
        owners = tuple(name for name, _ in view.shares)
        parts = listing(f"{name} {percent(share)}" for name, share in view.shares)
        yield finding(
            "camera-sees-robot", f"{percent(view.covered)} of the image of {view.facet.frame} is the robot itself: {parts}",
            hint="move the camera to the edge, raise it, or turn it away",
            where=marks_of(assembly, view.facet, owners),
            of=(view.facet.placement, *(o for o in owners if o != view.facet.placement)),
            measured=100 * view.covered, allowed=100 * SHARE, unit="percent")
