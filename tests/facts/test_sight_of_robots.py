"""What the sensors of whole robots see: closed forms, laws of turning and mirroring, and trimesh's rays as the judge."""
from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
import yaml

import chassis_describe as cd
from chassis_describe.facts.figures import figures_of
from chassis_describe.facts.sight import arcs_of, sight_of
from chassis_describe.fit.sight import SIGHT_CHECKS
from chassis_describe.reports.figures import figures_data, figures_text
from chassis_describe.space.solids import Box, Cylinder

DEG = math.pi / 180
LIDAR = {"kind": "lidar", "at": [0, 0, 30], "range": [100, 8000], "samples": 720}
FOOT = {"mass": 30, "caster": {"ball": 20, "at": [0, 0, 30]}}
POST = {"mass": 10, "bodies": [{"cylinder": [8, 60], "at": [0, 0, 30]}]}


def robot(tmp_path, placements, parts=None, decks=None, **more):
    """A plate of 400 x 300 mm on three balls; its top is 44 mm over the floor. Lattice of 20 mm."""
    feet = {f"foot_{k}": {"part": "foot", "on": "floor", "face": "under", "at": at}
            for k, at in enumerate(([8, 0], [-8, 5], [-8, -5]))}
    layout = {
        "layout": 1, "robot": "look_out",
        "parts": {"foot": FOOT, "post": POST, "scanner": {"mass": 100, "bodies": [{"cylinder": [70, 40], "at": [0, 0, 20]}],
                                                         "sensors": {"scan": LIDAR}}, **(parts or {})},
        "decks": {"floor": {"outline": {"rectangle": [400, 300]}, "thickness": 4, "density": 700}, **(decks or {})},
        "placements": {**feet, **placements}, **more}
    path = tmp_path / "robot.yaml"
    path.write_text(yaml.safe_dump(layout, sort_keys=False), encoding="utf-8")
    return cd.assemble(cd.read(path))


def arcs(assembly, frame="lidar_frame"):
    return [(a.start, a.end, a.owners) for a in arcs_of(assembly)[frame]]


def codes(assembly):
    return [f.code for check in SIGHT_CHECKS for f in check(assembly)]


# ------------------------------------------------------------------------------------------------------- closed forms
def test_a_post_blocks_its_angle_and_half_a_beam_on_either_side(tmp_path):
    """2·asin(a/D): 4 mm at 60 mm, 7.645°; a beam step of 0.5°."""
    (start, end, owners), = arcs(robot(tmp_path, {"lidar": {"part": "scanner", "on": "floor", "at": [0, 0]},
                                                  "post": {"part": "post", "on": "floor", "at": [3, 0]}}))
    half = math.asin(4 / 60) + 0.25 * DEG
    assert (start, end) == pytest.approx((-half, half), abs=1e-12)
    assert owners == ("post",)


def test_a_post_behind_is_in_two_pieces(tmp_path):
    got = arcs(robot(tmp_path, {"lidar": {"part": "scanner", "on": "floor", "at": [0, 0]},
                                "post": {"part": "post", "on": "floor", "at": [-3, 0]}}))
    half = math.asin(4 / 60) + 0.25 * DEG
    assert [(a, b) for a, b, _ in got] == [(-math.pi, pytest.approx(-math.pi + half)),
                                           (pytest.approx(math.pi - half), math.pi)]


def test_standoffs_between_decks_block_and_belong_to_the_deck_they_stand_on(tmp_path):
    """Four standoffs of 5.5 mm at (±60, ±40) mm: 2·asin(2.75/72.11) each, at ±atan(40/60) and their opposites."""
    lid = {"outline": {"rectangle": [200, 140]}, "thickness": 3, "density": 1180, "above": "floor",
           "standoffs": [{"length": 60, "holes": [[3, 2], [3, -2], [-3, 2], [-3, -2]]}]}
    got = arcs(robot(tmp_path, {"lidar": {"part": "scanner", "on": "floor", "at": [0, 0]}}, decks={"lid": lid}))
    half = math.asin(2.75 / math.hypot(60, 40)) + 0.25 * DEG
    middles = [-math.pi + math.atan2(40, 60), -math.atan2(40, 60), math.atan2(40, 60), math.pi - math.atan2(40, 60)]
    assert [(a, b) for a, b, _ in got] == [pytest.approx((m - half, m + half)) for m in middles]
    assert {o for _, _, o in got} == {("floor",)}


