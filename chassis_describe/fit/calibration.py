"""Calibrated sensors: whether the correction still holds, and whether screws in their holes explain it."""
from __future__ import annotations

import math
from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.play import play_of
from chassis_describe.findings import Finding, finding
from chassis_describe.space.pose import Pose, angle_of, from_rpy
from chassis_describe.tolerances import SAME_ANGLE, SAME_LENGTH
from chassis_describe.words import mm, plain


def calibrations_hold(assembly: Assembly) -> Iterator[Finding]:
    """``calibration-stale`` and ``calibration-beyond-play``."""
    into_deck = assembly.decks[assembly.layout.base_deck.name].pose.inverse()
    for facet in assembly.sensors:
        done = facet.calibration
        if done is None or facet.nominal is None:
            continue
        where = [done.mark, facet.mark]
        if facet.stale:
            off = Pose(from_rpy(*done.nominal_rpy), done.nominal_xyz).inverse() @ into_deck @ facet.nominal
            when = f" of {done.date}" if done.date else ""
            yield finding(
                "calibration-stale", f"{facet.frame} is {mm(math.hypot(*off.t))} and {plain(math.degrees(angle_of(off.r)))}° from "
                f"where it was calibrated: the correction{when} is not applied", hint="calibrate again, or move it back",
                where=where, of=[facet.placement], measured=math.hypot(*off.t) * 1e3, allowed=0.01, unit="mm")
            continue
        play = play_of(assembly).get(facet.frame)
        shift, twist = math.hypot(*done.xyz), angle_of(from_rpy(*done.rpy))
        if play is None or (shift <= play.shift + SAME_LENGTH and twist <= play.twist + SAME_ANGLE):
            continue
        yield finding(
            "calibration-beyond-play", f"the calibration of {facet.frame} moves it by {mm(shift)} and "
            f"{plain(math.degrees(twist))}°; its screws let it go {mm(play.shift)} and {plain(math.degrees(play.twist))}°",
            hint="is it in another hole, or bent? Correct the layout, then calibrate again", where=where, of=[facet.placement],
            measured=shift * 1e3, allowed=play.shift * 1e3, unit="mm")
