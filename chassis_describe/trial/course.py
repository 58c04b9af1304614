"""The trial course: what the controller's numbers promise against what the body does. No ROS, nothing on a screen.

Same robot, same figures: the engine is deterministic, and nothing here asks a clock. Static friction, motor limits and
rolling are the engine's; play, soft tyres and cables are not in it.
"""
from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal, NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.trial.engine import Engine, Whereabouts, WorldBox
from chassis_describe.trial.kinematics import FloorPose, Motion, goes_sideways, round_and_round, top_speed

#: The speed of the course (m/s), or this share of what the motors can.
SPEED, SHARE = 0.2, 0.4
#: Acceleration at the start and the end of a drive (m/s²; our choice, below what slips on common floors).
_EASE = 0.5
#: Seconds: of rest, of standing still after a drive, within which a brake stops, of watching it.
REST, SETTLE, STOP, WATCH = 3.0, 0.5, 0.1, 1.5
#: Seconds in which a slope tilts, so slowly that nothing swings, and in which it is held after that.
TILT, HOLD = 0.7, 0.5
#: A slope ends when the robot has moved by this (m), leans further than that (rad) than at rest, or at the last look, so
#: many seconds long, still moves by more than this (m).
_MOVED, _LEANS, _LOOK, _STILL = 0.02, math.radians(12), 0.1, 0.0003
#: Slopes are tried up to here, and told apart to this (rad).
STEEPEST, _FINE = math.radians(60), math.radians(0.2)
#: A wheel has lifted when it is this far off the floor (m).
_LIFTED = 0.001
#: Sills: this much higher each time (m), so long (m), never higher than the wheels' axles.
_RISE, _SILL = 0.002, 0.03

Ends = Literal["slides", "rolls", "tips"]
Side = Literal["front", "back", "left", "right"]
_TOWARDS: dict[Side, tuple[float, float]] = {"front": (1, 0), "back": (-1, 0), "left": (0, 1), "right": (0, -1)}


class StandingPose(NamedTuple):
    """Height of base_link over the ground (m), roll and pitch (degrees)."""

    height: float
    roll_deg: float
    pitch_deg: float


class Stand(NamedTuple):
    """After three seconds of rest, against the rest pose that the check solves; ``jitter``: m/s that it still moves."""

    found: StandingPose
    expected: StandingPose
    jitter: float


class DrivenLine(NamedTuple):
    """A drive along a line: asked, what odometry read, what was travelled (m), drift to the left (m), heading gained."""

    asked: float
    odometry: float
    travelled: float
    drift: float
    heading_deg: float


class Turn(NamedTuple):
    """A full turn to the left by odometry, what it was, and the radius (m) of the circle that the root went along: nearly
    nothing on the spot; a robot that steers by its wheels goes round its smallest circle."""

    asked_deg: float
    odometry_deg: float
    turned_deg: float
    radius: float


class Brake(NamedTuple):
    """Wheels and casters that lifted, and whether the robot tipped over."""

    lifted: tuple[str, ...]
    tipped: bool


class Slope(NamedTuple):
    """The slope (degrees) at which the robot no longer stands, and how; ``ends`` None: it stands on the steepest tried."""

    deg: float
    ends: Ends | None


class Trials(NamedTuple):
    """All of the course; None where a trial means nothing: no wheels, no drive, no motors, no way to go sideways."""

    stand: Stand | None
    straight: DrivenLine | None
    turn: Turn | None
    strafe: DrivenLine | None
    brake: Brake | None
    slope: dict[Side, Slope] | None
    step_mm: float | None


