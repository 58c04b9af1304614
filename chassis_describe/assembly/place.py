"""Layout → Assembly: every frame, body and joint in its place (DEVELOPERS.md, "Conventions of the model")."""
from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from chassis_describe.assembly.attach import Attachment, attach
from chassis_describe.assembly.described import described_joints, described_links
from chassis_describe.assembly.drive import drive_of
from chassis_describe.assembly.joints import moving_links, seat_in_link
from chassis_describe.assembly.lattice import lattice_point, plate_of
from chassis_describe.assembly.model import (
    Assembly,
    Body,
    CasterFacet,
    DeckFacet,
    Joint,
    Link,
    Mimic,
    MovingFacet,
    PlacedPart,
    SensorFacet,
    WheelFacet,
)
from chassis_describe.assembly.rollers import rollers
from chassis_describe.assembly.seats import seat_pose, seat_zero, values_in_force
from chassis_describe.assembly.sensors import sensors_of
from chassis_describe.assembly.stack import placed_decks
from chassis_describe.assembly.weigh import Weighed, plate_inertial, standoff_bodies, weigh_links
from chassis_describe.assembly.wheels import caster_of, radial_axes, wheel_axes, wheel_in_carrier, wheel_of
from chassis_describe.errors import LayoutError
from chassis_describe.findings import Finding
from chassis_describe.layout.model import Layout, Placement, Stacked
from chassis_describe.layout.names import joint_of
from chassis_describe.space.ground.contact import Rest, rest
from chassis_describe.space.mass import Inertial, combined, of_solid
from chassis_describe.space.pose import (
    IDENTITY,
    IDENTITY_ROTATION,
    Pose,
    multiply,
    rot_x,
    rot_z,
    translation,
)
from chassis_describe.values import replace

_FLIP = rot_x(math.pi)
#: What resists a joint that nothing drives: more than anything on the robot could push or turn (N·m or N, rad/s or m/s).
#: Zeros would lock it in simulators (sdformat: a limit of 0 is no force at all).
FREE_EFFORT, FREE_VELOCITY = 1000.0, 100.0


class _Frame(NamedTuple):
    """One frame twice: with everything at its value in force, and with all that moves at its zero (the same object where
    nothing on the way moves)."""

    now: Pose
    zero: Pose

    def of(self, local: Pose) -> _Frame:
        """A frame fixed in this one."""
        now = self.now @ local
        return _Frame(now, now if self.now is self.zero else self.zero @ local)


class _Build:
    """What is known so far; base-deck coordinates until the base is known."""

    def __init__(self, layout: Layout, prefix: str) -> None:
        self.layout, self.prefix = layout, prefix
        self.deck_poses: dict[str, Pose] = {}
        self.placed: dict[str, PlacedPart] = {}  # poses in the base deck's frame
        self.frames: dict[str, _Frame] = {}  # links that carry something, in the base deck's frame
        self.weighed: dict[tuple[object, ...], dict[str | None, Weighed]] = {}
        self.faults: list[Finding] = []
        self.around = frozenset(layout.drive.around if layout.drive is not None else ())

    def link(self, name: str) -> str:
        return f"{self.prefix}{name}_link"


def assemble(layout: Layout, *, prefix: str | None = None) -> Assembly:
    """Put the robot together.

    ``prefix`` stands before every frame and joint name; the layout's own when it is None. Raises LayoutError where the
    layout reads but can't be put together: screws that fit nowhere, standoffs of unequal height.
    """
    build = _Build(layout, layout.ros.prefix if prefix is None else prefix)
    build.deck_poses = dict(placed_decks(layout))
    for placement in _supports_first(layout):
        try:
            _place(build, placement)
        except LayoutError as error:
            build.faults.extend(error.findings)
            _stand_in(build, placement)
    if build.faults:
        raise LayoutError(tuple(build.faults))
    return _finish(build)


def _supports_first(layout: Layout) -> list[Placement]:
    """Placements so that each comes after what it is on; the file's order otherwise."""
    order: list[Placement] = []
    done: set[str] = set()
    for placement in layout.placements.values():
        chain: list[Placement] = []
        current: Placement | None = placement
        while current is not None and current.name not in done:
            chain.append(current)
            current = layout.placements[current.on] if current.support != "deck" else None
        for item in reversed(chain):
            done.add(item.name)
            order.append(item)
    return order