def test_a_lidar_does_not_see_its_own_part_or_beyond_its_view(tmp_path):
    narrow = {"mass": 100, "bodies": [{"box": [60, 60, 60], "at": [0, 0, 30]}],
              "sensors": {"scan": {**LIDAR, "fov": 90, "samples": 180}}}
    got = arcs(robot(tmp_path, {"lidar": {"part": "narrow", "on": "floor", "at": [0, 0]},
                                "ahead": {"part": "post", "on": "floor", "at": [3, 3]},
                                "aside": {"part": "post", "on": "floor", "at": [2, 3]}}, parts={"narrow": narrow}))
    (start, end, owners), = got
    assert owners == ("ahead",)
    assert start == pytest.approx(45 * DEG - math.asin(4 / math.hypot(60, 60)) - 0.25 * DEG)
    assert end == pytest.approx(45 * DEG)


def test_a_wall_around_a_lidar_is_an_error(tmp_path):
    wall = {"mass": 100, "bodies": [{"box": [4, 300, 60], "at": [-50, 0, 30]}, {"box": [100, 4, 60], "at": [0, 150, 30]},
                                    {"box": [100, 4, 60], "at": [0, -150, 30]}]}
    built = robot(tmp_path, {"lidar": {"part": "scanner", "on": "floor", "at": [0, 0]},
                             "wall": {"part": "wall", "on": "floor", "at": [0, 0]}}, parts={"wall": wall})
    (found,) = (f for f in SIGHT_CHECKS[0](built))
    assert (found.code, found.severity.value) == ("view-blocked", "error")
    assert found.measured == pytest.approx(2 * (180 - math.degrees(math.atan2(148, 50))) + 0.5)
    assert found.measured > 180


WEDGE = {"mass": 10, "bodies": [{"box": [60, 60, 10], "at": [0, 0, 5]}],
         "seats": {"face": {"at": [0, 0, 20], "adjust": [{"name": "pitch", "axis": "left", "range": [-10, 10]}]}}}


@pytest.mark.parametrize(("tilt", "floor_at"), [(0.5, 17.19), (1.0, 8.593), (2.0, 4.295), (5.0, 1.7145)])
def test_a_tilted_scan_meets_the_floor_where_trigonometry_says(tmp_path, tilt, floor_at):
    """h/tan(t) for h 0.15 m: plate top at 44 mm, seat at 20, scan plane 86 mm above it (along the tilted normal)."""
    up = 86.0
    far = {"mass": 100, "bodies": [{"cylinder": [70, 40], "at": [0, 0, 20]}],
           "sensors": {"scan": {**LIDAR, "at": [0, 0, up / math.cos(tilt * DEG)], "range": [100, 20000]}}}
    built = robot(tmp_path, {"wedge": {"part": "wedge", "on": "floor", "at": [0, 0], "set": {"pitch": tilt}},
                             "lidar": {"part": "far", "on": "wedge"}}, parts={"wedge": WEDGE, "far": far})
    view = sight_of(built).lidars["lidar_frame"]
    assert view.lean == pytest.approx(tilt * DEG, abs=1e-9)
    assert view.floor.along == pytest.approx(floor_at, rel=5e-4)
    assert ("scan-tilted" in codes(built)) == (tilt > 0.5)
    assert "scan-hits-floor" in codes(built)


