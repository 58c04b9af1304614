"""Adapters for random patterns on random lattices, by arithmetic of the tests' own, shapely and trimesh; what is refused, and how.

Head and hole sizes that are retyped here: ISO 273 medium (M2.5 2.9, M3 3.4), ISO 7089 washers (M3 7 mm), ISO 10642 (M3: head 6.72 mm
wide, 1.86 high), ISO 7046-1 (M2.5: 1.5 high). Parts and robots are invented.
"""
from __future__ import annotations

import json
import math
import random
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml

import chassis_describe as cd
from chassis_describe import adapting
from chassis_describe.adapting import part_of
from chassis_describe.assembly.model import Assembly
from chassis_describe.cli.main import main
from chassis_describe.errors import TargetError, UsageError
from chassis_describe.layout.edit import written_placements
from chassis_describe.layout.put_between import Between, put_between
from chassis_describe.reports.adapter import part_file
from chassis_describe.search.adapter import AdapterWish, adapter
from chassis_describe.search.adapter_part import Adapter, adapter_part

CLEAR = {"M2.5": 2.9, "M3": 3.4}
HEAD = {"M2.5": 1.5, "M3": 1.86}


class Case:
    """One random robot: a deck, and a part on it whose holes match nothing."""

    def __init__(self, seed: int) -> None:
        rng = random.Random(seed)
        self.pitch = rng.choice((10, 15, 20, 25))
        self.face = rng.choice(("top", "under"))
        self.turn = rng.choice((0, 90, -90, 180, 37.5))
        self.at = (round(rng.uniform(-1, 1), 2), round(rng.uniform(-1, 1), 2))
        self.offset = rng.choice(((0, 0, 0), (1.25, -2.5, 0)))
        self.screw = rng.choice(("M3", "M2.5"))
        self.tapped = rng.choice((None, 6))
        self.thickness = rng.choice((2, 4, 5))
        wide, deep = rng.uniform(30, 60), rng.uniform(25, 45)
        self.box = (round(wide, 1), round(deep, 1))
        self.holes = [(round(x * (wide / 2 - 4) + rng.uniform(-1, 1), 2), round(y * (deep / 2 - 4) + rng.uniform(-1, 1), 2))
                      for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))[:rng.choice((3, 4))]]
        how = f"tapped: {self.tapped}" if self.tapped else "bolt_hole: 3.2, flange: 2"
        self.text = (f"layout: 1\nrobot: r\nlattice: {{pitch: {self.pitch}}}\nparts:\n"
                     f"  thing: {{mass: 50, bodies: [{{box: [{self.box[0]}, {self.box[1]}, 12], at: [0, 0, 6]}}], screw: {self.screw}, "
                     f"{how}, bolts: {[list(h) for h in self.holes]}}}\n"
                     f"decks:\n  plate: {{outline: {{rectangle: [240, 200], corner: 10}}, thickness: {self.thickness}, "
                     "material: aluminium}\nplacements:\n"
                     f"  thing: {{part: thing, on: plate, face: {self.face}, at: {list(self.at)}, turn: {self.turn}, "
                     f"offset: {list(self.offset)}}}\n")

    def in_deck(self, p: tuple[float, float]) -> tuple[float, float]:
        """A point of the part on its deck (mm): under it, y is mirrored."""
        a, side = math.radians(self.turn), -1 if self.face == "under" else 1
        x, y = p[0] * math.cos(a) - p[1] * math.sin(a), p[0] * math.sin(a) + p[1] * math.cos(a)
        return (self.at[0] * self.pitch + self.offset[0] + x, self.at[1] * self.pitch + self.offset[1] + side * y)


def made(text: str, **wish: Any) -> tuple[Assembly, Adapter, Assembly]:
    robot = cd.assemble(cd.read("r.yaml", text=text))
    answer = adapter(robot, AdapterWish(placement="thing", **wish))
    assert answer.adapter is not None and answer.robot is not None, answer.why
    return robot, answer.adapter, answer.robot


