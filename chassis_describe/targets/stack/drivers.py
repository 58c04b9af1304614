"""What the drivers of a robot's sensors and wheels are to provide. It has no file; the bring-up page says it."""
from __future__ import annotations

import math
from collections.abc import Collection, Iterator

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.looks import DEGREE, looks_of
from chassis_describe.targets.names import Given, Names
from chassis_describe.targets.stack.topics import COMMAND_TOPIC, MAP_FRAME, ODOMETRY_TOPIC, odom_frame, sensor_topics
from chassis_describe.targets.target import Target, nothing

_G = 9.81  # m/s², to the digits that an accelerometer on a bench is read to

_SENSORS = """\
## Sensor drivers

Each driver puts this `frame_id` into its messages and publishes on this topic. Tell a driver that would publish frames
of its own not to, unless the table says that it does.

| placement | sensor | kind | `frame_id` | topic | it |
|---|---|---|---|---|---|
"""
_UPRIGHT = "angles grow counter-clockwise seen from above.\n"
_HANGING = """\
it hangs upside down, so its angles grow clockwise seen from above. The frame says so already: leave the driver's own
inversion off.
"""
_FLIPPED_IMU = """\
It is mounted upside down. The frame turns its data, so neither the driver nor the filter may turn them once more.
"""


def _gives(assembly: Assembly) -> Given:
    """REP-105's frames above the robot, and the topics of sensors and of whatever drives."""
    return Given(frames=frozenset({MAP_FRAME, odom_frame(assembly)}),
                 topics=frozenset({*sensor_topics(assembly).values(), COMMAND_TOPIC, ODOMETRY_TOPIC}))


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    if not assembly.sensors:
        return
    topics = sensor_topics(assembly)
    rows = [_SENSORS]
    for facet in assembly.sensors:
        frame = f"below `{facet.frame}`, by its driver" if facet.sensor.driver_tf else f"`{facet.message_frame}`"
        rows.append(f"| {facet.placement} | {facet.sensor.name} | {facet.sensor.kind.replace('_', ' ')} | {frame} | "
                    f"`{topics[facet.frame]}` | {looks_of(assembly, facet).replace(DEGREE, ' deg')} |\n")
    yield "".join(rows)
    for facet in assembly.sensors:
        if facet.sensor.kind == "lidar":
            yield _scan_check(assembly, facet)
        elif facet.sensor.kind == "imu":
            yield _imu_check(assembly, facet)


def _scan_check(assembly: Assembly, facet: SensorFacet) -> str:
    """Where an object straight ahead must appear in the scan."""
    r = _in_root(assembly, facet)
    ahead = round(math.degrees(math.atan2(r[1], r[0])), 1)
    if facet.sensor.angles == "positive":
        ahead %= 360.0
    text = f"`{facet.placement}`: an object straight ahead appears at {ahead + 0.0:g} degrees of the scan;\n"
    return text + (_HANGING if r[8] < 0 else _UPRIGHT)


def _imu_check(assembly: Assembly, facet: SensorFacet) -> str:
    """What an accelerometer shows at rest: +g along the world's up (REP-145), in the axes printed on the board."""
    r = _in_root(assembly, facet)
    shown = ", ".join(f"{name} {round(_G * v, 2) + 0.0:.2f}" for name, v in zip(("ax", "ay", "az"), r[6:9]))
    text = (f"`{facet.placement}`: standing still on level ground, `linear_acceleration` in the board's own axes\n"
            f"reads about {shown} m/s2 (REP-145).\n")
    return text + (_FLIPPED_IMU if r[8] < -0.5 else "")


def _in_root(assembly: Assembly, facet: SensorFacet) -> tuple[float, ...]:
    return (assembly.poses[assembly.root].inverse() @ facet.pose).r


TARGET = Target(artifacts=nothing, names=Names(), gives=_gives, page=_page)
