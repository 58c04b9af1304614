"""What a scan plane cuts out of solids: closed forms, laws, and trimesh's rays as an independent judge."""
from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from shapely.geometry import Point, Polygon, box as rectangle

from chassis_describe.space.pose import IDENTITY, Pose, about_axis, from_rpy, rot_x, rot_z, translation
from chassis_describe.space.sight.scene import Sheet, scene_of
from chassis_describe.space.sight.section import shadows
from chassis_describe.space.sight.turns import pieces, total, united, wrapped
from chassis_describe.space.solids import Box, Cylinder, Sphere

DEG = math.pi / 180


def seen(*solids, reach=math.inf, eye=IDENTITY):
    """(start, width, which) of each shadow, starts wrapped."""
    return [(wrapped(s.start), s.width, s.which) for s in shadows(scene_of(solids).seen_from(eye), reach)]


# ------------------------------------------------------------------------------------------------------- closed forms
def test_a_post_hides_twice_the_arc_sine_of_radius_over_distance():
    """Plain trigonometry: 4 mm at 60 mm hide 7.645°."""
    (start, width, _), = seen((Cylinder(0.004, 0.05), translation(0.06, 0, 0.01)))
    assert width == pytest.approx(2 * math.asin(4 / 60), abs=1e-12)
    assert round(width / DEG, 3) == 7.645
    assert start == pytest.approx(-width / 2, abs=1e-12)


def test_a_ball_off_the_plane_hides_the_circle_that_the_plane_cuts():
    """Circle of radius √(5² - 3²) = 4 mm at 60 mm."""
    (_, width, _), = seen((Sphere(0.005), translation(0, 0.06, 0.003)))
    assert width == pytest.approx(2 * math.asin(4 / 60), abs=1e-12)


def test_a_box_hides_the_angle_between_its_near_corners():
    """Square of 20 mm whose near face is 40 mm away: 2·atan(10/40)."""
    (start, width, _), = seen((Box((0.02, 0.02, 0.02)), translation(0.05, 0, 0)))
    assert (start, width) == pytest.approx((-math.atan(0.25), 2 * math.atan(0.25)), abs=1e-12)


def test_a_leaning_post_hides_the_tangents_of_its_ellipse():
    """A cylinder leaning sideways by t cuts an ellipse, a across the beam a/cos t; tangents from D to an ellipse with
    half axes p (along) and q (across): tan = q/√(D² - p²)."""
    t, a, far = 40 * DEG, 0.004, 0.06
    (_, width, _), = seen((Cylinder(a, 0.1), Pose(rot_x(t), (far, 0, 0))))
    assert width == pytest.approx(2 * math.atan(a / math.cos(t) / math.sqrt(far**2 - a**2)), abs=1e-12)


def test_a_lying_cylinder_hides_its_rectangle():
    """Axis in the plane and along y, 3 mm over the plane: a rectangle 2·√(5² - 3²) = 8 mm deep, 40 mm wide."""
    (_, width, _), = seen((Cylinder(0.005, 0.04), Pose(rot_x(90 * DEG), (0.054, 0, 0.003))))
    assert width == pytest.approx(2 * math.atan(20 / 50), abs=1e-12)


def test_what_the_plane_only_touches_is_not_cut():
    level = [(Box((0.02, 0.02, 0.02)), translation(0.1, 0, 0.01)), (Cylinder(0.01, 0.02), translation(0.1, 0, -0.01)),
             (Sphere(0.01), translation(0.1, 0, 0.01)),
             (Sheet(rectangle(0, 0, 0.1, 0.1), 0.003), translation(0.1, 0, 0.0)),
             (Sheet(rectangle(0, 0, 0.1, 0.1), 0.003), translation(0.1, 0, 0.003))]
    assert seen(*level) == []


def test_a_solid_around_the_eye_hides_everything():
    for solid in (Box((0.1, 0.1, 0.1)), Cylinder(0.05, 0.1), Sphere(0.05)):
        assert seen((solid, translation(0.01, 0.02, 0.01))) == [(-math.pi, 2 * math.pi, 0)]
    assert seen((Sheet(rectangle(-1, -1, 1, 1), 0.01), translation(0, 0, 0.005))) == [(-math.pi, 2 * math.pi, 0)]


@pytest.mark.parametrize("solid", [Box((0.04, 0.04, 0.04)), Cylinder(0.02, 0.04), Sphere(0.02)])
def test_an_eye_on_the_face_of_a_solid_loses_half_the_circle(solid):
    """Within rounding of the face on either side: the tangent plane divides the view."""
    for error in (-3e-17, 0.0, 3e-17):
        (start, width, _), = seen((solid, translation(-0.02 + error, 0, 0)))
        assert width == pytest.approx(math.pi, abs=0.02)  # √(2·SKIN/r) for the round ones
        assert abs(wrapped(start - math.pi / 2)) < 0.02


