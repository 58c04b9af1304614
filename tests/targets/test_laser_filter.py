"""The laser filter: sectors by hand, and simulated scans on true shapes (trimesh and embree) through the filter's rule.

The rule is that of ros-perception/laser_filters, branch ros2, include/laser_filters/angular_bounds_filter_in_place.h:
a beam is blanked when its angle, counted up from angle_min in steps of angle_increment, lies strictly between the two
bounds. LaserScan holds angle_min and angle_increment as 32-bit floats (sensor_msgs/msg/LaserScan.msg).
"""
from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import given, settings, strategies as st

from chassis_describe.facts.play import play_of
from chassis_describe.facts.sectors import sectors
from chassis_describe.facts.sight import Arc
from chassis_describe.space.pose import Pose, rot_z
from chassis_describe.targets.stack import laser_filter
from chassis_describe.targets.stack.laser_filter import FILTER


def arc(start: float, end: float, *words: str) -> Arc:
    return Arc(start, end, ("post",), words or ("post",))


STEP = math.radians(0.5)


# ---------------------------------------------------------------------------------------------------------------- sectors
def test_an_arc_in_front_stays_where_it_is_in_both_conventions_or_is_cut_at_the_drivers_seam() -> None:
    (one,) = sectors([arc(-0.5, 0.25)], "symmetric", STEP)
    assert (one.lower, one.upper) == (-0.5, 0.25)
    low, high = sectors([arc(-0.5, 0.25)], "positive", STEP)
    # Cut at 0, where such a driver begins and ends; the bound itself is spared by the filter, so it lies a step beyond.
    assert low.lower == pytest.approx(-STEP, abs=2e-6)
    assert low.upper == 0.25
    assert high.lower == pytest.approx(2 * math.pi - 0.5, abs=2e-6)
    assert high.upper == pytest.approx(2 * math.pi + STEP, abs=2e-6)


def test_an_arc_behind_is_two_filters_for_a_symmetric_driver_and_one_for_a_positive_one() -> None:
    behind = [arc(-math.pi, -3.0), arc(3.0, math.pi)]
    first, last = sectors(behind, "symmetric", STEP)
    assert (first.upper, last.lower) == (-3.0, 3.0)
    assert first.lower < -math.pi
    assert last.upper > math.pi
    (one,) = sectors(behind, "positive", STEP)
    assert one.lower == 3.0
    assert one.upper == pytest.approx(2 * math.pi - 3.0, abs=2e-6)


def test_touching_arcs_are_one_and_keep_their_names() -> None:
    (one,) = sectors([arc(0.0, 0.5, "a"), arc(0.5, 1.0, "b", "a")], "symmetric", STEP)
    assert (one.lower, one.upper, one.names) == (0.0, 1.0, ("a", "b"))
    assert len(sectors([arc(0.0, 0.5), arc(0.51, 1.0)], "symmetric", STEP)) == 2


def test_bounds_are_rounded_outward() -> None:
    (one,) = sectors([arc(0.12345678, 0.23456712)], "symmetric", STEP)
    assert (one.lower, one.upper) == (0.123456, 0.234568)


@given(st.lists(st.floats(-math.pi, math.pi), min_size=2, max_size=8, unique=True),
       st.lists(st.floats(-math.pi, math.pi), min_size=1, max_size=20), st.sampled_from(["symmetric", "positive"]),
       st.booleans())
@settings(max_examples=150, deadline=None)
def test_any_arcs_are_blanked_and_nothing_else(ends: list[float], beams: list[float], angles: Any, behind: bool) -> None:
    """Law: a direction inside an arc is inside a sector, one well outside all arcs is in none, whatever the convention."""
    ends = sorted(ends)[:len(ends) // 2 * 2]
    arcs = [arc(a, b) for a, b in zip(ends[::2], ends[1::2])]
    if behind:
        arcs = [arc(-math.pi, min(-3.1, ends[0])), *arcs, arc(max(3.1, ends[-1]), math.pi)]
    found = sectors(arcs, angles, STEP)
    assert all(s.lower < s.upper for s in found)
    assert all(a.upper < b.lower for a, b in itertools.pairwise(found))
    for beam in (*beams, -math.pi, math.pi, *((a.start + a.end) / 2 for a in arcs)):
        counted = beam if angles == "symmetric" else beam % (2 * math.pi)
        lost = any(s.lower < counted < s.upper for s in found)
        if any(a.start + 1e-9 < beam < a.end - 1e-9 for a in arcs) or (behind and abs(beam) == math.pi):
            assert lost
        elif all(beam < a.start - 3e-6 or beam > a.end + 3e-6 for a in arcs) and abs(beam) < math.pi - STEP:
            assert not lost or (angles == "positive" and abs(beam) < STEP)


# -------------------------------------------------------------------------------------------------------------- true scans
def scene(assembly: Any, without: str) -> Any:
    """The robot as a triangle mesh in base_link: bodies and plates, without one placement's own."""
    trimesh = pytest.importorskip("trimesh", reason="trimesh, the independent ray caster, is not installed")
    from shapely.geometry import Point, box

    def matrix(pose: Any) -> Any:
        out = np.eye(4)
        out[:3, :3] = np.reshape(pose.r, (3, 3))
        out[:3, 3] = pose.t
        return out

    meshes = []
    for link in assembly.links:
        if link.owner == without:
            continue
        for body in link.bodies:
            solid = body.solid
            if hasattr(solid, "size"):
                mesh = trimesh.creation.box(extents=solid.size)
            elif hasattr(solid, "length"):
                mesh = trimesh.creation.cylinder(radius=solid.radius, height=solid.length, sections=720)
            else:
                mesh = trimesh.creation.icosphere(subdivisions=4, radius=solid.radius)
            meshes.append(mesh.apply_transform(matrix(assembly.poses[link.name] @ body.pose)))
    for facet in assembly.decks.values():
        outline = facet.deck.outline
        if hasattr(outline, "size"):
            (w, h), (x, y) = outline.size, outline.centre
            plate = box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)
        else:
            plate = Point(outline.centre).buffer(outline.diameter / 2, 180)
        mesh = trimesh.creation.extrude_polygon(plate, facet.deck.thickness)
        mesh.apply_translation((0, 0, -facet.deck.thickness))
        meshes.append(mesh.apply_transform(matrix(facet.pose)))
    return trimesh.util.concatenate(meshes)


