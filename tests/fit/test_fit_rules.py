"""Rules of fit against standards, against brute force, and under moves of the whole robot. Scenes are invented."""
from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from chassis_describe.assembly.model import Assembly
from chassis_describe.compiler import assemble, check, read
from chassis_describe.facts.bodies import Bodies
from chassis_describe.findings import Finding, Severity
from chassis_describe.space.solids import Box, Cylinder, Sphere

PARTS = """
  board: {mass: 60, bodies: [{box: [70, 50, 20], at: [0, 0, 10]}], bolts: [[-30, -20], [-30, 20], [30, -20], [30, 20]]}
  post: {mass: 30, bodies: [{cylinder: [12, 60], at: [0, 0, 30]}, {sphere: 20, at: [0, 0, 60]}], bolts: [[0, 0], [20, 0]]}
  holder: {mass: 50, bodies: [{box: [40, 40, 10], at: [0, 0, 5]}, {box: [6, 40, 40], at: [0, 0, 30]}],
           bolts: [[-20, 0], [20, 0]], seats: {tilted: {at: [3, 0, 35], rpy: [15, 60, 10], lattice: {pitch: 20}}}}
  roller: {mass: 30, bodies: [{cylinder: [30, 44], axis: y, at: [0, 0, 15]}], bolts: [[0, -20], [0, 20]]}
"""
DECK = "  lower: {outline: {rectangle: [400, 400]}, thickness: 4, material: birch plywood%s}\n"


def built(placements: str, deck: str = "", extra: str = "", parts: str = PARTS) -> Assembly:
    text = f"layout: 1\nrobot: trial\n{extra}parts:{parts}decks:\n{DECK % deck}placements:\n{placements}"
    return assemble(read("trial.yaml", text=text))


def codes(findings: list[Finding]) -> list[str]:
    return [f.code for f in findings]


# ------------------------------------------------------------------------------------------------------------ standards
@pytest.mark.parametrize(("screw", "fine", "coarse"), [("M2", 2.2, 2.6), ("M2.5", 2.7, 3.1), ("M3", 3.2, 3.6),
                                                      ("M4", 4.3, 4.8), ("M5", 5.3, 5.8)])
def test_iso_273_clearance_holes(screw: str, fine: float, coarse: float) -> None:
    """ISO 273:1979, fine and coarse series, as reproduced in three agreeing tables."""
    def severities(hole: float) -> list[Severity]:
        one = "  one: {part: board, on: lower, at: [0.5, 0]}\n"
        found = check(built(one, f", lattice: {{hole: {hole}, screw: {screw}}}"))
        return [f.severity for f in found if f.code == "screw-too-big"]

    assert severities(fine) == severities(coarse) == []
    assert severities(round(coarse + 0.1, 2)) == [Severity.NOTE]
    assert severities(float(screw[1:]) - 0.1) == [Severity.ERROR]


def test_bolt_play_by_hand() -> None:
    """c = (H − d)/2 + (h − d)/2: 3.5 mm holes on both sides of an M3 give 0.5 mm, a tapped part 0.25 mm."""
    tapped = PARTS.replace("20]]}\n  post", "20]], tapped: 8}\n  post", 1)
    for parts, play in ((PARTS, 0.5), (tapped, 0.25)):
        for off, expected in ((play - 0.01, []), (play + 0.01, ["bolt-off-hole"])):
            found = check(built(f"  one: {{part: board, on: lower, at: [0.5, 0], offset: [0, {off:.2f}, 0]}}\n",
                                parts=parts))
            assert codes(found) == expected


def test_slots_and_drilled_holes_carry_bolts() -> None:
    """A board on holes of its own pattern, half a pitch off the lattice, drilled into the deck."""
    deck = (", drilled: [{at: [-20, -15], hole: 3.5}, {at: [-20, 25], hole: 3.5}, {at: [40, -15], slot: [12, 3.5]}, "
            "{at: [40, 25], slot: [12, 3.5], turn: 90}]")
    assert codes(check(built("  one: {part: board, on: lower, at: [0.5, 0.25]}\n", deck))) == []
    # 3 mm along: the slot along x takes it, the slot across and the round holes don't.
    (found,) = check(built("  one: {part: board, on: lower, at: [0.65, 0.25]}\n", deck))
    assert found.code == "bolt-off-hole"
    assert found.message.startswith("bolts 1, 2 and 4 ")
    assert found.measured == pytest.approx(3.0)


def test_screws_named_are_the_bolts_that_count() -> None:
    deck = ", cutouts: [{circle: 30, centre: [40, 20]}]"
    assert codes(check(built("  one: {part: board, on: lower, at: [0.5, 0]}\n", deck))) == ["hole-absent"]
    named = "  one: {part: board, on: lower, screws: [[-1, -1], [-1, 1], [2, -1]], points: forward}\n"
    assert codes(check(built(named, deck))) == []