def test_a_wall_out_of_range_hides_only_what_is_in_range():
    """A wall at 0.3 m is in range 0.5 m within ±acos(0.3/0.5)."""
    for wall in ((Box((0.1, 4.0, 1.0)), translation(0.35, 0, 0)),
                 (Sheet(rectangle(-2, -2, 2, 2), 0.1), Pose(about_axis((0, 1, 0), 90 * DEG), (0.4, 0, 0)))):
        (start, width, _), = seen(wall, reach=0.5)
        assert (start, width) == pytest.approx((-math.acos(0.6), 2 * math.acos(0.6)), abs=1e-9)
        assert seen(wall, reach=0.299) == []


def test_a_ball_half_in_range_hides_its_crossings_with_the_range_circle():
    """Circles of radius ρ at distance D and of radius R meet at cos u = (R² + D² - ρ²) / 2RD."""
    (_, width, _), = seen((Sphere(0.1), translation(0.5, 0, 0)), reach=0.42)
    assert width == pytest.approx(2 * math.acos((0.42**2 + 0.25 - 0.01) / (2 * 0.42 * 0.5)), abs=1e-12)
    (_, upright, _), = seen((Cylinder(0.1, 1.0), translation(0.5, 0, 0)), reach=0.42)
    assert upright == pytest.approx(width, abs=1e-9)


def test_a_level_plate_with_a_window_around_the_eye_hides_everything():
    plate = Sheet(Point(0, 0).buffer(0.2).difference(Point(0, 0).buffer(0.1)), 0.01)
    assert seen((plate, translation(0, 0, 0.005))) == [(-math.pi, 2 * math.pi, 0)]
    assert seen((plate, translation(0, 0, 0.005)), reach=0.15) == [(-math.pi, 2 * math.pi, 0)]
    assert seen((plate, translation(0, 0, 0.005)), reach=0.09) == []


def test_a_standing_plate_with_a_window_hides_two_posts():
    """Seen through a window of 40 mm in a plate of 100 mm, 50 mm away: atan(50/50) to atan(20/50) on either side; 2 mm
    thick, which only narrows the window's inner edges by the far face: the near face decides outside."""
    frame = Sheet(Polygon([(-.05, -.05), (.05, -.05), (.05, .05), (-.05, .05)],
                          [[(-.02, -.02), (.02, -.02), (.02, .02), (-.02, .02)]]), 0.002)
    # Plate frame: x up, y left, z towards the robot's back; the plate's top face is at x = 0.05.
    upright = Pose(about_axis((0, 1, 0), -90 * DEG), (0.05, 0, 0))
    left = (math.atan(20 / 52), math.atan(1.0))
    got = seen((frame, upright))
    assert [w for _, w, _ in got] == pytest.approx([left[1] - left[0]] * 2, abs=1e-12)
    assert got[1][0] == pytest.approx(left[0], abs=1e-12)


# ---------------------------------------------------------------------------------------------------- trimesh's judge
def random_pose(rng, spread=0.25):
    axis = rng.normal(size=3)
    return Pose(about_axis(axis, rng.uniform(-math.pi, math.pi)), tuple(rng.uniform(-spread, spread, 3) * (1, 1, 0.3)))


def as_mesh(solid, pose):
    """The same solid as triangles; round ones with 720 or more sides, inscribed."""
    if isinstance(solid, Box):
        mesh = trimesh.creation.box(extents=solid.size)
    elif isinstance(solid, Cylinder):
        mesh = trimesh.creation.cylinder(radius=solid.radius, height=solid.length, sections=720)
    elif isinstance(solid, Sphere):
        mesh = trimesh.creation.icosphere(subdivisions=5, radius=solid.radius)
    else:
        mesh = trimesh.creation.extrude_polygon(solid.region, solid.thickness)
        mesh.apply_translation([0, 0, -solid.thickness])
    matrix = np.eye(4)
    matrix[:3, :3] = np.array(pose.r).reshape(3, 3)
    matrix[:3, 3] = pose.t
    return mesh.apply_transform(matrix)


