"""docs/simulation.md: what Gazebo's model of this robot has in it, and what not."""
from __future__ import annotations

from collections.abc import Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.usual_sensors import PIXELS, RATES, VIEWS, range_of, rate_of
from chassis_describe.layout.build.casters import why_still
from chassis_describe.layout.model import ImuNoise
from chassis_describe.targets.description.described import described_others, described_placements, has_system
from chassis_describe.targets.description.joint_control import driven_placements
from chassis_describe.targets.description.ros2_control import is_controlled, lacks_controller
from chassis_describe.targets.names import PageNames
from chassis_describe.targets.simulation.gazebo import world
from chassis_describe.targets.simulation.gazebo.model import dropped_plugins, model_of
from chassis_describe.targets.simulation.gazebo.motion import own_system, positioned, uses_plugin
from chassis_describe.targets.simulation.gazebo.sensors import (
    bumper_collisions,
    sensor_frame,
)
from chassis_describe.targets.simulation.gazebo.streams import sensor_streams
from chassis_describe.targets.stack import distros
from chassis_describe.targets.stack.topics import sensor_topics
from chassis_describe.targets.target import Target
from chassis_describe.words import listing
from chassis_describe.xmltree import ascii_text

PATH = "docs/simulation.md"
_HEAD = """\
# {robot} in Gazebo {release}

Written by chassis_describe for ROS 2 {distro}. **Not tried in Gazebo here**: model and world are judged by libsdformat, names
were taken from the sources of Gazebo and of its bridge. What a simulator shows is no proof of safety: drive the real robot first
with its wheels off the ground, then at walking pace with an emergency stop in hand.

## Modelled

- Masses, inertias, collision shapes, joints with their limits, motors' torques and speeds, from the layout.
- The robot is put down with {root} on the ground.
"""
_SENSORS = """
## Sensors

| placement | sensor | Gazebo's type | `frame_id` | topic | rate, range, noise | assumed |
|---|---|---|---|---|---|---|
"""
_NOT = """
## Not modelled

- Play of the screws, soft tyres, cables, a battery that sags, delays of drivers. Bodies are rigid.
- Self-collision: the robot's own parts pass through one another.
- Sensors see what is drawn, and only that: glass and mirrors look like walls.
"""


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The page; nothing with ``simulation: none``."""
    if assembly.layout.ros.simulation == "none":
        return
    model, distro = model_of(assembly), assembly.layout.ros.distro
    text = [_HEAD.format(robot=assembly.robot, release=distros.text("gz_release", distro), distro=distro,
                         root=f"`{assembly.root}`" if assembly.rest else "its lowest point")]
    text += [f"- {line}\n" for line in (*_moves(model), *_rolls(assembly, model), *_described(model), *_world(assembly))]
    if model.sensors:
        text.append(_SENSORS)
        text += [_row(model, facet) for facet in model.sensors]
        text += [f"\n{line}\n" for line in _remarks(model)]
    text.append(_NOT)
    text += [f"- {line}\n" for line in _lacking(model)]
    yield Artifact(path=PATH, data="".join(text).encode("ascii", "replace"))


def _moves(model: Assembly) -> Iterator[str]:
    """Who moves what."""
    system = own_system(model)
    if uses_plugin(model):
        driven = [*(["the wheels"] if is_controlled(model) else []), *driven_placements(model)]
        yield (f"gz_ros2_control runs the controllers of `config/controllers.yaml` ({listing(driven, 20)}), as on the robot; it "
               "brings its own controller_manager: start no other. Joints that nobody commands are measured, so `joint_states` has "
               "them all.")
    yield from () if not system else [{
        "diff-drive": "Gazebo's own differential drive turns the wheels, publishes `odom` and its transform.",
        "mecanum-drive": "Gazebo's own mecanum drive turns the wheels, publishes `odom` and its transform.",
        "ackermann-steering": "Gazebo's own Ackermann steering turns and steers the wheels, publishes `odom` and its transform.",
        "velocity-control": "Gazebo has no drive of this kind: the body as a whole is moved as `cmd_vel` asks, its wheels glide "
                            "without friction and do not turn. Good for sensors and navigation, not for what wheels do.",
    }[system]]
    if model.layout.ros.control == "ros2_control" and lacks_controller(model):
        yield "ros2_controllers of this distro has no controller for the drive."
    if positioned(model):
        names = listing([j.name for j in positioned(model)], 20)
        yield f"Motors go where `<joint>/command` (std_msgs/Float64, rad or m) asks: {names}."


def _rolls(assembly: Assembly, model: Assembly) -> Iterator[str]:
    """Friction by wheel and caster."""
    drive = model.drive
    if model.wheels and own_system(model) != "velocity-control":
        values = sorted({w.friction for w in model.wheels})
        yield (f"Friction of wheels on the floor: {listing(f'{v:g}' for v in values)} "
               "(0.8 where the part says nothing, common practice)"
               + _kind(model) + ".")
    if drive is None and not model.wheels and not model.casters:
        yield "Nothing rolls: it lies there."
    if model.casters:
        values = sorted({c.friction for c in model.casters})
        still = [c.placement for c in model.casters if why_still(model.parts[c.placement].part)]
        turning = [c.placement for c in model.casters if c.kind == "wheel" and c.placement not in still]
        yield f"Friction of casters: {listing(f'{v:g}' for v in values)} (0.1 where the part says nothing, common practice)."
        if turning:
            yield f"Swivel casters turn: {listing(turning)}."
        for name in still:
            yield f"The swivel caster {name} glides without turning: {why_still(model.parts[name].part)}."


def _kind(model: Assembly) -> str:
    """What is special about the friction of this drive."""
    drive = model.drive
    if any(w.rollers for w in model.wheels):
        return ("; wheels with rollers are plain cylinders that push along the rollers' axles and slide freely across them, so "
                "they roll more smoothly than real ones")
    if drive is not None and drive.kind == "skid_steer":
        return "; sideways they creep under load, as wheels that skid do: calibrate turns on the real floor"
    return ""


def _described(model: Assembly) -> Iterator[str]:
    """What became of the simulator's and control's elements of foreign descriptions."""
    theirs = [placed.name for placed, found, _ in described_placements(model) if has_system(found)]
    if theirs:
        yield (f"The ros2_control hardware that the descriptions of {listing(theirs)} name is replaced by the simulator's"
               + ("" if uses_plugin(model) else "; nothing loads it here, since no controller of ours runs: its joints hang free")
               + ". Controllers for those joints are yours to load.")
    dropped = sorted({name for e in described_others(model) if e.tag == "gazebo" for name in dropped_plugins(e)})
    if dropped:
        yield (f"Left out of the descriptions that others wrote: {listing(f'`{d}`' for d in dropped)} (one controller manager is "
               "enough; plugins of Gazebo classic are loaded by no release that is written for here).")


def _world(assembly: Assembly) -> Iterator[str]:
    given = assembly.layout.world
    names = listing([f"`{name}`" for name in world.systems(assembly)], 20)
    if given is None or given.form != "sdf":
        yield f"The world is an empty floor, with the systems {names}."
        return
    added = world.completed(assembly)[1]
    yield f"The world is yours{f', with {listing(added, 20)} added' if added else ''}; this robot needs the systems {names}."


def _row(model: Assembly, facet: SensorFacet) -> str:
    first = sensor_streams(model, facet)[0]
    kind = facet.sensor.kind
    type_ = {"ranger": "gpu_lidar, narrow", "depth_camera": "rgbd_camera", "lidar": "gpu_lidar", "gnss": "navsat"}.get(kind, kind)
    said = [f"{rate_of(facet):g} Hz"]
    if kind in ("lidar", "ranger", "camera", "depth_camera"):
        near, far = range_of(facet)
        said.append(f"{near:g} to {far:g} m")
    noise = facet.sensor.noise
    if isinstance(noise, ImuNoise):
        said.append(f"{noise.gyro:g} rad/s, {noise.accel:g} m/s2")
    elif noise:
        said.append(f"{noise * 1e3:g} mm")
    else:
        said.append("no noise")
    topic = sensor_topics(model)[facet.frame]
    return (f"| {facet.placement} | {facet.sensor.name} | {type_} | `{sensor_frame(model, facet)}` | `{topic}` "
            f"({first.ros_type.rpartition('/')[2] if kind != 'depth_camera' else 'PointCloud2'}) | {', '.join(said)} | "
            f"{', '.join(_assumed(facet)) or 'nothing'} |\n")


def _assumed(facet: SensorFacet) -> Iterator[str]:
    """What the layout leaves open."""
    sensor = facet.sensor
    if sensor.rate is None and sensor.kind in RATES:
        yield "rate"
    if sensor.range is None and sensor.kind in ("lidar", "ranger", "camera", "depth_camera"):
        yield "range"
    if sensor.fov is None and sensor.kind in VIEWS:
        yield "field of view"
    if sensor.resolution is None and sensor.kind in ("camera", "depth_camera"):
        yield f"{PIXELS[0]} x {PIXELS[1]} pixels"
    if sensor.samples is None and sensor.kind == "lidar":
        yield "360 beams"


def _remarks(model: Assembly) -> Iterator[str]:
    kinds = {facet.sensor.kind for facet in model.sensors}
    distro = model.layout.ros.distro
    if "ranger" in kinds:
        yield (f"Rangers are narrow lidars, a beam a degree; the bridge makes `sensor_msgs/Range` of the nearest, from version "
               f"{distros.text('gz_range_since', distro)} of ros_gz_bridge on. Earlier ones refuse the entry.")
    if "depth_camera" in kinds:
        yield ("Clouds of depth cameras are made by depth_image_proc from the depth image: Gazebo's own have the camera's body "
               "axes under the name of the optical frame.")
    if kinds & {"camera", "depth_camera"}:
        yield "Cameras draw nothing nearer than the end of their own housing, which they would see from within."
    if "gnss" in kinds:
        yield "Satellites place the world's origin on the equator, where the world says nothing else."


def _lacking(model: Assembly) -> Iterator[str]:
    if any(f.sensor.fov and f.sensor.kind in ("camera", "depth_camera") and f.sensor.fov > 2.97 for f in model.sensors):
        yield "Fisheyes: a camera that sees more than 170 degrees is drawn as one that sees 170."
    for facet in model.sensors:
        if facet.sensor.kind == "contact" and not bumper_collisions(model, facet):
            yield f"The bumper {facet.placement}: its part has no body that could touch anything."
    followers = [j.name for j in model.joints if j.mimic is not None]
    if followers and not uses_plugin(model):
        yield f"Joints that follow others: Gazebo's engine knows no such bond, {listing(followers, 20)} hang free."
    elif any(j.mimic is not None and j.mimic.plus for j in model.joints) and distros.has("mimic_by_parameter",
                                                                                          model.layout.ros.distro):
        yield "Offsets of joints that follow others: this release takes the factor alone."
    if any(ascii_text(f.sensor.radiation or "") for f in model.sensors if f.sensor.kind == "ranger"):
        yield "What a ranger sends out, and how wide its echo is: it measures along beams."


TARGET = Target(artifacts=artifacts, names=PageNames(frames=("frame_id",), topics=("topic",)))