def _place(build: _Build, placement: Placement) -> None:
    part = placement.part
    attachment: Attachment | None = None
    part_in_link = IDENTITY
    if placement.support == "deck":
        deck = build.layout.decks[placement.on]
        support_link = build.link(deck.name)
        pose = build.deck_poses[deck.name]
        support = _Frame(pose, pose)
        attachment = attach(placement, deck.lattice)
        x, y = attachment.point
        ox, oy, oz = placement.offset
        if placement.face == "top":
            local = Pose(rot_z(attachment.turn), (x + ox, y + oy, placement.lift + oz))
        else:
            local = Pose(multiply(_FLIP, rot_z(attachment.turn)),
                         (x + ox, y + oy, -deck.thickness - placement.lift + oz))
    else:
        carrier = build.placed[placement.on]
        if placement.support == "seat":
            seat = carrier.part.seats[placement.seat or ""]
            attachment = attach(placement, seat.lattice)
            x, y = attachment.point
            ox, oy, oz = placement.offset
            on, seat_there = (seat.link, seat_zero(seat)) if seat.link is not None else seat_in_link(seat, carrier.settings)
            local = seat_there @ Pose(rot_z(attachment.turn), (x + ox, y + oy, placement.lift + oz))
        else:
            on, local = wheel_in_carrier(carrier, placement)
        support_link = carrier.link if on is None else carrier.described[on] if on in carrier.described else carrier.moving[on]
        support = build.frames[support_link] if on is not None else _Frame(
            carrier.pose, carrier.pose if carrier.pose is carrier.at_zero else carrier.at_zero)
    here = support.of(local)
    if placement.support == "shaft":
        # The wheel's link has the base's axes, exactly, when nothing is steered; only where it stands follows from the motor.
        # That of an omni drive has its y along the axle.
        link_rotation, wheel_in_link = radial_axes(here.zero.y_axis) if placement.name in build.around else wheel_axes(
            here.zero.y_axis)
        still = Pose(multiply(link_rotation, wheel_in_link), here.zero.t)
        part_in_link = Pose(wheel_in_link)
        local = support.zero.inverse() @ still
        here = _Frame(still, still) if support.now is support.zero else _Frame(support.now @ local, still)
    if placement.support != "deck" and on is None and carrier.part_in_link is not IDENTITY:
        local = carrier.part_in_link @ local
    fixing = placement.fixing or ("shaft" if placement.support == "shaft" else "bolts" if part.bolts else "none")
    values = _values(placement)
    links = part.description.poses(values) if part.description is not None else {}
    placed = build.placed[placement.name] = PlacedPart(
        placement=placement, part=part, link=build.link(placement.name), pose=here.now, at_zero=here.zero,
        part_in_link=part_in_link, part_in_support=local, support_link=support_link,
        deck=placement.on if placement.support == "deck" else None,
        face=placement.face if placement.support == "deck" else None,
        at=attachment.at if attachment else None, turn=attachment.turn if attachment else 0.0, fixing=fixing,
        seats={n: seat_pose(s, values) if s.link is None else links[s.link] @ seat_zero(s) for n, s in part.seats.items()},
        settings=values, moving={a.name: build.link(f"{placement.name}_{a.name}") for a in part.adjustments if a.moves},
        described=_described(build, placement))
    if part.description is not None:
        at_zero = part.description.poses({})
        for link, frame in placed.described.items():
            now = here.now @ links[link]
            build.frames[frame] = _Frame(now, now if here.now is here.zero and links[link] == at_zero[link]
                                         else here.zero @ at_zero[link])
    if placed.moving:
        back = part_in_link.inverse()
        build.frames[placed.link] = here.of(back) if part_in_link is not IDENTITY else here
        for _, joint in _moving_joints(build, placed):
            parent = build.frames[joint.parent]
            build.frames[joint.child] = _Frame(parent.now @ joint.placed, parent.zero @ joint.pose)


def _values(placement: Placement) -> dict[str, float]:
    """Every adjustment's value in force; of a description every joint's."""
    part = placement.part
    if part.description is not None:
        return part.description.values(placement.settings)
    return values_in_force(part, placement.settings) if part.seats else {}


def _described(build: _Build, placement: Placement) -> dict[str, str]:
    """The links of a placement's description by plain name."""
    found = placement.part.description
    return {n: found.link_name(n, build.prefix, placement.name) for n in found.links} if found is not None else {}


def _moving_joints(build: _Build, placed: PlacedPart) -> Iterable[tuple[MovingFacet, Joint]]:
    """What of a placement moves while the robot runs, nearer to the part first."""
    for moving in moving_links(placed.part, placed.settings):
        adjustment = moving.adjustment
        link = placed.moving[adjustment.name]
        origin = moving.origin
        if moving.on is None and placed.part_in_link is not IDENTITY:
            origin = placed.part_in_link @ origin
        span, motor, follows, value = adjustment.range, adjustment.motor, adjustment.follows, placed.settings[adjustment.name]
        joint = Joint(
            name=joint_of(link), type="prismatic" if adjustment.kind == "slide" else "revolute" if span else "continuous",
            parent=placed.link if moving.on is None else placed.moving[moving.on], child=link, pose=origin,
            axis=adjustment.axis, effort=motor.torque if motor else FREE_EFFORT, velocity=motor.speed if motor else FREE_VELOCITY,
            lower=span[0] if span else None, upper=span[1] if span else None, value=value,
            mimic=Mimic(joint_of(placed.moving[follows.of]), follows.times, follows.plus) if follows else None)
        yield MovingFacet(placement=placed.name, seat=moving.seat, adjustment=adjustment, joint=joint.name, link=link,
                          value=value, mark=placed.placement.marks.get("set") or placed.mark), joint