@pytest.mark.parametrize(("tilt", "near"), [(0, 0.5210), (15, 0.2753), (30, 0.1620)])
def test_a_camera_sees_the_floor_from_where_trigonometry_says(tmp_path, tilt, near):
    """h/tan(t + V/2), h 0.20 m, V 42°: camera over the front edge of the plate, 156 mm above its top."""
    v = 42 * DEG
    fov = 2 * math.atan(math.tan(v / 2) * 4 / 3) / DEG
    eye = {"mass": 10, "bodies": [{"box": [2, 2, 2], "at": [-10, 0, 1]}],
           "sensors": {"image": {"kind": "camera", "at": [0, 0, 156], "rpy": [0, tilt, 0], "fov": fov,
                                 "resolution": [640, 480]}}}
    built = robot(tmp_path, {"camera": {"part": "eye", "on": "floor", "at": [10.1, 0]}}, parts={"eye": eye})
    assert figures_of(built).cameras["camera_frame"].nearest_floor == pytest.approx(near, abs=5e-5)


def test_a_camera_behind_the_deck_edge_sees_the_floor_past_it(tmp_path):
    """Camera 100 mm over the deck's top and 200 mm behind its front edge: the line over the edge meets the floor at
    144·200/100 = 288 mm, less what the plate's lower edge takes: none, for the top edge is the higher. 1 % for cells."""
    eye = {"mass": 10, "sensors": {"image": {"kind": "camera", "at": [0, 0, 100], "fov": 80, "resolution": [640, 480]}},
           "bodies": [{"box": [2, 2, 2], "at": [-10, 0, 1]}]}
    built = robot(tmp_path, {"camera": {"part": "eye", "on": "floor", "at": [0, 0]}}, parts={"eye": eye})
    assert sight_of(built).cameras["camera_frame"].nearest_floor == pytest.approx(0.288, rel=0.01)


def test_a_ranger_cone_meets_the_floor_where_trigonometry_says(tmp_path):
    """h/tan(fov/2), h 0.06 m, 15°: 0.4557 m, when its range of 1 m gets there; not with 0.4 m."""
    for reach, wanted in ((1000, 0.4557), (400, None)):
        pinger = {"mass": 10, "bodies": [{"box": [2, 2, 2], "at": [-10, 0, 1]}],
                  "sensors": {"echo": {"kind": "ranger", "at": [0, 0, 16], "fov": 15, "range": [20, reach]}}}
        built = robot(tmp_path, {"pinger": {"part": "pinger", "on": "floor", "at": [10.1, 0]}}, parts={"pinger": pinger})
        got = figures_of(built).rangers["pinger_frame"].floor_at
        assert got == (wanted if wanted is None else pytest.approx(wanted, abs=5e-5))
        assert ("cone-hits-floor" in codes(built)) == (wanted is not None)


def test_a_robot_without_ground_has_no_floor(tmp_path):
    path = tmp_path / "bare.yaml"
    path.write_text(yaml.safe_dump({
        "layout": 1, "robot": "bare", "parts": {
            "scanner": {"mass": 100, "bodies": [{"box": [10, 10, 10]}], "sensors": {"scan": {**LIDAR, "rpy": [0, 5, 0]}}}},
        "decks": {"floor": {"outline": {"circle": 200}, "thickness": 4, "density": 700}},
        "placements": {"lidar": {"part": "scanner", "on": "floor"}}}), encoding="utf-8")
    view = sight_of(cd.assemble(cd.read(path))).lidars["lidar_frame"]
    assert (view.lean, view.floor) == (None, None)