def run(assembly: Assembly, told: Callable[[str], None] = lambda name: None) -> Trials:
    """Drive the course. ``told`` hears the name of each trial as it begins. Raises UsageError without the engine."""
    if assembly.rest is None:
        return Trials(None, None, None, None, None, None, None)
    engine = Engine(assembly)
    drive = assembly.drive
    speed = 0.0 if drive is None else min(SPEED, SHARE * top_speed(drive))
    told("stand")
    stand = _stand(engine)
    straight = turn = strafe = brake = None
    step = None
    if drive is not None and speed > 0.0:
        told("straight")
        straight = _line(engine, 1.0, Motion(forward=speed))
        told("turn")
        turn = _turn(engine, speed)
        if goes_sideways(drive):
            told("strafe")
            strafe = _line(engine, 0.5, Motion(left=speed))
        told("brake")
        brake = _brake(engine, speed)
    told("slope")
    slope = {side: _slope(engine, side) for side in _TOWARDS}
    if drive is not None and speed > 0.0:
        told("step")
        step = _steps(assembly, speed, drive.wheel_radius)
    return Trials(stand, straight, turn, strafe, brake, slope, step)


def _stand(engine: Engine) -> Stand:
    engine.reset()
    before = engine.base()[0]
    while engine.time < REST:
        if engine.time < REST - SETTLE:
            before = engine.base()[0]
        engine.step()
    rest = engine.assembly.rest
    assert rest is not None
    position, matrix = engine.base()
    roll, pitch, _ = rest.base_in_ground.rpy
    return Stand(StandingPose(position[2], math.degrees(math.atan2(matrix[7], matrix[8])), math.degrees(-math.asin(matrix[6]))),
                 StandingPose(rest.base_in_ground.t[2], math.degrees(roll), math.degrees(pitch)),
                 math.dist(before, position) / SETTLE)


def _settle(engine: Engine) -> None:
    engine.command(Motion())
    until = engine.time + SETTLE
    while engine.time < until:
        engine.step()


def _drive(engine: Engine, motion: Motion, left: Callable[[FloorPose], float]) -> None:
    """Eased in, at speed, eased out so that what is ``left`` (m or rad by odometry) comes to nothing; then stand still.

    The speed is that at which a steady brake of the same ease ends just there.
    """
    full = abs(motion.turn) or max(abs(motion.forward), abs(motion.left))
    ease = _EASE if not motion.turn else _EASE * 4 if not motion.forward else _EASE * abs(motion.turn / motion.forward)
    begin, limit = engine.time, engine.time + 120.0
    while engine.time < limit:
        rest = left(engine.odometry)
        if rest <= 0.0:
            break
        now = min(full, ease * (engine.time - begin) + 0.01 * full, math.sqrt(2 * ease * rest) + 0.02 * full)
        engine.command(Motion(*(v * now / full for v in motion)))
        engine.step()
    _settle(engine)


def _line(engine: Engine, asked: float, motion: Motion) -> DrivenLine:
    engine.reset()
    _settle(engine)
    start, origin = engine.whereabouts(), engine.odometry
    sideways = motion.left != 0.0

    def left(place: FloorPose) -> float:
        return asked - ((place.y - origin.y) if sideways else (place.x - origin.x))

    _drive(engine, motion, left)
    forward, across, yaw = _seen_from(start, engine.whereabouts())
    travelled, drift = (across, -forward) if sideways else (forward, across)
    return DrivenLine(asked, asked - left(engine.odometry), travelled, drift, math.degrees(yaw))


def _turn(engine: Engine, speed: float) -> Turn:
    engine.reset()
    _settle(engine)
    origin = engine.odometry
    drive = engine.assembly.drive
    assert drive is not None
    total, last = 0.0, engine.whereabouts().yaw
    path: list[tuple[float, float]] = []

    def left(place: FloorPose) -> float:
        nonlocal total, last
        now = engine.whereabouts()
        total += math.remainder(now.yaw - last, 2 * math.pi)
        last = now.yaw
        path.append((now.x, now.y))
        return 2 * math.pi - (place.yaw - origin.yaw)

    _drive(engine, round_and_round(drive, speed), left)
    read = 2 * math.pi - left(engine.odometry)
    return Turn(360.0, math.degrees(read), math.degrees(total), _radius(path))


def _radius(path: list[tuple[float, float]]) -> float:
    """Of a closed round: the mean distance from its middle."""
    x, y = (sum(p[k] for p in path) / len(path) for k in (0, 1))
    return sum(math.dist(p, (x, y)) for p in path) / len(path)