@pytest.mark.parametrize("seed", range(14))
def test_an_adapter_of_a_random_part(seed: int) -> None:
    from shapely.geometry import Point, Polygon, box

    case = Case(seed)
    robot, one, new = made(case.text)
    said = yaml.safe_load(part_file(robot, one))["parts"]["thing_adapter"]
    plate, side = said["plate"], -1 if case.face == "under" else 1
    origin = (one.at[0] * case.pitch, one.at[1] * case.pitch)

    def on_deck(p: tuple[float, float]) -> tuple[float, float]:
        return (origin[0] + p[0], origin[1] + side * p[1])

    # Bolts stand over holes that the deck has: multiples of the pitch, the whole hole inside the outline.
    deck = box(-110, -90, 110, 90).buffer(10, 64)
    bolts = [on_deck(b) for b in said["bolts"]]
    assert len(bolts) >= 3
    for x, y in bolts:
        assert x / case.pitch == pytest.approx(round(x / case.pitch), abs=1e-7)
        assert y / case.pitch == pytest.approx(round(y / case.pitch), abs=1e-7)
        assert deck.exterior.distance(Point(x, y)) >= 1.75 and deck.contains(Point(x, y))
    # The seat's holes are under the part's, as it was asked to be.
    a = math.radians(said["seats"]["top"].get("rpy", [0, 0, 0])[2])
    seat = said["seats"]["top"]
    holes = [on_deck((seat["at"][0] + x * math.cos(a) - y * math.sin(a), seat["at"][1] + x * math.sin(a) + y * math.cos(a)))
             for x, y in seat["bolts"]]
    for hole, own in zip(holes, case.holes):
        assert hole == pytest.approx(case.in_deck(own), abs=1e-5)
    # Edges: 1.5 diameters, the countersink inside by 1 mm; holes and heads apart; no head under the part.
    (w, d), r = plate["rectangle"], plate["corner"]
    middle = on_deck(plate["centre"])
    outline = box(middle[0] - w / 2 + r, middle[1] - d / 2 + r, middle[0] + w / 2 - r, middle[1] + d / 2 - r).buffer(r, 64)
    for p in bolts:
        assert outline.exterior.distance(Point(p)) >= 1.5 * 3.4 - 0.01 and outline.contains(Point(p))
    for p in holes:
        assert outline.exterior.distance(Point(p)) >= max(1.5 * CLEAR[case.screw], seat["countersink"] / 2 + 1) - 0.01
        assert all(math.dist(p, b) >= seat["countersink"] / 2 + 1.7 + 1 - 1e-6 for b in bolts)
    x, y = case.box[0] / 2, case.box[1] / 2
    part = Polygon([case.in_deck(p) for p in ((-x, -y), (x, -y), (x, y), (-x, y))])
    assert all(part.distance(Point(b)) >= 3.5 - 1e-6 for b in bolts)
    assert part.covers(Point(holes[0])) and Polygon(bolts).convex_hull.buffer(1e-6).covers(Polygon(holes)) == (one.overhang == 0.0)
    # Thick enough for the head; as heavy as its outline less holes and cones.
    t = plate["thickness"]
    assert t >= HEAD[case.screw] + 1 and (t == case.thickness or case.thickness < HEAD[case.screw] + 1)
    big, small = seat["countersink"] / 2, seat["hole"] / 2
    cone = math.pi / 3 * (big - small) * (big**2 + big * small + small**2) - math.pi * small**2 * (big - small)
    area = outline.area - len(bolts) * math.pi * 1.7**2 - len(holes) * math.pi * small**2
    link = next(k for k in new.links if k.name == "thing_adapter_link")
    assert link.inertial is not None
    assert link.inertial.mass == pytest.approx((area * t - len(holes) * cone) * 2700e-9, rel=1e-4)
    # The part is where it was, only further out.
    was, now = robot.parts["thing"].pose, new.parts["thing"].pose
    out = t + (0 if case.tapped else 5)
    assert now.r == pytest.approx(was.r, abs=1e-12)
    assert now.t == pytest.approx((was.t[0], was.t[1], was.t[2] + side * out * 1e-3), abs=1e-9)
    assert [f.message for f in cd.check(new) if f.severity == "error"] == []