def _stand_in(build: _Build, placement: Placement) -> None:
    """A placement that can't be placed still carries others, so that all faults of a layout are found in one run."""
    part = placement.part
    values = _values(placement)
    moving = {a.name: build.link(f"{placement.name}_{a.name}") for a in part.adjustments if a.moves}
    build.placed[placement.name] = PlacedPart(
        placement=placement, part=part, link=build.link(placement.name), pose=IDENTITY, at_zero=IDENTITY,
        part_in_link=IDENTITY, part_in_support=IDENTITY, support_link="", deck=None, face=None, at=None, turn=0.0,
        fixing="none", seats={n: IDENTITY if s.link is not None else seat_pose(s, values) for n, s in part.seats.items()},
        settings=values, moving=moving, described=_described(build, placement))
    for link in (*moving.values(), *build.placed[placement.name].described.values()):
        build.frames[link] = _Frame(IDENTITY, IDENTITY)


def _base(build: _Build) -> Pose:
    """base_link in the base deck's frame: at the mean of the driven wheel centres, or the deck's own frame."""
    drive = build.layout.drive
    if drive is None:
        return IDENTITY
    centres = [build.placed[n].at_zero.t for n in drive.wheels]
    return translation(*(sum(c[k] for c in centres) / len(centres) for k in range(3)))


def _finish(build: _Build) -> Assembly:
    layout, prefix = build.layout, build.prefix
    base_in_deck = _base(build)
    into_base = base_in_deck.inverse()
    base = f"{prefix}base_link"
    links: list[Link] = []
    joints: list[Joint] = []
    poses: dict[str, Pose] = {}

    decks: dict[str, DeckFacet] = {}
    standoffs = _standoffs(layout, build.deck_poses)
    base_deck = layout.base_deck.name
    links.append(Link(name=base, owner=""))
    poses[base] = IDENTITY
    for name, pose in build.deck_poses.items():
        deck = layout.decks[name]
        plate = plate_of(deck)
        link = build.link(name)
        bodies = tuple(standoffs.get(name, ()))
        plate_mass = plate_inertial(plate, deck.density, deck.mass)
        links.append(Link(name=link, owner=name, bodies=bodies, plate=plate, mark=deck.mark,
                          inertial=combined([*([plate_mass] if plate_mass else []),
                                             *(of_solid(b.solid, b.mass, b.pose) for b in bodies)])))
        poses[link] = into_base @ pose
        decks[name] = DeckFacet(deck=deck, link=link, pose=poses[link], plate=plate)
        if name == base_deck:
            joints.append(Joint(name=joint_of(link), type="fixed", parent=base, child=link, pose=poses[link]))
        else:
            assert deck.placing is not None
            parent = deck.placing.deck
            joints.append(Joint(name=joint_of(link), type="fixed", parent=build.link(parent), child=link,
                                pose=build.deck_poses[parent].inverse() @ pose))

    sides = {}
    if layout.drive is not None:
        sides = dict.fromkeys(layout.drive.left, "left") | dict.fromkeys(layout.drive.right, "right") | dict.fromkeys(
            layout.drive.around, "around")
    steering = {s[:3] for s in layout.drive.steer} if layout.drive is not None else set()
    parts: dict[str, PlacedPart] = {}
    sensors: list[SensorFacet] = []
    wheels: list[WheelFacet] = []
    casters: list[CasterFacet] = []
    moving: list[MovingFacet] = []
    for name, placed in build.placed.items():
        pose = into_base @ placed.pose
        part = placed.part
        placed = parts[name] = replace(
            placed, pose=pose, at_zero=pose if placed.at_zero is placed.pose else into_base @ placed.at_zero)
        link_pose = pose @ placed.part_in_link.inverse() if placed.part_in_link is not IDENTITY else pose
        poses[placed.link] = link_pose
        own, moved = _part_links(build, placed)
        links.append(own)
        if part.wheel is not None and placed.placement.support == "shaft":
            wheel, joint = wheel_of(placed, build.placed[placed.placement.on], link_pose, sides.get(name))
            wheels.append(wheel)
            joints.append(joint)
        else:
            joints.append(Joint(name=joint_of(placed.link), type="fixed", parent=placed.support_link,
                                child=placed.link, pose=placed.part_in_support))
        for swing, joint in _moving_joints(build, placed) if placed.moving else ():
            moving.append(swing._replace(steers=(name, swing.seat, swing.adjustment.name) in steering))
            joints.append(joint)
            links.append(moved[swing.adjustment.name])
            poses[joint.child] = poses[joint.parent] @ joint.placed
        if placed.described:
            links += described_links(placed)
        for joint in described_joints(placed, prefix) if placed.described else ():
            joints.append(joint)
            poses[joint.child] = poses[joint.parent] @ joint.placed
        if part.caster is not None:
            casters.append(caster_of(placed))
        for facet, frames in sensors_of(prefix, placed, poses, base_in_deck):
            sensors.append(facet)
            for parent, child, local in frames:
                links.append(Link(name=child, owner=name))
                joints.append(Joint(name=joint_of(child), type="fixed", parent=parent, child=child, pose=local))
                poses[child] = poses[parent] @ local

    at_zero = {name: into_base @ frame.zero for name, frame in build.frames.items()}
    whole = combined(link.inertial.moved(poses[link.name]) for link in links if link.inertial is not None)
    standing = _rest(wheels, casters, whole)
    root = base
    if standing is not None:
        root = f"{prefix}base_footprint"
        links.insert(0, Link(name=root, owner=""))
        joints.insert(0, Joint(name=joint_of(base), type="fixed", parent=root, child=base,
                               pose=standing.base_in_ground))
        poses = {root: standing.base_in_ground.inverse()} | poses
    return Assembly(layout=layout, prefix=prefix, root=root, base=base, links=tuple(links), joints=tuple(joints),
                    poses=poses, decks=decks, parts=parts, sensors=tuple(sensors), wheels=tuple(wheels),
                    casters=tuple(casters), moving=tuple(moving),
                    drive=drive_of(layout, wheels, moving, joints, at_zero), inertial=whole, rest=standing)


