"""One place judged: the errors that it gains over the robot without the part, and the figures that places are ranked by.

The plain way puts the robot together and asks every rule. Where what moves carries no wheel and has no mirror image, most errors
can't come or go by moving it, and those that can are looked for one by one (``quick``); a test holds one way against the other.
"""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly
from chassis_describe.assembly.place import assemble
from chassis_describe.errors import LayoutError
from chassis_describe.facts.bodies import bodies_of
from chassis_describe.facts.footprint import footprint_of, unrounded_hull
from chassis_describe.facts.holes import book_of
from chassis_describe.facts.landings import Landing, part_in_plane
from chassis_describe.facts.sight import arcs_of
from chassis_describe.facts.standing import standing
from chassis_describe.findings import Finding, Severity
from chassis_describe.fit import CHECKS, Check
from chassis_describe.fit.bolts import bolts_on_holes, holes_shared
from chassis_describe.fit.ground import GROUND_CHECKS, base_in_footprint
from chassis_describe.fit.overlap import bodies_overlap
from chassis_describe.fit.waivers import accepted
from chassis_describe.search.group import MovedGroup, group_of, moved, without
from chassis_describe.search.shifted import shifted
from chassis_describe.space.plane.hull import depth
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import half_extents

Key = tuple[str, tuple[str, ...]]

#: Errors that a part without wheels can gain by being moved to holes that are there.
_CAN_COME = frozenset(("hole-taken", "bodies-overlap", "view-blocked", "outside-support", "few-contacts", "contact-lifted",
                       "low-clearance", "base-outside-footprint", "rocks", "rests-tilted"))


#: Rules that have errors and notes only, whose hints take time.
_NO_WARNINGS: tuple[Check, ...] = (bodies_overlap, bolts_on_holes, holes_shared)


class Score(NamedTuple):
    """Figures of a robot that places are compared by (rad, m, m²); ``tip`` None where it has no edge to tip over."""

    blocked: float
    tip: float | None
    com: tuple[float, float, float] | None
    footprint: float | None


class Told(NamedTuple):
    """Codes of the warnings of the robot with the part there, one a finding, and its footprint (m²)."""

    warnings: tuple[str, ...]
    footprint: float | None


class Verdict(NamedTuple):
    """``refused``: the code of the first error gained; else ``score`` is there."""

    refused: str | None
    score: Score | None