# --------------------------------------------------------------------------------------------------------------- waivers
#: Rollers of 30 mm on neighbouring rows: 10 mm in one another.
CLASH = "  one: {part: roller, on: lower, at: [0, 0]}\n  two: {part: roller, on: lower, at: [1, 0]}\n"


def test_waivers() -> None:
    def with_accept(accept: str) -> list[Finding]:
        return check(built(CLASH, extra=f"checks: {{accept: [{accept}]}}\n"))

    assert codes(check(built(CLASH))) == ["bodies-overlap"]
    (taken,) = with_accept("{finding: bodies-overlap, of: [one, two], because: they are of foam}")
    assert (taken.severity, taken.accepted) == (Severity.NOTE, "they are of foam")
    other = with_accept("{finding: bodies-overlap, of: [two, one], because: a}, {finding: not-fixed, of: [one], because: b}")
    assert [(f.code, f.accepted) for f in other] == [("accept-unused", None), ("bodies-overlap", "a")]
    wrong = with_accept("{finding: hole-taken, of: [one, two], because: a}")
    assert codes(wrong) == ["bodies-overlap", "accept-unused"]
    assert wrong[0].severity is Severity.ERROR



def test_limits_by_name() -> None:
    assert codes(check(built(CLASH, extra="checks: {limits: {overlap_mm: 11}}\n"))) == []


# ------------------------------------------------------------------------------------------------------------------ order
def test_worst_first_then_by_place_and_each_once() -> None:
    placements = ("  loose: {part: board, on: lower, at: [-5.5, 5], fixing: adhesive}\n"
                  "  far: {part: board, on: lower, at: [0.5, 0.4]}\n"
                  "  near: {part: board, on: lower, at: [4.5, 5.4]}\n"
                  "  lone: {part: knob, on: lower, at: [-5, -5]}\n")
    parts = PARTS + "  knob: {mass: 8, bodies: [{cylinder: [16, 12], at: [0, 0, 6]}], bolts: [[0, 0]], tapped: 8}\n"
    found = check(built(placements, parts=parts))
    assert codes(found) == ["bolt-off-hole", "bolt-off-hole", "turns-freely"]
    assert [f.of[0] for f in found] == ["far", "near", "lone"]
    assert len(set(found)) == len(found)


# -------------------------------------------------------------------------------------------------------------------- laws
def _scattered(seed: int) -> list[tuple[str, str, float, float, int, str, str]]:
    rng = np.random.default_rng(seed)
    rows = []
    for n in range(14):
        part = ("board", "roller", "post")[rng.integers(3)]
        step = 0.5 if part == "board" else 0.0
        quarter = int(rng.integers(4))
        i, j = (float(v) for v in rng.integers(-4, 5, 2))
        if part == "board":
            i, j = (i + step, j) if quarter % 2 == 0 else (i, j + step)
        rows.append((f"thing_{n}", part, i, j, 90 * quarter, ("top", "under")[rng.integers(2)], ""))
    return rows


def _layout(rows: list[tuple[str, str, float, float, int, str, str]]) -> str:
    return "".join(f"  {name}: {{part: {part}, on: lower, at: [{i:g}, {j:g}], turn: {turn}, face: {face}}}\n"
                   for name, part, i, j, turn, face, _ in rows)


def _gist(findings: list[Finding], rename: dict[str, str] | None = None) -> list[tuple[str, str, frozenset[str], float]]:
    return sorted((f.code, f.severity.value, tuple(sorted((rename or {}).get(n, n) for n in f.of)),
                   round(f.measured or 0.0, 4)) for f in findings)  # type: ignore[type-var, misc, return-value]


@pytest.mark.parametrize("seed", range(4))
def test_turning_mirroring_and_renaming_change_no_finding(seed: int) -> None:
    """The same build on the square deck, a quarter turn round; its mirror image (parts are symmetric); other names."""
    rows = _scattered(seed)
    plain = _gist(check(built(_layout(rows))))
    assert len(plain) > 3
    turned = [(n, p, -j, i, turn + (90 if face == "top" else -90), face, x) for n, p, i, j, turn, face, x in rows]
    assert _gist(check(built(_layout(turned)))) == plain
    mirrored = [(n, p, i, -j, -turn, face, x) for n, p, i, j, turn, face, x in rows]
    assert _gist(check(built(_layout(mirrored)))) == plain
    new_names = {row[0]: f"other_{k:02d}" for k, row in enumerate(rows)}
    renamed = [(new_names[n], *rest) for n, *rest in rows]
    back = {new: old for old, new in new_names.items()}
    assert _gist(check(built(_layout(renamed))), back) == plain  # type: ignore[arg-type]