def _standoffs(layout: Layout, deck_poses: dict[str, Pose]) -> dict[str, list[Body]]:
    """Standoff bodies by the deck that they stand on, in its frame."""
    out: dict[str, list[Body]] = {}
    for deck in layout.decks.values():
        if not isinstance(deck.placing, Stacked):
            continue
        for group in deck.placing.standoffs:
            on = layout.decks[group.on]
            points = [lattice_point(on.lattice, h) for h in group.holes]
            bottom = 0.0 if deck.placing.relation == "above" else -on.thickness - group.length
            out.setdefault(on.name, []).extend(standoff_bodies(on.name, group, points, bottom))
    return out


def _part_links(build: _Build, placed: PlacedPart) -> tuple[Link, dict[str, Link]]:
    """The part's own link, and those of its adjustments that move; equal parts share their bodies and sums."""
    placement, part = placed.placement, placed.part
    spacers = placement.lift if placed.fixing == "bolts" and part.bolts else 0.0
    key = (id(part), tuple(sorted(placed.settings.items())), placement.mass, spacers, placement.spacer_density)
    groups = build.weighed.get(key)
    if groups is None:
        groups = build.weighed[key] = weigh_links(part, written=placement.settings, mass=placement.mass, spacers=spacers,
                                                  spacer_density=placement.spacer_density)
    own = _link(placed, placed.link, groups[None], placed.part_in_link)
    return own, {name: _link(placed, link, groups[name], IDENTITY) for name, link in placed.moving.items()}


def _link(placed: PlacedPart, name: str, weighed: Weighed, turn: Pose) -> Link:
    """One link of a placement; ``turn``: the axes of its bodies in the link."""
    bodies: Iterable[Body] = weighed.bodies
    inertial: Inertial | None = weighed.inertial
    meshes = weighed.meshes
    if turn is not IDENTITY and turn.r is not IDENTITY_ROTATION:
        bodies = [b._replace(pose=turn @ b.pose) for b in bodies]
        meshes = tuple(m._replace(pose=turn @ m.pose) for m in meshes)
        inertial = inertial.moved(turn) if inertial else None
    return Link(name=name, owner=placed.name, bodies=tuple(b._replace(owner=placed.name) for b in bodies),
                meshes=tuple(m._replace(owner=placed.name) for m in meshes), inertial=inertial, mark=placed.mark)


def _rest(wheels: list[WheelFacet], casters: list[CasterFacet], whole: Inertial | None) -> Rest | None:
    rolling = rollers(wheels, casters)
    return rest(rolling, whole.com if whole is not None else (0.0, 0.0, 0.0)) if rolling else None