@pytest.mark.parametrize("seed", [0, 3, 5])
def test_the_part_file_is_the_part(seed: int) -> None:
    robot, one, _ = made(Case(seed).text)
    read, meant = part_of(robot, one), adapter_part(robot, one)
    assert read.plate is not None and meant.plate is not None
    for name in ("size", "corner", "centre", "thickness", "density"):
        assert getattr(read.plate, name) == pytest.approx(getattr(meant.plate, name), abs=1e-12)
    assert [c for b in read.bolts for c in b] == pytest.approx([c for b in meant.bolts for c in b], abs=1e-12)
    assert (read.bolt_hole, read.screw, read.flange) == pytest.approx((meant.bolt_hole, meant.screw, meant.flange))
    assert read.seats["top"].at == pytest.approx(meant.seats["top"].at, abs=1e-12)
    assert read.seats["top"].attitude.rpy == pytest.approx(meant.seats["top"].attitude.rpy, abs=1e-12)
    assert [(b.at, b.hole, b.countersink) for b in read.seats["top"].bolts] == [
        (pytest.approx(b.at, abs=1e-12), pytest.approx(b.hole), pytest.approx(b.countersink)) for b in meant.seats["top"].bolts]


#: A relay board (invented) that fits no 20 mm lattice.
RELAY = """# my robot
layout: 1
robot: r
parts:
  relay: {mass: 62, bodies: [{box: [76, 56, 18], at: [0, 0, 9]}], bolts: [[-33, -23.5], [33, -23.5], [33, 23.5], [-33, 23.5]], %s}
decks:
  plate: {outline: {rectangle: [240, 200], corner: 10}, thickness: 4, material: birch plywood}
placements:
%s"""
HOLES = "bolt_hole: 3.2, flange: 3"
FLOW = "  thing: {part: relay, on: plate, at: [0.3, 0.5], turn: 30, note: mind the sun}  # here\n"


def relay(placements: str = FLOW, part: str = HOLES, deck: str = "") -> str:
    text = RELAY % (part, placements)
    return text.replace("decks:\n", f"decks:\n{deck}") if deck else text


def test_sizes_that_are_asked_for() -> None:
    _, one, _ = made(relay(), thickness=0.006, gap=0.008, material="PLA")
    assert (one.thickness, one.gap, one.material, one.density) == (0.006, 0.008, "PLA", 1240.0)
    assert one.rise == pytest.approx(0.014)
    _, turned, _ = made(relay("  thing: {part: relay, on: plate, at: [0.3, 0.5]}\n"))
    _, free, _ = made(relay("  thing: {part: relay, on: plate, at: [0.3, 0.5]}\n"), quarters=True)
    assert free.rect.area <= turned.rect.area
    _, lifted, _ = made(relay("  thing: {part: relay, on: plate, at: [0.3, 0.5], lift: 8}\n"))
    assert lifted.gap == 0.008 and lifted.rise == pytest.approx(0.004)  # spacers stay, the plate comes under them


@pytest.mark.parametrize(("at", "heads", "under"), [
    ("[4, -2]", [(60, -40), (100, -40)], 0), ("[-1, 3]", [(-40, 60), (0, 60)], 0), ("[0, 0]", [(-20, 0), (20, 0)], 2),
    ("[4, -4]", [(60, -80), (100, -80)], 0)])
