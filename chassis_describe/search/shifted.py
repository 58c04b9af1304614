"""A robot with some of its placements moved rigidly, without being put together anew: for figures of many places.

Only for placements that carry no wheel or caster, so that the base stays. What follows from poses and masses is right; joints, and
what is bolted where, are those of before.
"""
from __future__ import annotations

from chassis_describe.assembly.model import Assembly
from chassis_describe.assembly.rollers import rollers
from chassis_describe.space.ground.contact import rest
from chassis_describe.space.mass import combined
from chassis_describe.space.pose import Pose
from chassis_describe.values import replace


def shifted(assembly: Assembly, members: frozenset[str], shift: Pose) -> Assembly:
    """``members`` moved by a rigid motion in base_link."""
    own = {link.name for link in assembly.links if link.owner in members}
    poses = {name: shift @ pose if name in own else pose for name, pose in assembly.poses.items()}
    whole = combined(link.inertial.moved(poses[link.name]) for link in assembly.links if link.inertial is not None)
    standing = assembly.rest
    if standing is not None and whole is not None:
        standing = rest(rollers(assembly.wheels, assembly.casters), whole.com)
        poses[assembly.root] = standing.base_in_ground.inverse()
    parts = {name: replace(p, pose=shift @ p.pose, at_zero=shift @ p.at_zero) if name in members else p
             for name, p in assembly.parts.items()}
    sensors = tuple(f._replace(pose=shift @ f.pose) if f.placement in members else f for f in assembly.sensors)
    return Assembly(layout=assembly.layout, prefix=assembly.prefix, root=assembly.root, base=assembly.base, links=assembly.links,
                    joints=assembly.joints, poses=poses, decks=assembly.decks, parts=parts, sensors=sensors,
                    wheels=assembly.wheels, casters=assembly.casters, moving=assembly.moving, drive=assembly.drive,
                    inertial=whole, rest=standing)
