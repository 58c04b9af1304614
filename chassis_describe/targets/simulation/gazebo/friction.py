"""Friction on the floor, by kind of drive.

gazebosim/gz-physics {branch}:dartsim/src/SDFFeatures.cc reads mu, mu2, fdir1, slip1 and slip2: mu counts along fdir1, mu2 across
it. fdir1 is in the collision's own axes (a wheel cylinder's z is its axle) unless a link is named to express it in. Slip of skid
steering as in gazebosim/gz-sim {branch}:examples/worlds/diff_drive_skid.sdf, directions of mecanum wheels as in
mecanum_drive.sdf beside it.
"""
from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from chassis_describe.assembly.model import Assembly, WheelFacet
from chassis_describe.errors import never
from chassis_describe.layout.build.casters import ROLL
from chassis_describe.targets.simulation.gazebo.motion import own_system
from chassis_describe.targets.stack import distros
from chassis_describe.xmltree import child, number, numbers

if TYPE_CHECKING:
    from lxml import etree

#: How fast a skidding wheel creeps sideways for each newton (m/s).
SKID_SLIP = 0.035


def expressing(distro: str) -> dict[str, str]:
    """The namespace of the attribute that names the link in which a direction is expressed: prefix → address."""
    prefix = distros.text("gz_schema", distro)
    return {prefix: {"gz": "http://gazebosim.org/schema", "ignition": "http://ignitionrobotics.org/schema"}[prefix]}


def friction_elements(assembly: Assembly) -> Iterator[etree._Element]:
    """A ``<gazebo reference>`` for each wheel and caster."""
    from lxml import etree

    for wheel in assembly.wheels:
        place = etree.Element("gazebo", {"reference": wheel.link})
        mu = 0.0 if own_system(assembly) == "velocity-control" else wheel.friction
        if wheel.rollers is not None:
            _rolling(_ode(place), wheel, mu, assembly)
        elif assembly.drive is not None and assembly.drive.kind == "skid_steer":
            _directed(_ode(place), mu, mu, "0 0 1", slip1=SKID_SLIP)
        else:
            _plain(place, mu)
        yield place
    for caster in assembly.casters:
        place = etree.Element("gazebo", {"reference": assembly.parts[caster.placement].moving.get(ROLL, caster.link)})
        _plain(place, caster.friction)
        yield place


def _plain(place: etree._Element, mu: float) -> None:
    for tag in ("mu1", "mu2"):
        child(place, tag).text = number(mu)


def _ode(place: etree._Element) -> etree._Element:
    at = place
    for tag in ("collision", "surface", "friction", "ode"):
        at = child(at, tag)
    return at


def _rolling(ode: etree._Element, wheel: WheelFacet, mu: float, assembly: Assembly) -> None:
    """A wheel with rollers: it pushes along the axles of the rollers on the floor, and rolls across them.

    ``left`` and ``right``: at 45 degrees between forward and axle; ``across``: rollers along the rim push as the wheel turns.
    """
    rollers = wheel.rollers
    assert rollers is not None
    axle = math.atan2(wheel.axis[1], wheel.axis[0])
    if rollers == "left":
        way = (math.sqrt(0.5), -math.sqrt(0.5))
    elif rollers == "right":
        way = (math.sqrt(0.5), math.sqrt(0.5))
    elif rollers == "across":
        way = (-math.sin(axle), math.cos(axle))
    else:
        raise never(rollers)
    in_link = {f"{{{address}}}expressed_in": assembly.root for address in expressing(assembly.layout.ros.distro).values()}
    _directed(ode, mu, 0.0, numbers((*way, 0.0)), attributes=in_link)


def _directed(ode: etree._Element, along: float, across: float, direction: str, *, slip1: float = 0.0,
              attributes: dict[str, str] | None = None) -> None:
    child(ode, "mu").text = number(along)
    child(ode, "mu2").text = number(across)
    child(ode, "fdir1", list((attributes or {}).items())).text = direction
    if slip1:
        child(ode, "slip1").text = number(slip1)