def scan_angles(facet: Any) -> tuple[np.float32, np.float32, int]:
    """angle_min, angle_increment and the number of beams of a driver that reports both ends of its circle."""
    start = -math.pi if facet.sensor.angles == "symmetric" else 0.0
    return np.float32(start), np.float32(2 * math.pi / facet.sensor.samples), facet.sensor.samples + 1


def hits(assembly: Any, facet: Any) -> Any:
    """By beam: whether it ends on the robot within the lidar's range."""
    start, step, count = scan_angles(facet)
    angles = float(start) + float(step) * np.arange(count)
    pose = facet.pose
    local = np.stack([np.cos(angles), np.sin(angles), np.zeros(count)], axis=1)
    directions = local @ np.reshape(pose.r, (3, 3)).T
    mesh = scene(assembly, facet.placement)
    origins = np.broadcast_to(pose.t, directions.shape)
    points, rays, _ = mesh.ray.intersects_location(origins, directions, multiple_hits=False)
    out = np.zeros(count, dtype=bool)
    reach = np.linalg.norm(points - np.asarray(pose.t), axis=1)
    out[rays[reach <= facet.sensor.range[1]]] = True
    return out


def blanked(assembly: Any, facet: Any) -> Any:
    """By beam: whether the emitted file blanks it, by the filter's own rule."""
    files = list(laser_filter.artifacts(assembly))
    start, step, count = scan_angles(facet)
    out = np.zeros(count, dtype=bool)
    if not files:
        return out
    read = yaml.safe_load(files[0].data)
    node = read.get(laser_filter.node_name(assembly, facet))
    chain = node["ros__parameters"] if node else {}
    assert list(chain) == [f"filter{n}" for n in range(1, len(chain) + 1)], "numbered consecutively"
    assert len({f["name"] for f in chain.values()}) == len(chain)
    for entry in chain.values():
        assert entry["type"] == FILTER == "laser_filters/LaserScanAngularBoundsFilterInPlace"
        lower, upper = entry["params"]["lower_angle"], entry["params"]["upper_angle"]
        assert type(lower) is float
        assert type(upper) is float
        assert lower < upper
        current = float(start)  # a double, as in the filter's loop
        for beam in range(count):
            if lower < current < upper:
                out[beam] = True
            current += float(step)
    return out


UPRIGHT = "lidar:       {part: lidar, on: lower, at: [0, 0], points: back}"
ATTITUDES = {
    "backwards": UPRIGHT,
    "upright": "lidar: {part: lidar, on: lower, at: [0, 0]}",
    "turned": "lidar: {part: lidar, on: lower, at: [1, 0.5], turn: 37}",
    "hanging": "lidar: {part: lidar, on: upper, face: under, at: [0, 0]}",
    "hanging and turned": "lidar: {part: lidar, on: upper, face: under, at: [-1, 1], turn: -110}",
    "a standoff exactly behind": "lidar: {part: lidar, on: lower, at: [0, 3], fixing: adhesive}",
}


@pytest.mark.parametrize("angles", ["symmetric", "positive"])
@pytest.mark.parametrize("attitude", ATTITUDES)
def test_no_beam_is_left_that_hits_the_robot_and_few_others_are_lost(robots: Any, attitude: str, angles: str) -> None:
    placed = ATTITUDES[attitude]
    if angles == "positive":
        placed = placed.replace("part: lidar,", "part: lidar_positive,")
    assembly = robots("two_wheels", swap=((UPRIGHT, placed),))
    (facet,) = (s for s in assembly.sensors if s.sensor.kind == "lidar")
    assert facet.sensor.angles == angles
    true, lost = hits(assembly, facet), blanked(assembly, facet)
    assert true.sum() > 10, "four standoffs stand around"
    assert not (true & ~lost).any(), f"beams {np.flatnonzero(true & ~lost)} still see the robot"
    near = np.flatnonzero(true)
    for beam in np.flatnonzero(lost & ~true):
        gap = np.abs(near - beam)
        # The scan is a circle; its first and last beam are the same direction. The nearest standoff is 40 mm away or more.
        play = play_of(assembly)[facet.frame]
        pad = play.twist + math.asin(play.shift / 0.04) if play is not None else 0.0
        more = math.ceil(pad / (2 * math.pi / facet.sensor.samples))
        assert np.minimum(gap, facet.sensor.samples - gap).min() <= 2 + more, f"beam {beam} is lost for nothing"


