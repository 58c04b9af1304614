"""The smallest plate against every set of holes tried one by one; the rules are those of the issue, the patterns random."""
from __future__ import annotations

import random
from itertools import combinations

import pytest

from chassis_describe.search.smallest_plate import Hole, Rect, Task, Vec2, plates

PITCH = 0.02


def random_task(seed: int) -> tuple[Task, list[Rect]]:
    """A pattern of two to five holes, up to nine holes to bolt to, up to two things in the way."""
    rng = random.Random(seed)
    wanted = tuple((rng.uniform(-0.03, 0.03), rng.uniform(-0.02, 0.02)) for _ in range(rng.randint(2, 5)))
    grid = [(i, j) for i in range(-3, 4) for j in range(-3, 4)]
    bolts = {h: (h[0] * PITCH, h[1] * PITCH) for h in rng.sample(grid, rng.randint(4, 9))}
    task = Task(wanted=wanted, wanted_edge=rng.uniform(0.004, 0.008), bolts=bolts, bolt_edge=rng.uniform(0.004, 0.008), apart=0.007)
    walls = []
    for _ in range(rng.randint(0, 2)):
        x, y = rng.uniform(-0.08, 0.08), rng.uniform(-0.08, 0.08)
        walls.append(Rect(x, y, x + 0.01, y + 0.01))
    return task, walls


def overlap(a: Rect, b: Rect) -> bool:
    return a.x0 < b.x1 and b.x0 < a.x1 and a.y0 < b.y1 and b.y0 < a.y1


def area_by_trying(task: Task, walls: list[Rect], surround: bool) -> float | None:
    """Every set of three holes or more, with shapely's hull; the box about it and the pattern, unless a wall is in it."""
    from shapely.geometry import MultiPoint, Point

    best = None
    names = sorted(task.bolts)
    for size in range(3, len(names) + 1):
        for some in combinations(names, size):
            hull = MultiPoint([task.bolts[h] for h in some]).convex_hull
            if hull.area < 1e-12 or (surround and any(hull.distance(Point(p)) > 1e-9 for p in task.wanted)):
                continue
            edges = [(*task.bolts[h], task.bolt_edge) for h in some] + [(*p, task.wanted_edge) for p in task.wanted]
            box = Rect(min(x - e for x, _, e in edges), min(y - e for _, y, e in edges),
                       max(x + e for x, _, e in edges), max(y + e for _, y, e in edges))
            if not any(overlap(box, w) for w in walls) and (best is None or box.area < best):
                best = box.area
    return best


@pytest.mark.parametrize("seed", range(40))
def test_no_set_of_holes_makes_a_smaller_plate(seed: int) -> None:
    task, walls = random_task(seed)
    for surround in (True, False):
        found = next(plates(task, surround=surround, blocked=lambda r: any(overlap(r, w) for w in walls)), None)
        wanted = area_by_trying(task, walls, surround)
        assert (found is None) == (wanted is None)
        if found is not None and wanted is not None:
            assert found.rect.area == pytest.approx(wanted, rel=1e-9)
            _is_sound(task, found.rect, found.bolts)
            assert not surround or found.overhang == 0.0


@pytest.mark.parametrize("seed", range(12))
def test_heads_at_the_edge_are_avoided(seed: int) -> None:
    """A pin may be inside the plate or outside, but not in its edge: no set of holes whose own box is clear of it makes a smaller one."""
    task, _ = random_task(seed)
    rng = random.Random(1000 + seed)
    pins = [(rng.uniform(-0.05, 0.05), rng.uniform(-0.05, 0.05)) for _ in range(2)]

    def cut(rect: Rect) -> bool:
        return any(rect.away(p) < 0.003 and min(p[0] - rect.x0, rect.x1 - p[0], p[1] - rect.y0, rect.y1 - p[1]) < 0.003 for p in pins)

    found = next(plates(task, surround=False, blocked=lambda r: False, unfit=cut), None)
    best = None
    for size in range(3, len(task.bolts) + 1):
        for some in combinations(task.bolts.values(), size):
            edges = [(*p, task.bolt_edge) for p in some] + [(*p, task.wanted_edge) for p in task.wanted]
            box = Rect(min(x - e for x, _, e in edges), min(y - e for _, y, e in edges),
                       max(x + e for x, _, e in edges), max(y + e for _, y, e in edges))
            in_line = all(abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) < 1e-12 for a, b, c in combinations(some, 3))
            if not in_line and not cut(box) and (best is None or box.area < best):
                best = box.area
    if best is not None:
        assert found is not None and found.rect.area <= best * (1 + 1e-9)
    if found is not None:
        assert not cut(found.rect)
        _is_sound(task, found.rect, found.bolts)


def _is_sound(task: Task, rect: Rect, bolts: tuple[Hole, ...]) -> None:
    def inside(p: Vec2) -> float:
        return min(p[0] - rect.x0, rect.x1 - p[0], p[1] - rect.y0, rect.y1 - p[1])

    assert len(bolts) >= 3
    assert all(inside(task.bolts[h]) >= task.bolt_edge - 1e-9 for h in bolts)
    assert all(inside(p) >= task.wanted_edge - 1e-9 for p in task.wanted)
    assert any(abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) > 1e-9
               for a, b, c in combinations([task.bolts[h] for h in bolts], 3))


def test_both_rules_find_plates_and_none_among_the_random_tasks() -> None:
    """The forty tasks above are worth something: some have no plate that surrounds, some none at all, most have both."""
    kinds = {(area_by_trying(*random_task(seed), True) is not None, area_by_trying(*random_task(seed), False) is not None)
             for seed in range(0, 40, 2)}
    assert (True, True) in kinds and (False, True) in kinds


def test_plates_come_by_area_and_without_what_holds_a_blocked_one() -> None:
    task, _ = random_task(3)
    areas = [f.rect.area for f in plates(task, surround=False, blocked=lambda r: False)]
    assert areas == sorted(areas) and len(areas) > 3
    asked: list[Rect] = []

    def everywhere(rect: Rect) -> bool:
        asked.append(rect)
        return True

    assert list(plates(task, surround=False, blocked=everywhere)) == []
    assert not any(b.holds(a) for n, b in enumerate(asked) for a in asked[:n])
