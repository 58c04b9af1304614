"""Measured poses in a YAML file: placement → pose, in metres and degrees, as ROS prints them.

``xyz`` or ``xy``; ``rpy``, ``quat`` (x, y, z, w) or ``yaw``; ``of`` and ``from`` as the options of ``locate``.
"""
from __future__ import annotations

import math
from collections.abc import Mapping

from chassis_describe.changes.measured import Measured, rotation_from_quaternion
from chassis_describe.errors import LayoutError
from chassis_describe.findings import Finding, finding
from chassis_describe.space.pose import from_rpy
from chassis_describe.words import count, nearest
from chassis_describe.yaml_text.compose import compose
from chassis_describe.yaml_text.nodes import Map, Node, Scalar, Seq, decoded, mark_of

_KEYS = {"xyz": 3, "xy": 2, "rpy": 3, "quat": 4, "yaw": 1, "of": 0, "from": 0}
#: Further from the robot than this (m) is a pose in millimetres.
_FAR = 20.0


def measured_of(numbers: Mapping[str, tuple[float, ...]], *, start: str | None = None, of: str | None = None) -> Measured:
    """A pose from what was given: lists by their key, in metres and degrees. Raises ValueError with the reason."""
    for one, other in (("xyz", "xy"), ("rpy", "quat"), ("rpy", "yaw"), ("quat", "yaw")):
        if one in numbers and other in numbers:
            raise ValueError(f"`{one}` and `{other}` say the same; give one of them")
    place: tuple[float | None, ...] = numbers.get("xyz", ()) or (*numbers.get("xy", (None, None)), None)
    if any(v is not None and abs(v) > _FAR for v in place):
        raise ValueError(f"a pose is in metres, and {max((v for v in place if v is not None), key=abs):g} m is no place on a robot")
    rotation = None
    if "rpy" in numbers:
        roll, pitch, yaw = (math.radians(v) for v in numbers["rpy"])
        rotation = from_rpy(roll, pitch, yaw)
    elif "quat" in numbers:
        rotation = rotation_from_quaternion(numbers["quat"])
    if not set(numbers) & {"xyz", "xy", "rpy", "quat", "yaw"}:
        raise ValueError("no pose is given: say `xyz` or `xy`, and `rpy`, `quat` or `yaw`")
    x, y, z = place
    return Measured(xyz=(x, y, z), rotation=rotation, yaw=math.radians(numbers["yaw"][0]) if "yaw" in numbers else None,
                    start=start, of=of)


def read_measured(data: bytes, file: str) -> dict[str, Measured]:
    """Placement → pose, in the order of the file. Raises LayoutError with every fault and its place."""
    text, faults = decoded(data, file)
    root, found = compose(text, file) if not faults else (None, [])
    faults = [*faults, *found]
    out: dict[str, Measured] = {}
    if root is not None and not isinstance(root, Map):
        faults.append(_wrong("expected `placement: {xyz: […], rpy: […]}`", root))
    for name, (_, node) in root.items.items() if isinstance(root, Map) else ():
        taken = _pose(node, faults)
        if taken is not None:
            out[name] = taken
    if not faults and not out:
        faults.append(finding("missing-key", "no pose stands in it", hint="write `lidar: {xyz: [0.1, 0, 0.2], rpy: [0, 0, 90]}`",
                              where=[mark_of(root)] if root is not None else []))
    if faults:
        raise LayoutError(tuple(faults))
    return out


def _pose(node: Node, faults: list[Finding]) -> Measured | None:
    if not isinstance(node, Map):
        faults.append(_wrong("expected a pose such as `{xyz: [0.1, 0, 0.2], rpy: [0, 0, 90]}`", node))
        return None
    numbers: dict[str, tuple[float, ...]] = {}
    words: dict[str, str] = {}
    sound = True
    for key, (at, value) in node.items.items():
        if key not in _KEYS:
            near = nearest(key, _KEYS)
            faults.append(finding("unknown-key", f"`{key}` is no key of a measured pose",
                                  hint=f"did you mean `{near}`?" if near else f"known: {', '.join(_KEYS)}", where=[mark_of(at)]))
            sound = False
        elif not _KEYS[key]:
            if isinstance(value, Scalar) and value.text:
                words[key] = value.text
            else:
                faults.append(finding("wrong-type", f"`{key}` takes the name of a frame or a sensor", where=[mark_of(value)]))
                sound = False
        else:
            taken = _numbers(value, _KEYS[key])
            if taken is None:
                faults.append(_wrong(f"`{key}` takes {count(_KEYS[key], 'finite number')}, without units", value))
                sound = False
            else:
                numbers[key] = taken
    if not sound:
        return None
    try:
        return measured_of(numbers, start=words.get("from"), of=words.get("of"))
    except ValueError as error:
        faults.append(finding("bad-value", str(error), where=[mark_of(node)]))
        return None


def _numbers(node: Node, many: int) -> tuple[float, ...] | None:
    items = node.items if isinstance(node, Seq) else [node] if many == 1 else []
    try:
        values = tuple(float(n.text) for n in items if isinstance(n, Scalar) and n.plain)
    except ValueError:
        return None
    return values if len(values) == len(items) == many and all(map(math.isfinite, values)) else None


def _wrong(message: str, node: Node) -> Finding:
    return finding("wrong-type", message, hint="metres and degrees, as ROS prints them", where=[mark_of(node)])