def random_solids(rng, n):
    kinds = rng.integers(0, 5, n)
    out = []
    for kind in kinds:
        if kind == 0:
            solid = Box(tuple(rng.uniform(0.005, 0.1, 3)))
        elif kind == 1:
            solid = Cylinder(rng.uniform(0.003, 0.04), rng.uniform(0.01, 0.2))
        elif kind == 2:
            solid = Sphere(rng.uniform(0.005, 0.04))
        else:
            window = Point(rng.uniform(-.04, .04), rng.uniform(-.03, .03)).buffer(rng.uniform(.01, .03))
            solid = Sheet(rectangle(-0.08, -0.06, 0.08, 0.06).difference(window), rng.uniform(0.002, 0.01))
        pose = random_pose(rng)
        if kind == 4:  # one that stands, and one that lies
            pose = Pose(from_rpy(90 * DEG * rng.integers(-1, 2), 0, rng.uniform(-3, 3)), pose.t)
        out.append((solid, pose))
    return out


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("reach", [math.inf, 0.16])
def test_shadows_are_where_trimesh_rays_hit(seed, reach):
    """Every beam of 7200, but those within 0.02° of an end of a shadow, meets what it should and nothing else."""
    rng = np.random.default_rng(seed)
    eye = Pose(about_axis(rng.normal(size=3), rng.uniform(0, 0.3)), (0.0, 0.0, 0.01))
    angles = (np.arange(7200) + 0.5) / 7200 * 2 * math.pi - math.pi
    turn = np.array(eye.r).reshape(3, 3)
    rays = np.stack([np.cos(angles), np.sin(angles), np.zeros_like(angles)], axis=1) @ turn.T
    met = 0
    for solid, pose in random_solids(rng, 40):
        scene = scene_of([(solid, pose)]).seen_from(eye)
        found = shadows(scene, reach)
        met += len(found)
        blocked = np.zeros(len(angles), bool)
        edge = np.zeros(len(angles), bool)
        for shadow in found:
            into = (angles - shadow.start) % (2 * math.pi)
            blocked |= into < shadow.width
            for end in (shadow.start, shadow.start + shadow.width):
                edge |= np.abs((angles - end + math.pi) % (2 * math.pi) - math.pi) < 0.02 * DEG
        mesh = as_mesh(solid, pose)
        where, ray, _ = mesh.ray.intersects_location(np.tile(eye.t, (len(rays), 1)), rays, multiple_hits=False)
        hit = np.zeros(len(angles), bool)
        hit[ray[np.linalg.norm(where - eye.t, axis=1) <= reach]] = True
        if scene.holding():
            assert blocked.all()
            continue
        # Facets of round solids stand inside the true surface: up to 0.01 of a radius at the ends of flat ellipses.
        tolerated = edge if not isinstance(solid, (Cylinder, Sphere)) else grown(edge, 8)
        wrong = (blocked != hit) & ~tolerated
        assert not wrong.any(), (solid, pose, angles[wrong] / DEG, [(s.start / DEG, s.width / DEG) for s in found])
    assert met > 5


def grown(mask, steps):
    return np.convolve(np.r_[mask[-steps:], mask, mask[:steps]], np.ones(2 * steps + 1), "valid") > 0


# --------------------------------------------------------------------------------------------------------------- laws
def same(got, wanted):
    """Two lists of shadows, starts on the circle."""
    assert [w[2] for w in got] == [w[2] for w in wanted]
    for a, b in zip(got, wanted):
        assert abs(wrapped(a[0] - b[0])) < 1e-9
        assert abs(a[1] - b[1]) < 1e-9


def by_solid(found):
    return sorted(found, key=lambda s: (s[2], s[1]))


@pytest.mark.parametrize("seed", range(4))
def test_turning_everything_turns_the_angles_and_moving_it_changes_nothing(seed):
    rng = np.random.default_rng(100 + seed)
    solids = random_solids(rng, 30)
    before = by_solid(seen(*solids))
    turned = [(s, Pose(rot_z(1.1)) @ p) for s, p in solids]
    same(by_solid(seen(*turned)), [(wrapped(a + 1.1) if w < 6.28 else a, w, i) for a, w, i in before])
    move = random_pose(rng, 3.0)
    same(by_solid(seen(*[(s, move @ p) for s, p in solids], eye=move)), before)


@pytest.mark.parametrize("seed", range(4))
def test_hanging_the_eye_upside_down_mirrors_the_angles(seed):
    """Rx(180°): y and z change sign, so an angle a becomes -a; starts become ends."""
    solids = random_solids(np.random.default_rng(200 + seed), 30)
    hung = by_solid(seen(*solids, eye=Pose(rot_x(math.pi))))
    same(hung, by_solid([(wrapped(-a - w) if w < 6.28 else a, w, i) for a, w, i in seen(*solids)]))


# ---------------------------------------------------------------------------------------------------------- intervals
def test_pieces_are_cut_at_the_seam_padded_and_joined():
    got = pieces([(3.0, 0.5, 7), (1.0, 0.2, 1), (1.25, 0.2, 2)], pad=0.03)
    assert [p.owners for p in got] == [(7,), (1, 2), (7,)]
    assert [(p.start, p.end) for p in got] == [pytest.approx(v) for v in
                                               ((-math.pi, 3.53 - 2 * math.pi), (0.97, 1.48), (2.97, math.pi))]
    assert total(got) == pytest.approx(0.56 + 0.51)


def test_pieces_stay_in_the_field_of_view():
    view = 2.0
    got = pieces([(0.9, 0.5, 1), (1.001, 0.5, 2), (-1.2, 0.3, 3), (2.9, 0.7, 4)], view=view, pad=0.01)
    assert got == [(-1.0, pytest.approx(-0.89), (3,)), (pytest.approx(0.89), 1.0, (1,))]
    assert pieces([(-math.pi, 2 * math.pi, 1)], view=view, pad=0.01) == [(-1.0, 1.0, (1,))]
    assert pieces([(-1.0, 2 * math.pi, 1)]) == [(-math.pi, math.pi, (1,))]


def test_united_joins_round_the_circle():
    assert united([(3.0, 0.4), (-3.0, 0.5)]) == [(3.0, pytest.approx(2 * math.pi - 6.0 + 0.5))]
    assert united([(0.0, 3.0), (2.0, 3.0), (4.5, 2.0)]) == [(-math.pi, 2 * math.pi)]
