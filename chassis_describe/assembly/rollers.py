"""What can touch the ground."""
from __future__ import annotations

from collections.abc import Iterable

from chassis_describe.assembly.model import CasterFacet, WheelFacet
from chassis_describe.space.ground.contact import Roller


def rollers(wheels: Iterable[WheelFacet], casters: Iterable[CasterFacet]) -> list[Roller]:
    """What can touch the ground, by placement; swivel wheels as they trail."""
    out = [Roller(name=w.placement, centre=w.centre, radius=w.radius, axis=w.axis) for w in wheels]
    out += [Roller(name=c.placement, centre=c.centre, radius=c.radius, axis=c.axis if c.kind == "wheel" else None)
            for c in casters]
    return out