def test_heads_of_others_stay_free(at: str, heads: list[tuple[float, float]], under: int) -> None:
    """A part that hangs below and whose screws have their heads on top: the plate is beside them, or has holes for them (7 mm of an
    ISO 7089 washer and 1 mm more), 2 mm from its edge, clear of the countersinks and of its own screws' heads."""
    hung_there = f"  hung: {{part: hung, on: plate, face: under, at: {at}}}\n"
    hung = "  hung: {mass: 20, bodies: [{box: [60, 10, 8], at: [0, 0, 4]}], bolts: [[-20, 0], [20, 0]], tapped: 6}\n"
    robot, one, new = made(relay(FLOW + hung_there).replace("parts:\n", f"parts:\n{hung}"))
    reliefs = [(round(x * 1e3, 6), round(y * 1e3, 6), round(d * 1e3, 6)) for x, y, d in one.reliefs]
    assert len(reliefs) == under and {d for _, _, d in reliefs} <= {8.0}
    for x, y in heads:
        assert (x, y, 8.0) in reliefs or one.rect.away((x / 1e3, y / 1e3)) >= 0.0035 - 1e-9
    r = one.rect
    for x, y, _ in reliefs:
        assert min(x - r.x0 * 1e3, r.x1 * 1e3 - x, y - r.y0 * 1e3, r.y1 * 1e3 - y) >= 6 - 1e-6
        assert all(math.dist((x, y), (u * 1e3, v * 1e3)) >= 4 + 3.4 + 1 - 1e-6 for u, v in one.wanted)
        assert all(math.dist((x, y), (20 * i, 20 * j)) >= 7 for i, j in one.holes)
    flat = part_of(robot, one).plate
    assert flat is not None and len(flat.holes) == under
    assert [f for f in cd.check(new) if f.severity == "error" and "few-contacts" not in f.code] == []


def test_a_head_where_a_hole_is_to_be_is_said() -> None:
    hung = "  hung: {mass: 20, bodies: [{box: [60, 10, 8], at: [0, 0, 4]}], bolts: [[-20, 0], [20, 0]], tapped: 6}\n"
    placements = "  thing: {part: relay, on: plate, at: [0.3, 0.1]}\n  hung: {part: hung, on: plate, face: under, at: [1, -1]}\n"
    robot = cd.assemble(cd.read("r.yaml", text=relay(placements).replace("parts:\n", f"parts:\n{hung}")))
    answer = adapter(robot, AdapterWish(placement="thing"))
    assert answer.adapter is None and "a screw of hung is where one of its bolts would be" in answer.why


def test_a_smaller_plate_that_is_passed_over_is_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "r.yaml"
    path.write_text(relay(), encoding="utf-8")
    assert main(["adapter", str(path), "thing", "--json"]) == 0
    one = json.loads(capsys.readouterr().out)["adapter"]
    assert one["passed_over"]["area_mm2"] < one["plate"]["area_mm2"] and one["passed_over"]["overhang_mm"] > 0 == one["part"]["overhang_mm"]
    assert main(["adapter", str(path), "thing"]) == 0
    said = re.search(r"a smaller plate, ([\d.]+) x ([\d.]+) mm, is passed over", capsys.readouterr().out)
    assert said and float(said[1]) * float(said[2]) == pytest.approx(one["passed_over"]["area_mm2"], rel=1e-3)


def test_screws_all_round_are_worth_twice_the_area() -> None:
    """On the top of a tray with a window there is room for them; below, the screws of what is on top are in the way, and the least
    plate of all is taken."""
    text = """layout: 1
robot: r
lattice: {pitch: 25, hole: 4.5, screw: M4}
parts:
  tube: {mass: 40, bodies: [{box: [50, 20, 20], at: [0, 0, 10]}], bolts: [[-20, 0], [20, 0]], bolt_hole: 3.4}
  sniffer:
    mass: 210
    bodies: [{box: [62, 44, 31], at: [0, 0, 15.5]}, {box: [20, 10, 60], at: [30, 10, 30]}]
    bolts: [[-27, -18], [27, -16], [24.5, 18], [-27, 18]]
    tapped: 5
    screw: M2.5
decks:
  tray:
    outline: {polygon: [[-150, -100], [150, -100], [170, 0], [150, 100], [-150, 100]]}
    thickness: 3
    material: HDPE
    cutouts: [{circle: 60, centre: [40, 0]}]
    skip: [[1, 3], [-1, 3]]
placements:
  below: {part: sniffer, on: tray, face: under, at: [-2.4, 0.3], turn: 12}
  above: {part: sniffer, on: tray, at: [1.4, -0.37], turn: -41}
  tube: {part: tube, on: tray, at: [-2.2, 2.5], turn: 10}
"""
    robot = cd.assemble(cd.read("r.yaml", text=text))
    for name, more, juts in (("above", 1.18, False), ("below", 2.08, True)):  # the bound of 2 is our choice
        answer = adapter(robot, AdapterWish(placement=name))
        one, other = answer.adapter, answer.passed_over
        assert one is not None and other is not None
        small, large = sorted((one, other), key=lambda a: a.rect.area)
        assert large.rect.area / small.rect.area == pytest.approx(more, abs=0.01)
        assert (one.overhang > 0, small.overhang > 0, large.overhang) == (juts, True, 0)


