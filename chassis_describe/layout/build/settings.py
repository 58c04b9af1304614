"""Drive, ROS settings and check settings from what was read of them."""
from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from chassis_describe.findings import CODES
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.language.table_layout import FASTENERS, LIMIT, ROS
from chassis_describe.layout.model import Fasteners, Maintainer, Placement, RosSettings, Sensor, Waiver

#: Codes that only the reader gives: what can't be read can't be accepted.
READER_CODES = frozenset(("yaml-syntax", "duplicate-key", "unknown-key", "missing-key", "wrong-type", "bad-number",
                          "bad-value", "bad-name", "unknown-name", "meaningless-key", "tree", "plate-file"))


#: Names of placements whose controller (``<placement>_controller``) or system (``<robot>_<placement>``) a drive has already.
DRIVES_OWN = frozenset(("drive", "diff_drive", "mecanum_drive", "omni_wheel_drive", "ackermann_steering",
                        "tricycle_steering"))


def ros(taken: Taken | None, placements: Mapping[str, Placement], r: Reading) -> RosSettings:
    """How the robot meets ROS 2; defaults where nothing is said."""
    if taken is None:
        return usual_ros()
    values = dict(taken.values)
    if taken.get("slam_lidar") is not None:
        _sensing(taken, "slam_lidar", "flat lidar", [n for n, p in placements.items() if any(map(_scans, p.part.sensors))], r,
                 placements)
    if taken.get("scan_from") is not None:
        _sensing(taken, "scan_from", "depth camera or lidar with layers",
                 [n for n, p in placements.items() if any(map(_clouds, p.part.sensors))], r, placements)
    if taken.get("scan_by") == "depth_image":
        _by_depth_image(taken, r, placements)
    person: Taken | None = values.pop("maintainer", None)
    if person is not None and "name" in person.values and "email" in person.values:
        values["maintainer"] = Maintainer(name=person.get("name"), email=person.get("email"))
    return RosSettings(**{**ROS.defaults, **values}, marks=taken.marks())


def usual_ros() -> RosSettings:
    """Where nothing is said."""
    return RosSettings(**ROS.defaults)


def hardware_of(taken: Taken | None, declared: Mapping[str, Any], placements: Mapping[str, Placement], r: Reading) -> None:
    """Report plugins of placements that no motor of their own moves."""
    given: Mapping[str, Any] = (taken.get("hardware_of") if taken is not None else None) or {}
    driven = [n for n, p in placements.items() if any(a.motion == "driven" for a in p.part.adjustments)]
    for name in given:
        assert taken is not None
        key = taken.at("hardware_of").items[name][0]  # type: ignore[union-attr, call-overload]
        path = (*taken.within("hardware_of"), name)
        if name not in declared:
            r.unknown("unknown-name", "a placement that moves by motors of its own", name, driven, key, path)
        elif name in placements and name not in driven:
            r.fault("meaningless-key", f"no motor of its own moves `{name}`", key, path,
                    hint=f"known: {', '.join(driven)}" if driven else "write `hardware` for the wheels' driver",
                    also=[placements[name].mark])


def names_of_controllers(placements: Mapping[str, Placement], r: Reading) -> None:
    """Report driven placements whose controller, or system of ros2_control, would be called as a drive's."""
    for name, placed in placements.items():
        if name in DRIVES_OWN and any(a.motion == "driven" for a in placed.part.adjustments):
            r.fault("bad-name", f"the motors of `{name}` would get a controller or system with the name of a drive's",
                    placed.mark, hint="give the placement another name")


def _scans(sensor: Sensor) -> bool:
    return sensor.kind == "lidar" and sensor.layers == 1


def _clouds(sensor: Sensor) -> bool:
    return sensor.kind == "depth_camera" or (sensor.kind == "lidar" and sensor.layers > 1)


def _sensing(taken: Taken, key: str, what: str, good: list[str], r: Reading, placements: Mapping[str, Placement]) -> None:
    """Reports a placement that doesn't exist, or has no such sensor."""
    name, node, path = taken.get(key), taken.at(key), taken.within(key)
    if name not in placements:
        r.unknown("unknown-name", "a placement", name, good or placements, node, path)
    elif name not in good:
        r.fault("bad-value", f"`{name}` has no {what}", node, path, also=[placements[name].mark],
                hint=f"there {'are' if len(good) > 1 else 'is'} {', '.join(good)}" if good else f"this robot has no {what}")


def _by_depth_image(taken: Taken, r: Reading, placements: Mapping[str, Placement]) -> None:
    """Reports rows of a depth image where nothing gives one, or where no scan is made."""
    cameras = [n for n, p in placements.items() if any(s.kind == "depth_camera" for s in p.part.sensors)]
    named, node, path = taken.get("scan_from"), taken.at("scan_by"), taken.within("scan_by")
    if not cameras:
        r.fault("bad-value", "this robot has no depth camera", node, path, hint="leave `scan_by` out")
    elif named in placements and named not in cameras:
        r.fault("bad-value", f"`{named}`, which `scan_from` names, has no depth camera", node, path, also=[placements[named].mark],
                hint=f"there {'are' if len(cameras) > 1 else 'is'} {', '.join(cameras)}; a lidar's scan is made of its cloud")
    elif named is None and any(_scans(s) for p in placements.values() for s in p.part.sensors):
        r.fault("meaningless-key", "no scan is made of a camera where a flat lidar is, unless `scan_from` names the camera",
                node, path, hint=f"write `scan_from: {cameras[0]}` too, or leave `scan_by` out")


def fasteners(taken: Taken | None) -> Fasteners:
    """What the build sheet chooses from; the defaults where nothing is said."""
    values = {**FASTENERS.defaults, **(taken.values if taken is not None else {})}
    return Fasteners(**{**values, "lengths": tuple(n for n, _ in values.get("lengths", ()))})


def limits(taken: Taken | None) -> dict[str, float]:
    """The limits of the check, with the user's in place of the defaults."""
    given: Taken | None = taken.get("limits") if taken is not None else None
    return {**LIMIT.defaults, **(given.values if given is not None else {})}


def waivers(taken: Taken | None, r: Reading) -> tuple[Waiver, ...]:
    """The findings that the builder accepts."""
    out = []
    for item, _ in taken.get("accept", ()) if taken is not None else ():
        code = item.get("finding")
        if code is not None and (code not in CODES or code in READER_CODES):
            known = [c for c in CODES if c not in READER_CODES]
            r.unknown("unknown-name", "a finding of the check", code, known, item.at("finding"), item.within("finding"))
        if all(k in item.values for k in ("finding", "of", "because")):
            out.append(Waiver(finding=code, of=tuple(n for n, _ in item.get("of")), because=item.get("because"),
                              mark=item.mark()))
    return tuple(out)
