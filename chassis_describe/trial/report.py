"""What a trial course found, as text for people and as JSON for programs."""
from __future__ import annotations

from typing import Any

from chassis_describe.trial.course import DrivenLine, Side, Slope, Trials
from chassis_describe.words import listing, mm, plain

_WAYS: dict[Side, str] = {"front": "front down", "back": "back down", "left": "left side down", "right": "right side down"}


def trials_data(robot: str, trials: Trials) -> dict[str, Any]:
    """For JSON: SI but for names that end in a unit; None where a trial means nothing."""
    stand, turn, brake = trials.stand, trials.turn, trials.brake
    return {"robot": robot, "trials": {
        "stand": None if stand is None else {**stand.found._asdict(), "expected": stand.expected._asdict(),
                                             "jitter": stand.jitter},
        "straight": _line_data(trials.straight),
        "turn": None if turn is None else turn._asdict(),
        "strafe": _line_data(trials.strafe),
        "brake": None if brake is None else {"lifted": list(brake.lifted), "tipped": brake.tipped},
        "slope": None if trials.slope is None else {side: slope._asdict() for side, slope in trials.slope.items()},
        "step": None if trials.step_mm is None else {"climbed_mm": trials.step_mm},
    }}


def _line_data(line: DrivenLine | None) -> dict[str, Any] | None:
    return None if line is None else line._asdict()


def trials_text(robot: str, trials: Trials) -> str:
    """One line a trial."""
    rows: list[tuple[str, str]] = []
    if trials.stand is None:
        return f"{robot}: no wheels and no casters, so nothing can be tried\n"
    found, expected = trials.stand.found, trials.stand.expected
    rows.append(("stand", f"base_link {mm(found.height, 1)} up (solved: {mm(expected.height, 1)}), "
                          f"roll {plain(found.roll_deg)}° ({plain(expected.roll_deg)}°), "
                          f"pitch {plain(found.pitch_deg)}° ({plain(expected.pitch_deg)}°)"
                          + (f", and it does not come to rest: {mm(trials.stand.jitter, 1)}/s"
                             if trials.stand.jitter > 1e-3 else "")))
    if trials.straight is None:
        rows.append(("drive", "not tried: no driven wheels with motors"))
    else:
        rows.append(("straight", _line(trials.straight, "left", "right")))
    if trials.turn is not None:
        turn = trials.turn
        rows.append(("turn", f"odometry reads {plain(turn.odometry_deg, 1)}°, the robot turned {plain(turn.turned_deg, 1)}° "
                             f"on a circle of {mm(turn.radius, 1)}"))
    if trials.strafe is not None:
        rows.append(("strafe", _line(trials.strafe, "back", "forward")))
    if trials.brake is not None:
        lifted = f"{listing(trials.brake.lifted)} lifted" if trials.brake.lifted else "nothing lifted"
        rows.append(("brake", f"{lifted}{', and the robot tipped over' if trials.brake.tipped else ''}"))
    for side, slope in (trials.slope or {}).items():
        rows.append((f"slope, {_WAYS[side]}", _slope(slope)))
    if trials.step_mm is not None:
        rows.append(("step", f"climbs {mm(trials.step_mm / 1e3, 1)}" if trials.step_mm else "climbs none of 2 mm"))
    width = max(len(name) for name, _ in rows)
    return f"{robot}\n" + "".join(f"  {name.ljust(width)}  {text}\n" for name, text in rows) + _CAUTION


_CAUTION = ("A rigid model on an even floor, with motors that hold and no play: what it shows is neither a proof of safety nor a "
            "tuning.\nFirst drive of the real robot: wheels off the ground, then at walking pace with an emergency stop in hand.\n")


def _line(line: DrivenLine, plus: str, minus: str) -> str:
    drift = f", {mm(abs(line.drift), 1)} too far {plus if line.drift > 0 else minus}" if abs(line.drift) > 5e-4 else ""
    turned = f", turned by {plain(line.heading_deg, 1)}°" if abs(line.heading_deg) > 0.05 else ""
    return f"odometry reads {mm(line.odometry, 1)}, the robot went {mm(line.travelled, 1)}{drift}{turned}"


def _slope(slope: Slope) -> str:
    return f"stands at {plain(slope.deg, 0)}° still" if slope.ends is None else f"{slope.ends} at {plain(slope.deg, 1)}°"