@pytest.mark.thorough
@pytest.mark.parametrize("attitude", ["backwards", "upright", "hanging"])
def test_no_beam_hits_the_robot_wherever_the_lidar_sits_in_its_holes(robots: Any, attitude: str) -> None:
    """Poses sampled within the shift and twist of its mounting; true shapes by trimesh."""
    assembly = robots("two_wheels", swap=((UPRIGHT, ATTITUDES[attitude]),))
    (facet,) = (s for s in assembly.sensors if s.sensor.kind == "lidar")
    play = play_of(assembly)[facet.frame]
    assert play is not None and play.shift > 0 and play.twist > 0
    lost = blanked(assembly, facet)
    rng, plain, met = np.random.default_rng(5), hits(assembly, facet), np.zeros(len(lost), dtype=bool)
    for k in range(24):
        way, twist = rng.uniform(0, 2 * math.pi), play.twist * (1 if k % 2 else -1)
        shift = (play.shift * math.cos(way), play.shift * math.sin(way), 0.0)
        moved = facet._replace(pose=facet.pose @ Pose(rot_z(twist), shift))
        met |= hits(assembly, moved)
    assert (met & ~plain).any(), "the play matters here"
    assert not (met & ~lost).any(), f"beams {np.flatnonzero(met & ~lost)} may see the robot"


def test_the_file_says_what_it_is_padded_by(robots: Any) -> None:
    (file,) = laser_filter.artifacts(robots("two_wheels"))
    assert b"by the play of its mounting" in file.data
    taped = robots("two_wheels", swap=((UPRIGHT, ATTITUDES["a standoff exactly behind"]),))
    (file,) = laser_filter.artifacts(taped)
    assert b"gives no figure of play" in file.data


def test_the_scan_of_the_hanging_lidar_is_mirrored(robots: Any) -> None:
    """The same place, hung over: what stood to the left at +a is seen at -a (pose: roll by pi)."""
    swap = "lidar: {part: lidar, on: upper, face: under, at: [0, 1], fixing: adhesive}"
    hanging = robots("two_wheels", swap=((UPRIGHT, swap),))
    upright = robots("two_wheels", swap=((UPRIGHT, "lidar: {part: lidar, on: lower, at: [0, 1], fixing: adhesive}"),))
    (a,) = laser_filter.blocked_sectors(upright).values()
    (b,) = laser_filter.blocked_sectors(hanging).values()
    assert len(a) == len(b) > 0
    for one, other in zip(a, reversed(b)):
        assert (one.lower, one.upper) == pytest.approx((-other.upper, -other.lower), abs=3e-6)


def test_two_lidars_have_a_node_each_and_a_free_view_has_none(robots: Any) -> None:
    assembly = robots("mecanum")
    (file,) = laser_filter.artifacts(assembly)
    read = yaml.safe_load(file.data)
    assert list(read) == ["hanging_filter"], "nothing stands over the shelf"
    (facet,) = (s for s in assembly.sensors if s.placement == "hanging")
    true, lost = hits(assembly, facet), blanked(assembly, facet)
    assert true.any()
    assert not (true & ~lost).any()


@pytest.mark.parametrize("name", ["disc", "four_wheels", "pushed", "shelf"])
def test_no_file_where_nothing_is_blocked(robots: Any, name: str) -> None:
    assert list(laser_filter.artifacts(robots(name))) == []


def test_a_lidar_that_joints_carry_is_warned_of(robots: Any) -> None:
    """Its sectors hold in one position; they are in its own frame."""
    head = """
parts:
  head:
    mass: 100
    bodies: [{box: [40, 60, 8], at: [0, 0, 4]}, {cylinder: [30, 2], at: [0, 0, 9], with: top.pan}]
    bolts: [[0, -20], [0, 20]]
    seats: {top: {at: [0, 0, 10], hole: 3.5, bolts: [[-20, 0], [20, 0]],
                  adjust: [{name: pan, axis: up, motion: driven, range: [-90, 90], motor: {torque: 1, speed: 60}}]}}
"""
    turned = robots("two_wheels", swap=(("catalogue: [parts.yaml]\n", f"catalogue: [parts.yaml]{head}"), (
        "  lidar:       {part: lidar, on: lower, at: [0, 0], points: back}\n",
        "  head:        {part: head, on: lower, at: [0, 0]}\n  lidar:       {part: lidar, on: head}\n")))
    for assembly, warned in ((turned, True), (robots("two_wheels"), False)):
        (file,) = laser_filter.artifacts(assembly)
        assert (b"WARNING: head_pan_joint carries it" in file.data) is warned