# ----------------------------------------------------------------------------------------------------- laws and the judge
def random_build(rng, quarter=0, mirror=False, rpy=(0, 0, 0)):
    """Posts, bars, balls and a standing plate about a lidar, a camera and a ranger at the plate's middle.

    ``quarter`` turns everything on the plate by quarter turns; ``mirror`` reflects it in x-z; ``rpy`` turns the sensors.
    """
    parts, placements = {}, {}
    side = -1 if mirror else 1

    def put(name, part, x, y, turn):
        y, turn = side * y, side * turn
        for _ in range(quarter):
            x, y, turn = -y, x, turn + 90
        placements[name] = {"part": part, "on": "floor", "at": [round(x, 6), round(y, 6)], "turn": round(math.remainder(turn, 360), 6)}

    for k in range(14):
        kind = rng.integers(0, 3)
        height = float(rng.uniform(20, 90))
        if kind == 0:
            body = {"cylinder": [float(rng.uniform(4, 30)), height], "at": [0, 0, height / 2]}
        elif kind == 1:
            body = {"box": [float(rng.uniform(5, 60)), float(rng.uniform(5, 60)), height], "at": [0, 0, height / 2]}
        else:
            body = {"sphere": height, "at": [0, 0, height / 2]}
        parts[f"thing_{k}"] = {"mass": 10, "bodies": [body]}
        away, bearing = rng.uniform(4, 9), rng.uniform(-180, 180) * DEG
        put(f"thing_{k}", f"thing_{k}", away * math.cos(bearing), away * math.sin(bearing), float(rng.uniform(-180, 180)))
    parts["mast"] = {"mass": 100, "bodies": [{"box": [4, 4, 4], "at": [0, 0, 2]}], "sensors": {
        "scan": {**LIDAR, "at": [0, 0, 40], "rpy": list(rpy)},
        "image": {"kind": "camera", "at": [0, 0, 70], "rpy": [0, 20, 0], "fov": 70, "resolution": [640, 480]},
        "echo": {"kind": "ranger", "at": [0, 0, 50], "fov": 20, "range": [20, 150]},
        "layers": {"kind": "lidar", "at": [0, 0, 60], "range": [100, 8000], "layers": 4, "vertical": [-30, 15]}}}
    put("mast", "mast", 0.0, 0.0, 0.0)
    plain = {"outline": {"rectangle": [600, 600]}, "thickness": 4, "density": 700}
    return parts, placements, {"floor": plain}


def built(tmp_path, rng, **how):
    parts, placements, decks = random_build(rng, **how)
    return robot(tmp_path, placements, parts=parts, decks=decks)


def meshes(assembly, without=()):
    out = []
    for link in assembly.links:
        if link.owner in without:
            continue
        for body in link.bodies:
            if not body.collides:
                continue
            if isinstance(body.solid, Box):
                mesh = trimesh.creation.box(extents=body.solid.size)
            elif isinstance(body.solid, Cylinder):
                mesh = trimesh.creation.cylinder(radius=body.solid.radius, height=body.solid.length, sections=360)
            else:
                mesh = trimesh.creation.icosphere(subdivisions=5, radius=body.solid.radius)
            out.append(mesh.apply_transform(matrix(assembly.poses[link.name] @ body.pose)))
        if link.plate is not None:
            mesh = trimesh.creation.extrude_polygon(link.plate.polygon(64), link.plate.thickness)
            mesh.apply_translation([0, 0, -link.plate.thickness])
            out.append(mesh.apply_transform(matrix(assembly.poses[link.name])))
    return trimesh.util.concatenate(out)


def matrix(pose):
    out = np.eye(4)
    out[:3, :3], out[:3, 3] = np.array(pose.r).reshape(3, 3), pose.t
    return out


def brute(mesh, pose, rays):
    """Distance along each ray of the sensor frame to the mesh (inf: none), by trimesh."""
    turn = np.array(pose.r).reshape(3, 3)
    where, ray, _ = mesh.ray.intersects_location(np.tile(pose.t, (len(rays), 1)), rays @ turn.T, multiple_hits=False)
    out = np.full(len(rays), np.inf)
    out[ray] = np.linalg.norm(where - np.array(pose.t), axis=1)
    return out


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("rpy", [(0, 0, 0), (180, 0, 40), (3, -4, 100)])
def test_arcs_are_where_brute_beams_are_blocked(tmp_path, seed, rpy):
    """Every beam that trimesh stops is in an arc, and no arc reaches further than half a beam step and rounding (and
    facets: 0.05°) past a stopped beam."""
    assembly = built(tmp_path, np.random.default_rng(seed), rpy=rpy)
    facet = next(f for f in assembly.sensors if f.frame == "mast_scan_frame")
    angles = (np.arange(7200) + 0.5) * 0.05 * DEG - math.pi
    rays = np.stack([np.cos(angles), np.sin(angles), np.zeros_like(angles)], axis=1)
    stopped = np.isfinite(brute(meshes(assembly, without=("mast",)), facet.pose, rays))
    inside = np.zeros(len(angles), bool)
    for start, end, _ in arcs(assembly, "mast_scan_frame"):
        inside |= (angles > start) & (angles < end)
    assert not (stopped & ~inside).any()
    steps = 7  # half a beam step is 5 of these, and one to either side
    near = np.convolve(np.r_[stopped[-steps:], stopped, stopped[:steps]], np.ones(2 * steps + 1), "valid") > 0
    assert not (inside & ~near).any()
    assert 0.1 < stopped.mean() < 0.95