class Judge:
    """Places of one placement on one robot."""

    def __init__(self, assembly: Assembly, placement: str, *, area: bool = True) -> None:
        #: Whether footprints are worked out for every place: they cost as much as all else.
        self.area = area
        self.assembly, self.group = assembly, group_of(assembly, placement)
        self.placed = assembly.parts[placement]
        base = assemble(without(assembly, self.group), prefix=assembly.prefix)
        own = self.group.members | {f for s in assembly.sensors if s.placement in self.group.members
                                    for f in (s.frame, s.message_frame)}
        now = error_keys(assembly)
        #: What was wrong without it, and what is wrong with it wherever it is.
        self.known = error_keys(base) | {key for key in now if key[1] and set(key[1]) <= own}
        hull = unrounded_hull(base)
        rolling = {*(w.placement for w in assembly.wheels), *(c.placement for c in assembly.casters)}
        self.quick = (not self.group.images and not self.group.members & rolling
                      and not any(w.finding in _CAN_COME for w in assembly.layout.waivers)
                      and not any(s.calibration is not None for s in assembly.sensors if s.placement in self.group.members)
                      and (assembly.rest is None or (len(hull) > 2 and depth(hull, (0.0, 0.0)) > 0.0)))
        self.ground = tuple(r for r in GROUND_CHECKS if r is not base_in_footprint)

    def __call__(self, to: Landing, *, plain: bool = False) -> Verdict:
        """One place."""
        return self._plain(to) if plain or not self.quick else self._quick(to)

    def _plain(self, to: Landing) -> Verdict:
        try:
            robot = assemble(moved(self.assembly, self.group, to), prefix=self.assembly.prefix)
        except LayoutError as error:
            return Verdict(error.findings[0].code, None)
        gained = [f.code for f in raw_findings(robot) if f.severity is Severity.ERROR and (f.code, f.of) not in self.known]
        return Verdict(gained[0], None) if gained else Verdict(None, score_of(robot, area=self.area))

    def _quick(self, to: Landing) -> Verdict:
        if taken(self.assembly, self.group, to):
            return Verdict("hole-taken", None)
        shift = self.shift(to)
        bodies = bodies_of(self.assembly)
        if next(bodies.in_bodies(self.group.members, shift), None) is not None:
            return Verdict("bodies-overlap", None)
        robot = shifted(self.assembly, self.group.members, shift)
        rules = () if self._stands_as_now(robot) else self.ground
        gained = [f.code for f in _asked(robot, rules) if f.severity is Severity.ERROR and (f.code, f.of) not in self.known]
        if gained:
            return Verdict(gained[0], None)
        score = score_of(robot, area=self.area)
        for frame, arcs in arcs_of(robot).items():
            if math.fsum(a.end - a.start for a in arcs) > math.pi and not any(
                    code == "view-blocked" and frame_owner(robot, frame) == of[0] for code, of in self.known):
                return Verdict("view-blocked", None)
        return Verdict(None, score)

    def _stands_as_now(self, robot: Assembly) -> bool:
        """Whether it stands as it does now, on its feet, and nothing of what moved is below the ground: then no rule about the
        ground has an error to add."""
        now, then = self.assembly.rest, robot.rest
        if now is None or then is None:
            return now is then
        if now.status not in ("stable", "rocks") or then.status != now.status or then.base_in_ground != now.base_in_ground:
            return False
        ground = then.base_in_ground
        return all((ground @ robot.poses[link.name] @ body.pose).t[2]
                   > half_extents(body.solid, ground @ robot.poses[link.name] @ body.pose)[2]
                   for link in robot.links if link.owner in self.group.members for body in link.bodies)

    def shift(self, to: Landing) -> Pose:
        """How what moves gets there, in base_link."""
        facet = self.assembly.decks[to.on]
        local = part_in_plane(self.placed, to.face, to.turn, lattice_point(facet.deck.lattice, to.at), facet.deck.thickness)
        return facet.pose @ local @ self.placed.pose.inverse()

    def told(self, to: Landing) -> Told:
        """What is told of one of the best places beside its score."""
        robot = assemble(moved(self.assembly, self.group, to), prefix=self.assembly.prefix)
        return Told(warnings_of(robot), area_of(robot))


def frame_owner(robot: Assembly, frame: str) -> str:
    """The placement of a sensor's frame."""
    return next(s.placement for s in robot.sensors if s.frame == frame)


def taken(assembly: Assembly, group: MovedGroup, to: Landing) -> bool:
    """Whether another uses one of the holes from that face."""
    book = book_of(assembly)
    return any(book.taken_by((to.on, hole), to.face, group.placement) is not None for hole in to.holes)


def area_of(robot: Assembly) -> float | None:
    """The area of the footprint (m²); None without ground."""
    outline = footprint_of(robot) if robot.rest is not None else ()
    twice = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, (*outline[1:], *outline[:1])))
    return twice / 2 if outline else None


def score_of(robot: Assembly, *, area: bool = True) -> Score:
    """The figures of a robot; ``area``: the footprint too."""
    stand = standing(robot)
    tips = [t.angle for t in stand.tips] if stand is not None else []
    return Score(math.fsum(a.end - a.start for arcs in arcs_of(robot).values() for a in arcs), min(tips, default=None),
                 robot.inertial.com if robot.inertial is not None else None, area_of(robot) if area else None)


@kept
def raw_findings(robot: Assembly) -> list[Finding]:
    """What the rules find, waivers heeded, causes not joined."""
    return _heeded(robot, CHECKS)


def _heeded(robot: Assembly, rules: Sequence[Check]) -> list[Finding]:
    names = (*robot.decks, *robot.parts, *robot.poses)
    return accepted(_asked(robot, rules), robot.layout.waivers, names)


def error_keys(robot: Assembly) -> frozenset[Key]:
    """What is wrong, and of what."""
    return frozenset((f.code, f.of) for f in raw_findings(robot) if f.severity is Severity.ERROR)


def warnings_of(robot: Assembly) -> tuple[str, ...]:
    """The codes of its warnings, in the order of the alphabet."""
    rules = [r for r in CHECKS if r not in _NO_WARNINGS]
    return tuple(sorted(f.code for f in _heeded(robot, rules) if f.severity is Severity.WARNING and f.code != "accept-unused"))


def _asked(robot: Assembly, rules: Sequence[Check]) -> Iterable[Finding]:
    found: dict[Finding, None] = {}
    for rule in rules:
        found.update(dict.fromkeys(rule(robot)))
    return found