def _brake(engine: Engine, speed: float) -> Brake:
    engine.reset()
    begin = engine.time
    while (passed := engine.time - begin) < speed / _EASE + 1.0:
        engine.command(Motion(forward=min(speed, _EASE * passed)))
        engine.step()
    lifted: dict[str, None] = {}
    begin, tipped = engine.time, False
    while (passed := engine.time - begin) < WATCH:
        engine.command(Motion(forward=speed * max(0.0, 1.0 - passed / STOP)))
        engine.step()
        lifted.update(dict.fromkeys(name for name, gap in engine.gaps().items() if gap > _LIFTED))
        tipped = tipped or engine.whereabouts().tilt > math.radians(45)
    return Brake(tuple(lifted), tipped)


def _slope(engine: Engine, side: Side) -> Slope:
    stands, falls, ends = 0.0, STEEPEST, _held(engine, STEEPEST, side)
    if ends is None:
        return Slope(math.degrees(STEEPEST), None)
    while falls - stands > _FINE:
        middle = (stands + falls) / 2
        found = _held(engine, middle, side)
        if found is None:
            stands = middle
        else:
            falls, ends = middle, found
    return Slope(math.degrees((stands + falls) / 2), ends)


def _held(engine: Engine, angle: float, side: Side) -> Ends | None:
    """What happens on a slope within the time of holding, brakes on; None when it stands."""
    engine.reset()
    start, before, thought = engine.whereabouts(), engine.whereabouts(), engine.odometry
    last_look = TILT + HOLD - _LOOK
    try:
        while engine.time < TILT + HOLD:
            if engine.time <= TILT + engine.step_time:
                engine.tilt_ground(angle * min(1.0, engine.time / TILT), _TOWARDS[side])
            engine.stand_still()
            engine.step()
            now = engine.whereabouts()
            if now.tilt - start.tilt > _LEANS:
                return "tips"
            if math.dist(now[:2], start[:2]) > _MOVED:
                return _how_it_moves(engine, start, FloorPose())
            if engine.time < last_look:
                before, thought = now, engine.odometry
        return _how_it_moves(engine, before, thought) if math.dist(now[:2], before[:2]) > _STILL else None
    finally:
        engine.tilt_ground(0.0, (0, 0))


def _how_it_moves(engine: Engine, before: Whereabouts, thought: FloorPose) -> Ends:
    """Tips: what is uphill has left the ground; rolls: the wheels turned as far as it went; else it slides."""
    now = engine.whereabouts()
    if any(g > 2 * _LIFTED for g in engine.gaps().values()) and now.tilt > math.radians(1.5):
        return "tips"
    went = math.dist(now[:2], before[:2])
    rolled = math.hypot(engine.odometry.x - thought.x, engine.odometry.y - thought.y)
    return "rolls" if rolled > went / 2 or not engine.wheels else "slides"


def _steps(assembly: Assembly, speed: float, axle: float) -> float:
    """The highest sill (mm) that is driven over forwards, whole robot over it."""
    xs = [p[0] for p in footprint_of(assembly)]
    front, back = max(xs), min(xs)
    middle, over = front + 0.05 + _SILL / 2, front + 0.05 + _SILL - back
    limit = 2.0 * over / speed + 2.0
    engine: Engine | None = None
    climbed, height = 0.0, _RISE
    while height < axle:
        sill = WorldBox((middle, 0.0, height / 2), (_SILL, 4.0, height))
        if engine is None:
            engine = Engine(assembly, [sill])
        engine.reshape(0, sill)
        engine.reset()
        while engine.time < limit and engine.whereabouts().x < over and engine.whereabouts().tilt < math.radians(60):
            engine.command(Motion(forward=min(speed, _EASE * engine.time)))
            engine.step()
        if engine.whereabouts().x < over:
            break
        climbed = height
        height += _RISE
    return climbed * 1e3


def _seen_from(start: Whereabouts, end: Whereabouts) -> tuple[float, float, float]:
    """How far forward, to the left and round, from where it started."""
    dx, dy = end.x - start.x, end.y - start.y
    c, s = math.cos(start.yaw), math.sin(start.yaw)
    return dx * c + dy * s, dy * c - dx * s, math.remainder(end.yaw - start.yaw, 2 * math.pi)