@pytest.mark.parametrize("seed", range(3))
def test_camera_cone_and_layers_agree_with_brute_rays(tmp_path, seed):
    """The image against 640 x 480 rays (within 0.2 % of it), the cone against 20000, layers against rays of their own."""
    assembly = built(tmp_path, np.random.default_rng(50 + seed))
    whole = meshes(assembly)
    facets = {f.frame: f for f in assembly.sensors}

    camera = sight_of(assembly).cameras["mast_image_frame"]
    u, v = np.meshgrid((np.arange(640) + 0.5) / 320 - 1, (np.arange(480) + 0.5) / 320 - 0.75)
    across = math.tan(35 * DEG)
    rays = np.stack([np.ones_like(u), -u * across, -v * across], axis=2).reshape(-1, 3)
    rays /= np.linalg.norm(rays, axis=1)[:, None]
    distance = brute(whole, facets["mast_image_frame"].pose, rays)
    assert camera.covered == pytest.approx(np.isfinite(distance).mean(), abs=2e-3)
    assert sum(share for _, share in camera.shares) == pytest.approx(camera.covered)
    eye = assembly.rest.base_in_ground @ facets["mast_image_frame"].pose
    out = rays @ np.array(eye.r).reshape(3, 3).T
    with np.errstate(divide="ignore"):
        away = np.where(out[:, 2] < 0, eye.t[2] / -out[:, 2], np.inf)
    free = (away < distance) & np.isfinite(away)
    nearest = (away[free] * np.hypot(out[free, 0], out[free, 1])).min()
    assert camera.nearest_floor == pytest.approx(nearest, rel=0.02)

    ranger = sight_of(assembly).rangers["mast_echo_frame"]
    rng = np.random.default_rng(1)
    tilt, turn = 10 * DEG * np.sqrt(rng.uniform(size=20000)), rng.uniform(0, 2 * math.pi, 20000)
    cone = np.stack([np.cos(tilt), np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn)], axis=1)
    distance = brute(whole, facets["mast_echo_frame"].pose, cone)
    met = distance < 0.150
    assert (met.mean() > 1e-3) == bool(ranger.meets)
    if ranger.meets:
        assert ranger.meets[0][1] == pytest.approx(distance[met].min(), abs=1e-3)

    view = sight_of(assembly).lidars["mast_layers_frame"]
    others = meshes(assembly, without=("mast",))
    assert [layer.elevation for layer in view.layers] == pytest.approx([-30 * DEG, -15 * DEG, 0, 15 * DEG])
    angles = np.linspace(-math.pi, math.pi, 7200, endpoint=False)
    for layer in view.layers:
        c, s = math.cos(layer.elevation), math.sin(layer.elevation)
        rays = np.stack([c * np.cos(angles), c * np.sin(angles), np.full_like(angles, s)], axis=1)
        share = np.isfinite(brute(others, facets["mast_layers_frame"].pose, rays)).mean()
        assert layer.covered == pytest.approx(share, abs=0.01)


def angles_of(assembly):
    return [(a, b) for a, b, _ in arcs(assembly, "mast_scan_frame")]


@pytest.mark.parametrize("quarter", [1, 2, 3])
def test_turning_everything_on_the_plate_changes_nothing_that_is_seen(tmp_path, quarter):
    before = built(tmp_path, np.random.default_rng(7))
    after = built(tmp_path, np.random.default_rng(7), quarter=quarter)
    assert angles_of(after) == [pytest.approx(p, abs=1e-6) for p in angles_of(before)]
    assert sorted(set(codes(after))) == sorted(set(codes(before)))
    one, two = sight_of(before).cameras["mast_image_frame"], sight_of(after).cameras["mast_image_frame"]
    assert one.covered == pytest.approx(two.covered, abs=1e-6)


