"""Which hole a measured pose means, and what is found put into the file: the line for ``locate``."""
from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal

from chassis_describe import compiler
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.changes.goal import Goal, goal_of
from chassis_describe.changes.locate import locate
from chassis_describe.changes.located import Located, Mounting
from chassis_describe.changes.measured import Measured
from chassis_describe.changes.measured_file import read_measured
from chassis_describe.changes.move import Request, written
from chassis_describe.changes.result import MoveResult
from chassis_describe.changing import edited_layout, move
from chassis_describe.disk.file import replace_file
from chassis_describe.errors import UsageError
from chassis_describe.inputs import open_input
from chassis_describe.layout.edit import Wants
from chassis_describe.space.pose import Pose, from_rpy
from chassis_describe.words import plain
from chassis_describe.yaml_text.spelling import number_text, text_like

__all__ = ["calibrate", "locate", "measured_in", "put"]


def measured_in(file: str) -> dict[str, Measured]:
    """The poses of a file of measured poses, by placement. Raises LayoutError, UsageError."""
    try:
        data = open_input(file)
    except OSError as error:
        raise UsageError(f"{file} can't be read: {error.strerror or error}") from error
    return read_measured(data, file)


def put(path: str, found: Located, number: int, *, overlays: Sequence[str] = ()) -> MoveResult | None:
    """Write candidate ``number`` (from 1) into the file of its placement; None where that is how it stands there already.

    Raises UsageError where there is no such candidate, or the file can't be changed so.
    """
    if not 1 <= number <= len(found.candidates):
        raise UsageError(f"there are {len(found.candidates)} candidates for `{found.placement}`, and {number} is none of them")
    chosen = found.candidates[number - 1]
    if chosen.same_place:
        return None
    return move(path, request_of(found.placement, chosen), overlays=overlays)


def request_of(placement: str, m: Mounting) -> Request:
    """A mounting as a request to move."""
    return Request(
        placement=placement, to=None if m.at is None else (_decimal(m.at[0]), _decimal(m.at[1])),
        turn=_decimal(math.degrees(m.turn)), on=m.on, face=m.face,
        set={n: Decimal(repr(v)) for n, v in m.settings().items()} if m.solved else None)


def _decimal(value: float) -> Decimal:
    return Decimal(repr(round(value, 6))) + 0


def calibrate(path: str, placement: str, measured: Measured, *, date: str, overlays: Sequence[str] = ()) -> str:
    """Write what the measured pose differs from the mounting as ``calibrated`` of its sensor; returns what was written, in
    words. What was not measured counts as mounted.

    Raises UsageError where that can't be done: the frame belongs to no sensor of ours, or the sensor is elsewhere than drawn.
    """
    layout = compiler.read(path, overlays=overlays)
    assembly = compiler.assemble(layout)
    target = goal_of(assembly, placement, measured)
    facet = _sensor(assembly, target)
    found = locate(assembly, placement, measured)
    first = found.candidates[0]
    if not first.same_place and first.within_play:
        raise UsageError(f"`{placement}` is not where the file says: {found.verdict}. Put that into the file first, with --write, "
                         "which may be given together with --calibrate")
    start = target.start_pose
    whole = start @ measured.filled(start.inverse() @ target.frame_pose)
    bolted = facet.nominal if facet.nominal is not None else facet.pose
    truly = whole @ target.frame_pose.inverse() @ bolted
    nominal = assembly.decks[layout.base_deck.name].pose.inverse() @ bolted
    # What is written is what counts: the correction is taken from the nominal pose as it will be read again.
    noted = Pose(from_rpy(*(math.radians(round(math.degrees(v), 4)) for v in nominal.rpy)),
                 tuple(round(v, 6) for v in nominal.t))  # type: ignore[arg-type]
    off = bolted.inverse() @ truly
    words = (f"{{nominal: {_pose(noted)}, xyz: {_list(off.t, 1e3)}, rpy: {_list(off.rpy, math.degrees(1.0))}, "
             f"date: {text_like(chr(34), date)}, note: {text_like(chr(34), f'{target.frame} measured in {target.start}')}}}")
    several = len(assembly.parts[facet.placement].part.sensors) > 1
    edit = written(facet.placement, Wants(calibrated=words, sensor=facet.sensor.name if several else None),
                   layout.files[: 1 + len(overlays)])
    then = compiler.assemble(edited_layout(path, layout, edit, overlays))
    now = next(s for s in then.sensors if (s.placement, s.sensor.name) == (facet.placement, facet.sensor.name))
    if now.stale or math.dist(now.pose.t, truly.t) > 1e-5:
        raise UsageError(f"the correction of {facet.frame} would not be taken as it is written; nothing was written")
    replace_file(edit.path, edit.data, was=next(f.data for f in layout.files if f.path == edit.path))
    turned = max(map(abs, off.rpy))
    return (f"{edit.path}: {facet.frame} calibrated: {plain(math.hypot(*off.t) * 1e3)} mm and up to {plain(math.degrees(turned))}° "
            "from where it is bolted")


def _sensor(assembly: Assembly, target: Goal) -> SensorFacet:
    for facet in assembly.sensors:
        if target.frame in (facet.frame, facet.optical_frame) and facet.sensor.link is None:
            return facet
    own = [s for s in assembly.sensors if s.placement == target.owner]
    if len(own) == 1 and own[0].sensor.link is None:
        return own[0]
    raise UsageError(f"{target.frame} is no frame of a sensor, and only sensors are calibrated; name one with --of")


def _pose(pose: Pose) -> str:
    return f"{{xyz: {_list(pose.t, 1e3)}, rpy: {_list(pose.rpy, math.degrees(1.0))}}}"


def _list(values: Sequence[float], unit: float) -> str:
    return f"[{', '.join(number_text(Decimal(repr(round(v * unit, 4)))) for v in values)}]"
