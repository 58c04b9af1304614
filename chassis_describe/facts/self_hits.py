"""The beams of a 2D lidar that may end on the robot itself, wherever its screws let it sit in their holes.

Every arc of the scan that the robot cuts is widened on both sides by half a beam, by the twist that the lidar's mounting allows,
and by the angle under which its shift appears at the nearest point of what stands there, asin(shift / distance): a shift across
the line of sight turns the direction to a point at that distance by this much at most.
"""
from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.kinds_of_sensor import is_scanner
from chassis_describe.facts.play import Play, play_of
from chassis_describe.facts.sight import Arc, arcs_all_round, blockers_of, view_of
from chassis_describe.space.sight.rays import cast, layer
from chassis_describe.space.sight.turns import pieces

#: Step of the rays that look for the nearest point within an arc (rad).
_STEP = math.radians(0.1)


class SelfHits(NamedTuple):
    """``arcs`` in the frame's own angles, as in ``arcs_of``; ``play`` that they are widened by, None where there is no figure
    (taped, strapped, turning freely): then by half a beam only."""

    arcs: tuple[Arc, ...]
    play: Play | None


@kept
def self_hits_of(assembly: Assembly) -> Mapping[str, SelfHits]:
    """By frame of each 2D lidar."""
    return {f.frame: _self_hits(assembly, f) for f in assembly.sensors if is_scanner(f)}


def _self_hits(assembly: Assembly, facet: SensorFacet) -> SelfHits:
    play = play_of(assembly).get(facet.frame)
    if play is not None and play.free:
        play = None
    arcs = arcs_all_round(assembly, facet)  # what is just outside of its view may come into it
    twist, shift = (play.twist, play.shift) if play is not None else (0.0, 0.0)
    intervals = []
    for number, arc in enumerate(arcs):
        near = _nearest(assembly, facet, arc) if shift else math.inf
        pad = min(twist + (math.asin(shift / near) if near > shift else math.pi), math.pi)
        intervals.append((arc.start - pad, min(arc.end - arc.start + 2 * pad, 2 * math.pi), number))
    view = view_of(facet)
    return SelfHits(tuple(
        Arc(p.start, p.end, tuple(dict.fromkeys(o for n in p.owners for o in arcs[n].owners)),
            tuple(dict.fromkeys(w for n in p.owners for w in arcs[n].words))) for p in pieces(intervals, view)), play)


def _nearest(assembly: Assembly, facet: SensorFacet, arc: Arc) -> float:
    """The distance of the nearest thing within an arc (m); infinite where no ray meets any."""
    blockers = blockers_of(assembly)
    scene = blockers.scene.seen_from(facet.pose, blockers.of(facet.placement))
    count = max(3, math.ceil((arc.end - arc.start) / _STEP) + 1)
    hits = cast(scene, layer(0.0, np.linspace(arc.start, arc.end, count)), math.inf)
    met = hits.distance[hits.which >= 0]
    return float(met.min()) if len(met) else math.inf