def test_turning_the_lidar_turns_its_angles_back(tmp_path):
    """Sensing frame turned by a: everything is seen at an angle less by a."""
    before = built(tmp_path, np.random.default_rng(8))
    after = built(tmp_path, np.random.default_rng(8), rpy=(0, 0, 30))
    assert covered(after) == pytest.approx(np.roll(covered(before), -300), abs=0)


def covered(assembly):
    """Which of 3600 directions, 0.1° apart, are in an arc."""
    angles = (np.arange(3600) + 0.5) * 0.1 * DEG - math.pi
    return np.array([any(a < x < b for a, b in angles_of(assembly)) for x in angles]).astype(float)


def test_mirroring_the_robot_mirrors_the_angles_and_hanging_the_lidar_does_too(tmp_path):
    before = angles_of(built(tmp_path, np.random.default_rng(9)))
    mirrored = angles_of(built(tmp_path, np.random.default_rng(9), mirror=True))
    hung = angles_of(built(tmp_path, np.random.default_rng(9), rpy=(180, 0, 0)))
    wanted = [pytest.approx((-b, -a), abs=1e-6) for a, b in reversed(before)]
    assert mirrored == wanted
    assert hung == wanted


@pytest.mark.parametrize(("holes", "said"), [([[3, 3], [3, -3], [-3, 3], [-3, -3]], "standoffs on lower"),
                                             ([[4, 0]], "a standoff on lower")])
def test_the_summary_says_that_it_is_standoffs(holes, said):
    """Between two plates, 30 mm from either; JSON keeps the name of the deck."""
    layout = cd.read("trial.yaml", text=f"""
layout: 1
robot: trial
parts:
  eye: {{mass: 100, bodies: [{{cylinder: [50, 40], at: [0, 0, 20]}}], bolts: [[-20, 0], [20, 0]],
        sensors: {{scan: {{kind: lidar, at: [0, 0, 30], range: [50, 8000], samples: 720}}}}}}
decks:
  lower: {{outline: {{rectangle: [240, 160]}}, thickness: 4, material: birch plywood}}
  upper: {{outline: {{rectangle: [240, 160]}}, thickness: 4, material: birch plywood, above: lower,
          standoffs: [{{length: 60, holes: {holes}}}]}}
placements:
  lidar: {{part: eye, on: lower, at: [0, 0]}}
""")
    assembly = cd.assemble(layout)
    lidar = figures_data(figures_of(assembly))["lidars"]["lidar_frame"]
    assert {name for arc in lidar["arcs"] for name in arc[2]} == {"lower"}
    assert len(lidar["arcs"]) == len(holes)
    assert lidar["blocked_by"] == [said]
    assert f"of its scan blocked by {said}\n" in figures_text("trial", figures_of(assembly))


# --------------------------------------------------------------------------------------------------------------- own case
def test_how_far_a_lidars_own_case_reaches(tmp_path):
    """A box of 60 x 40 mm about the origin: √(30² + 20²) to its corners; a scan 20 mm off the middle: √(30² + 40²). A case
    whose top is below the scan plane is not around it."""
    def reach(at, near=0):
        part = {"mass": 100, "bodies": [{"box": [60, 40, 40], "at": [0, 0, 20]}],
                "sensors": {"scan": {**LIDAR, "at": at, "range": [near, 8000]}}}
        assembly = robot(tmp_path, {"lidar": {"part": "boxed", "on": "floor", "at": [0, 0], "fixing": "adhesive"}}, {"boxed": part})
        return sight_of(assembly).lidars["lidar_frame"].case

    assert reach([0, 0, 30]) == pytest.approx(math.hypot(0.030, 0.020), rel=5e-4)
    assert reach([0, 19.99, 30]) == pytest.approx(math.hypot(0.030, 0.03999), rel=5e-4)
    assert reach([0, 0, 40.5]) == 0.0