# ------------------------------------------------------------------------------------------------------------ brute force
@pytest.mark.parametrize("seed", range(3))
def test_clashes_against_coal_on_all_pairs(seed: int) -> None:
    coal = pytest.importorskip("coal")
    rows = _scattered(10 + seed)
    tilted = "".join(f"  holder_{k}: {{part: holder, on: lower, at: [{3 * k - 4}, {2 * k - 3}]}}\n"
                     f"  guest_{k}: {{part: board, on: holder_{k}, at: [0.5, 0]}}\n" for k in range(3))
    scene = Bodies(built(_layout(rows) + tilted))
    shapes = []
    for body in scene.bodies:
        solid = body.solid
        shapes.append(coal.Box(*solid.size) if isinstance(solid, Box) else coal.Cylinder(solid.radius, solid.length)
                      if isinstance(solid, Cylinder) else coal.Sphere(solid.radius))
    places = [coal.Transform3s(np.array(p.r).reshape(3, 3), np.array(p.t)) for p in scene.poses]
    request = coal.DistanceRequest()
    request.enable_signed_distance = True
    expected = {}
    for i, j in itertools.combinations(range(len(shapes)), 2):
        if scene.owners[i] != scene.owners[j]:
            depth = -coal.distance(shapes[i], places[i], shapes[j], places[j], request, coal.DistanceResult())
            if depth > 1.5e-4:
                key = frozenset((scene.owners[i], scene.owners[j]))
                expected[key] = max(depth, expected.get(key, 0.0))
    found = {frozenset((c.a, c.b)) for c in scene.clashes() if "plate" not in (c.a[0], c.b[0])}
    assert set(expected) == found
    assert len(found) > 3


@pytest.mark.thorough
def test_plate_clashes_against_random_points() -> None:
    """Points inside a body, judged by the plate's own exact `contains`: inside by over 0.2 mm means a finding, and no
    point inside means none."""
    deck = ", cutouts: [{circle: 90}, {rectangle: [120, 60], corner: 10, centre: [150, 0]}, {circle: 60, centre: [-200, 0]}]"
    rows, rng = [], np.random.default_rng(8)
    for n in range(40):
        i, j = rng.uniform(-10, 10, 2)
        drop = rng.uniform(-60, 4)
        rows.append(f"  thing_{n}: {{part: {('board', 'roller', 'post')[n % 3]}, on: lower, at: [{i:.3f}, {j:.3f}], "
                    f"turn: {rng.uniform(0, 360):.2f}, fixing: adhesive, offset: [0, 0, {drop:.2f}]}}\n")
    assembly = built("".join(rows), deck + ", lattice: {hole: 4}")
    scene = Bodies(assembly)
    (item,) = scene.plates
    said = {c.b[1]: c.depth for c in scene.clashes() if c.a[0] == "plate"}
    judged = {True: 0, False: 0}
    for name in assembly.parts:
        deepest = 0.0
        for body, pose, owner in zip(scene.bodies, scene.poses, scene.owners):
            if owner != ("part", name):
                continue
            points = _inside(body.solid, rng, 6000)
            world = points @ np.array(pose.r).reshape(3, 3).T + np.array(pose.t)
            local = (world - np.array(item.pose.t)) @ np.array(item.pose.r).reshape(3, 3)
            into = np.minimum(np.minimum(-local[:, 2], local[:, 2] + item.plate.thickness),
                              np.minimum(item.plate.clearance(local[:, :2]), item.plate.distance_to_holes(local[:, :2])))
            deepest = max(deepest, float(into.max()))
        if deepest > 2e-4:
            assert name in said
        elif deepest < -2e-3:
            assert name not in said
        judged[name in said] += 1
    assert min(judged.values()) >= 8


def _inside(solid: object, rng: np.random.Generator, n: int) -> np.ndarray:
    if isinstance(solid, Box):
        return rng.uniform(-0.5, 0.5, (n, 3)) * np.array(solid.size)
    if isinstance(solid, Cylinder):
        angle, radius = rng.uniform(0, 2 * math.pi, n), solid.radius * np.sqrt(rng.uniform(0, 1, n))
        return np.stack([radius * np.cos(angle), radius * np.sin(angle), rng.uniform(-0.5, 0.5, n) * solid.length], axis=1)
    assert isinstance(solid, Sphere)
    return rng.uniform(-1, 1, (n, 3)) * solid.radius / math.sqrt(3)


def test_only_sensors_that_move_are_said_to_be_looked_at_somewhere() -> None:
    """In a robot with a moving head, a lidar that stands still keeps its plain sentence."""
    from pathlib import Path

    layout = Path(__file__).resolve().parents[2] / "config" / "aviary_watch.yaml"
    said = {f.code: f.message for f in check(assemble(read(layout)))}
    assert "looked at" not in said["view-blocked"]
