"""A part judged by itself, as the check would on a robot: before it is shared, or drilled for."""
from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from chassis_describe.assembly.model import Assembly, bounds
from chassis_describe.assembly.place import assemble
from chassis_describe.facts.fasteners import ISO_273, ISO_4762_HEAD
from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.fit.mass import links_have_mass, numbers_plausible
from chassis_describe.fit.sight import origin_inside
from chassis_describe.fit.sight_lidar import range_outside_case
from chassis_describe.layout.bare import bare_layout, bare_placement
from chassis_describe.layout.model import CircleShape, Deck, Layout, Part
from chassis_describe.layout.names import RESERVED
from chassis_describe.source import Mark
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.values import replace
from chassis_describe.words import mm, pair

#: What the part is called on its bench where its own name would meet a frame of the robot's.
_ELSE = "alone"
#: A body may reach so far under the base plane (m): pins, solder, screw heads.
UNDER = 0.003
#: A bolt may be so far outside everything that the part is (m): ears that nobody modelled.
OUTSIDE = 0.015


def judged_alone(part: Part) -> list[Finding]:
    """Implausible sizes, masses and inertias, origins inside bodies, nearest ranges inside the case, bodies under the base plane,
    bolts beside the part; worst first. A part with a description of its own is judged where it is placed."""
    if part.described is not None:
        return []
    robot = assemble(_bench(part))
    found = [f for rule in (links_have_mass, numbers_plausible, origin_inside, range_outside_case) for f in rule(robot)]
    found += [*_under(part, robot), *_bolts_beside(part, robot), *_bolts_close(part)]
    return sorted(found, key=lambda f: (f.severity is not Severity.ERROR, f.where[0].line if f.where else 0))


def _bench(part: Part) -> Layout:
    """Nothing but the part, on a scrap of plate."""
    mark = Mark(part.mark.file, part.mark.line, part.mark.column, ())
    scrap = CircleShape(diameter=0.01, mark=mark)
    deck = Deck(name="bench", outline=scrap, thickness=0.001, density=1000.0, lattice=None, mark=mark)
    placed = bare_placement(_named(part), part, "bench", mark, fixing="adhesive")
    return replace(bare_layout("bench", mark), decks={"bench": deck}, placements={_named(part): placed})


def _named(part: Part) -> str:
    return _ELSE if part.name in RESERVED or part.name == "bench" else part.name


def _box(part: Part, robot: Assembly) -> tuple[tuple[float, float, float], tuple[float, float, float]] | None:
    bodies = robot.as_one(_named(part)).bodies
    return bounds(bodies) if bodies else None


def _under(part: Part, robot: Assembly) -> Iterator[Finding]:
    """What reaches under the plane that touches the support: usually `at` was taken for the foot of a body, and is its middle."""
    box = _box(part, robot)
    if box is None or part.wheel is not None or box[0][2] >= -UNDER:
        return
    yield finding("implausible", f"{part.name} reaches {mm(-box[0][2])} below its base plane: is `at` its middle?",
                  severity=Severity.WARNING,
                  hint="`at` is the centre of a body; a box of height h that stands on the plate has its centre at z = h/2",
                  where=[part.marks.get("bodies") or part.mark], of=[part.name], measured=-box[0][2] * 1e3,
                  allowed=UNDER * 1e3, unit="mm")


def _bolts_beside(part: Part, robot: Assembly) -> Iterable[Finding]:
    """Bolts far outside all bodies: a pattern about another origin, or a diameter taken for a radius."""
    box = _box(part, robot)
    if box is None:
        return
    (x0, y0, _), (x1, y1, _) = box
    for number, (x, y) in enumerate(part.bolts):
        out = max(x0 - x, x - x1, y0 - y, y - y1)
        if out > OUTSIDE:
            yield finding("implausible", f"bolt {number + 1} of {part.name}, at {pair((x * 1e3, y * 1e3))} mm, is {mm(out)} "
                          "outside its bodies", severity=Severity.WARNING, hint="are both measured from one origin?",
                          where=[part.bolt_marks[number] if number < len(part.bolt_marks) else part.mark], of=[part.name],
                          measured=out * 1e3, allowed=OUTSIDE * 1e3, unit="mm")
            return


def _bolts_close(part: Part) -> Iterator[Finding]:
    """Two bolts so near to one another that the heads of their screws meet: the first such pair."""
    screw = part.screw or next((s for s in reversed(ISO_273) if part.bolt_hole and ISO_273[s].fine <= part.bolt_hole), None)
    head = ISO_4762_HEAD.get(screw) if screw is not None else None
    if head is None:
        return
    for number, at in enumerate(part.bolts):
        for before, other in enumerate(part.bolts[:number]):
            if math.dist(at, other) < head - SAME_LENGTH:
                yield finding("implausible", f"bolts {before + 1} and {number + 1} of {part.name} are {mm(math.dist(at, other))} "
                              f"apart, and the head of an {screw} is {mm(head)} wide (ISO 4762)", severity=Severity.WARNING,
                              hint="check the digits; two holes for two sizes of one pattern are two parts, one `like` the other",
                              where=[part.bolt_marks[number] if number < len(part.bolt_marks) else part.mark], of=[part.name],
                              measured=math.dist(at, other) * 1e3, allowed=head * 1e3, unit="mm")
                return