def test_cantilever_is_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """At the rim of a narrow deck no screws are all round."""
    path = tmp_path / "r.yaml"
    path.write_text(relay("  thing: {part: relay, on: plate, at: [4.8, 0.5]}\n"), encoding="utf-8")
    assert main(["adapter", str(path), "thing"]) == 0
    said = capsys.readouterr().out
    assert "mm beyond the plate's own screws" in said
    assert main(["adapter", str(path), "thing", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["adapter"]["part"]["overhang_mm"] > 5


SEATED = "  tray: {part: flat_holder, on: plate, at: [0, 0]}\n  thing: {part: relay, on: tray.plate, at: [0.3, 0]}\n"


@pytest.mark.parametrize(("text", "wish", "words"), [
    (relay(), {"placement": "thnig"}, "did you mean `thing`"),
    (relay(SEATED), {}, "sits on a seat of `tray`"),
    (relay("  thing: {part: relay, on: plate, at: [0.3, 0], fixing: strap}\n"), {}, "held by a strap"),
    (relay("  thing: {part: relay, on: plate, at: [0.3, 0], fixing: adhesive}\n"), {}, "held by adhesive"),
    (relay(FLOW + "  twin: {mirror_of: thing}\n"), {}, "`twin` mirrors `thing`"),
    (relay(FLOW + "  twin: {mirror_of: thing}\n"), {"placement": "twin"}, "`twin` mirrors `thing` and takes its place from it"),
    (relay("  thing: {part: relay, on: plate, at: [0.3, 0], offset: [0, 0, 2]}\n"), {}, "along z, which nothing holds"),
    (relay(), {"thickness": 0.0025}, "too thin: the head of a countersunk M3 is 1.86 mm high"),
    (relay(), {"material": "birchwood"}, "not a known material"),
    (relay().replace("[-33, 23.5]]", "[-33, 23.5], [-33, 18]]"), {}, "countersinks of 6.8 mm would run into one another"),
    (relay().replace(", bolts: [[-33, -23.5], [33, -23.5], [33, 23.5], [-33, 23.5]], bolt_hole: 3.2, flange: 3", ""), {}, "no bolts"),
    (relay().replace("[[-33, -23.5], [33, -23.5], [33, 23.5], [-33, 23.5]]", "[[3, 3]]"), {}, "has one bolt"),
    (relay().replace("material: birch plywood", "material: birch plywood, lattice: none").replace("at: [0.3, 0.5]", "at: [0, 0]"), {}, "no lattice to bolt an adapter to"),
    (relay(part="screw: M12"), {}, "no countersunk M12"),
])
def test_what_no_adapter_is_made_for(text: str, wish: dict[str, Any], words: str) -> None:
    robot = cd.assemble(cd.read("r.yaml", text=text))
    with pytest.raises(UsageError, match=words):
        adapter(robot, AdapterWish(**{"placement": "thing", **wish}))


@pytest.mark.parametrize(("placements", "deck", "needed", "words"), [
    ("  thing: {part: flat_holder, on: plate}\n", "", False, "meet holes of plate"),
    # three holes in reach, all in line: the deck is a strip
    ("  thing: {part: relay, on: strip, at: [0.3, 0.5]}\n",
     "  strip: {outline: {rectangle: [240, 24]}, thickness: 4, above: plate, standoffs: [{length: 40, holes: [[-5, 0], [5, 0]]}]}\n",
     True, "not in line are needed"),
    # an upper deck too near above
    (FLOW, "  lid: {outline: {rectangle: [240, 200]}, thickness: 3, above: plate, standoffs: [{length: 22, holes: [[-5, -4], [-5, 4], "
     "[5, -4], [5, 4]]}]}\n", True, "9 mm further from plate it would be in deck lid"),
    # a roof over all holes, and a wall where every plate would be
    (FLOW + "  roof: {part: roof, on: plate, fixing: adhesive}\n", "", True, "under other parts"),
    (FLOW + "  wall: {part: wall, on: plate, at: [2, 0], fixing: adhesive}\n", "", True, "wall is in the way"),
])
def test_none_needed_and_no_room(placements: str, deck: str, needed: bool, words: str) -> None:
    wall = ("  roof: {mass: 20, bodies: [{box: [240, 200, 2], at: [0, 0, 30]}]}\n"
            "  wall: {mass: 20, bodies: [{box: [2, 40, 2], at: [0, 0, 1]}]}\n")
    text = relay(placements, deck=deck).replace("parts:\n", f"parts:\n{wall}", 1)
    answer = adapter(cd.assemble(cd.read("r.yaml", text=text)), AdapterWish(placement="thing"))
    assert answer.adapter is None and answer.needed is needed and re.search(words, answer.why), answer.why


def test_what_stands_on_it_goes_along() -> None:
    """A post carries a wide tray: screws stay clear of the tray, and both are further out by plate and spacers, 4 and 5 mm."""
    parts = ("  post: {mass: 30, bodies: [{box: [20, 20, 40], at: [0, 0, 20]}], bolts: [[-7, -7], [7, 7]], bolt_hole: 3.2, "
             "seats: {head: {at: [0, 0, 40]}}}\n  tray: {mass: 30, bodies: [{box: [70, 50, 4], at: [0, 0, 2]}]}\n")
    robot, one, new = made(relay("  thing: {part: post, on: plate, at: [0.3, 0.4]}\n  tray: {part: tray, on: thing, fixing: strap}\n")
                           .replace("parts:\n", f"parts:\n{parts}"))
    for name in ("thing", "tray"):
        was, now = robot.parts[name].pose, new.parts[name].pose
        assert now.t == pytest.approx((was.t[0], was.t[1], was.t[2] + 0.009), abs=1e-12) and now.r == was.r
    x, y = robot.parts["tray"].pose.t[:2]
    for i, j in one.holes:
        assert max(abs(20e-3 * i - x) - 0.035, abs(20e-3 * j - y) - 0.025) >= 0.0035 - 1e-9


def test_slots_and_circles_get_round_holes() -> None:
    ring = [[round(30 * math.cos(math.radians(a)), 3), round(30 * math.sin(math.radians(a)), 3)] for a in (10, 130, 250)]
    text = relay().replace("[[-33, -23.5], [33, -23.5], [33, 23.5], [-33, 23.5]]", str(ring))
    assert made(text)[1].overhang == 0.0
    slots = text.replace(str(ring), "[{at: [-33, 0], slot: [12, 3.2]}, {at: [33, 0], slot: [12, 3.2]}]").replace("bolt_hole: 3.2, ", "")
    _, one, new = made(slots)
    assert len(one.wanted) == 2 and not [f for f in cd.check(new) if f.severity == "error"]


# ------------------------------------------------------------------------------------------------------------------- files
BLOCK = """  # the relays
  thing:
    part: relay
    on: plate     # the lower one
    at: [0.3, 0.5]
    turn: 30      # to the sun
    note: mind it
  other: {part: imu_board, on: plate, at: [-3.5, 3.5], face: under}
"""


@pytest.mark.parametrize(("text", "gone", "come"), [
    (relay(), [FLOW.rstrip("\n")], ["catalogue: [thing_adapter.yaml]",
                                   "  thing: {part: relay, on: thing_adapter, lift: 5, note: mind the sun}  # here",
                                   "  thing_adapter: {part: thing_adapter, on: plate, at: [0, 0]}"]),
    (relay(BLOCK), ["    on: plate     # the lower one", "    at: [0.3, 0.5]", "    turn: 30      # to the sun"],
     ["catalogue: [thing_adapter.yaml]", "    on: thing_adapter     # the lower one", "    lift: 5",
      "  thing_adapter: {part: thing_adapter, on: plate, at: [0, 0]}"]),
    (relay().replace("parts:", "catalogue: []\nparts:"), ["catalogue: []", FLOW.rstrip("\n")],
     ["catalogue: [thing_adapter.yaml]", "  thing: {part: relay, on: thing_adapter, lift: 5, note: mind the sun}  # here",
      "  thing_adapter: {part: thing_adapter, on: plate, at: [0, 0]}"]),
    (relay().replace("parts:", "catalogue:\n- more.yaml  # mine\nparts:").replace("\n", "\r\n"), [FLOW.rstrip("\n")],
     ["- thing_adapter.yaml", "  thing: {part: relay, on: thing_adapter, lift: 5, note: mind the sun}  # here",
      "  thing_adapter: {part: thing_adapter, on: plate, at: [0, 0]}"]),
])
def test_write_changes_these_lines_alone(text: str, gone: list[str], come: list[str], tmp_path: Path) -> None:
    path = tmp_path / "r.yaml"
    path.write_bytes(text.encode("utf-8"))
    (tmp_path / "more.yaml").write_text("parts: {}\n", encoding="utf-8")
    assert main(["adapter", str(path), "thing", "--write"]) == 0
    old, new = text.splitlines(), path.read_bytes().decode("utf-8").splitlines()
    assert sorted(set(old) - set(new)) == sorted(gone) and sorted(set(new) - set(old)) == sorted(come)
    assert len(new) == len(old) - len(gone) + len(come)
    assert path.read_bytes().count(b"\r\n") in (0, len(new))
    robot = cd.assemble(cd.read(path))
    assert [f.message for f in cd.check(robot) if f.severity == "error"] == []
    before = path.read_bytes()
    assert main(["adapter", str(path), "thing", "--write"]) == 2  # it is on a seat now
    assert path.read_bytes() == before


CORPUS = sorted((Path(__file__).resolve().parents[1] / "changes" / "corpus").glob("*.yaml"))


def test_any_layout_is_changed_in_these_places_alone() -> None:
    """Block and flow style, anchors, merges, comments, BOM, CRLF, Unicode: by PyYAML, only what is meant is different, or a reason."""
    done, reasons = 0, []
    for path in CORPUS:
        data = path.read_bytes()
        old = yaml.safe_load(data.decode("utf-8-sig"))
        for name in written_placements(data, path.name):
            wants = Between(placement=name, adapter="zz", line="{part: zz, on: lower}", lift=Decimal(5), part_file="parts/zz.yaml")
            try:
                new = put_between(data, path.name, wants)
            except UsageError as error:
                reasons.append(str(error))
                continue
            read = yaml.safe_load(new.decode("utf-8-sig"))
            assert "parts/zz.yaml" in read.pop("catalogue") and read["placements"].pop("zz")
            own = read["placements"].pop(name)
            assert own.get("on", own.get(True)) == "zz" and own["lift"] == 5
            was = dict(old["placements"])
            del was[name]
            assert read == {**{k: v for k, v in old.items() if k != "catalogue"}, "placements": was}
            done += 1
    assert done > 20 and reasons and all("write" in r for r in reasons)


def test_nothing_is_written_where_it_can_not_be_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str],
                                                      monkeypatch: pytest.MonkeyPatch) -> None:
    path, mine = tmp_path / "r.yaml", tmp_path / "mine.yaml"
    text = relay()
    path.write_text(text, encoding="utf-8")
    mine.write_text("parts: {}\n", encoding="utf-8")
    assert main(["adapter", str(path), "thing"]) == 0
    assert yaml.safe_load(capsys.readouterr().out)["parts"].keys() == {"thing_adapter"}  # standard output is a part file
    assert sorted(p.name for p in tmp_path.iterdir()) == ["mine.yaml", "r.yaml"]
    assert main(["adapter", str(path), "thing", "--write", "-o", str(mine)]) == 2  # somebody else's
    assert path.read_text(encoding="utf-8") == text and mine.read_text(encoding="utf-8") == "parts: {}\n"
    shared = text.replace("at: [0.3, 0.5]", "at: &a [0.3, 0.5]") + "  two: {part: imu_board, on: plate, face: under, at: *a, fixing: adhesive}\n"
    path.write_text(shared, encoding="utf-8")
    assert main(["adapter", str(path), "thing", "--write"]) == 2
    assert path.read_text(encoding="utf-8") == shared
    over = tmp_path / "over.yaml"
    over.write_text("placements: {thing: {turn: 40}}\n", encoding="utf-8")
    path.write_text(text, encoding="utf-8")
    assert main(["adapter", str(path), "thing", "--write", "--with", str(over)]) == 2
    assert path.read_text(encoding="utf-8") == text and not (tmp_path / "thing_adapter.yaml").exists()
    capsys.readouterr()

    def refused(*_: object, **__: object) -> None:
        raise TargetError("r.yaml can't be written")

    monkeypatch.setattr(adapting, "replace_file", refused)  # of two files one is there by then: that is said
    assert main(["adapter", str(path), "thing", "--write"]) == 2
    assert path.read_text(encoding="utf-8") == text and "thing_adapter.yaml is written already" in capsys.readouterr().err


@pytest.mark.parametrize("shelf", ["", "catalogue: [more.yaml]\n"])
def test_an_overlay_that_has_the_part_is_written(shelf: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A list replaces another: part files that the layout names stay in force."""
    path, over = tmp_path / "r.yaml", tmp_path / "variants" / "over.yaml"
    over.parent.mkdir()
    (tmp_path / "more.yaml").write_text("parts: {}\n", encoding="utf-8")
    text = relay("  board: {part: imu_board, on: plate, face: under, at: [-3.5, 3.5]}\n").replace("parts:\n", f"{shelf}parts:\n", 1)
    path.write_text(text, encoding="utf-8")
    over.write_text(f"# with the relays\nplacements:\n{FLOW}", encoding="utf-8")
    hints = [f.hint for f in cd.check(cd.assemble(cd.read(path, overlays=[str(over)]))) if f.code == "bolt-off-hole"]
    assert f"`chassis_describe adapter {path} thing --with {over}`" in hints[0]
    assert main(["adapter", str(path), "thing", "--with", str(over), "--write", "-o", str(over.parent / "plate.yaml")]) == 0
    assert f"plate.yaml: written; {over}: thing_adapter put under thing" in capsys.readouterr().out
    assert path.read_text(encoding="utf-8") == text
    said = yaml.safe_load(over.read_text(encoding="utf-8"))
    assert said["catalogue"] == ["../more.yaml", "plate.yaml"][not shelf:] and said["placements"]["thing"][True] == "thing_adapter"
    assert [f for f in cd.check(cd.assemble(cd.read(path, overlays=[str(over)]))) if f.severity == "error"] == []


def test_the_hint_of_the_check_names_both_ways() -> None:
    robot = cd.assemble(cd.read("r.yaml", text=relay(FLOW.replace(", turn: 30", ""))))
    hint = next(f.hint for f in cd.check(robot) if f.code == "bolt-off-hole")
    assert "under `drilled`" in hint and "draw r.yaml --deck plate --template" in hint and "`chassis_describe adapter r.yaml thing`" in hint


@pytest.mark.judge
def test_the_adapter_is_cut_and_printed(tmp_path: Path) -> None:
    trimesh = pytest.importorskip("trimesh")
    path, out = tmp_path / "r.yaml", tmp_path / "thing_adapter.yaml"
    path.write_text(relay(), encoding="utf-8")
    assert main(["adapter", str(path), "thing", "-o", str(out)]) == 0
    assert main(["draw", str(out), "-o", str(tmp_path / "a.stl")]) == 0
    mesh = trimesh.load(tmp_path / "a.stl")
    new = made(relay())[2]
    inertial = next(k for k in new.links if k.name == "thing_adapter_link").inertial
    assert mesh.is_watertight and inertial is not None
    assert mesh.volume * 680e-9 == pytest.approx(inertial.mass, rel=1e-3)
    assert main(["draw", str(out), "--template", "-o", str(tmp_path / "a.svg")]) == 0
    assert main(["parts", str(out)]) == 0  # the part file judges well by itself
