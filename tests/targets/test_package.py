"""The files that make a description package of a robot.

Judges: catkin_pkg (the reader of package.xml that colcon and rosdep use), REP-149 and REP-144, cmake with ament_cmake
(tests/judges), launch and launch_ros where they are installed, PyYAML as the reader that RViz' files are made for.
"""
from __future__ import annotations

import ast
import importlib.util
import json
import os
import re
import subprocess
import sys
import types
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

import pytest
import yaml

from chassis_describe import targets
from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, Joint, Link
from chassis_describe.facts.play import play_of
from chassis_describe.layout.bare import bare_layout
from chassis_describe.layout.model import InputFile, Layout, Maintainer, RosSettings
from chassis_describe.source import Mark
from chassis_describe.space.pose import Pose, from_rpy, translation
from chassis_describe.targets.package import frames_launch, frames_page, rviz, show_launch
from chassis_describe.targets.package.cmake import cmake_lists
from chassis_describe.targets.package.layout_copy import inputs_by_name, layout_copy
from chassis_describe.targets.package.manifest import package_xml
from chassis_describe.version import VERSION

MARK = Mark("a.yaml", 1, 1)
TOP = Path(__file__).resolve().parents[2]


class Shift(NamedTuple):
    shift: float
    twist: float


def robot(*, moving: bool = True, ros: RosSettings | None = None) -> Assembly:
    """base_footprint → base_link → a deck and, ``moving``, a wheel; a frame called ``on``, that YAML 1.1 takes for True."""
    joints = [
        Joint(name="base_joint", type="fixed", parent="base_footprint", child="base_link", pose=translation(0, 0, 0.04)),
        Joint(name="on_joint", type="fixed", parent="base_link", child="on",
              pose=Pose(from_rpy(0.1, 0.2, 0.3), (0.1, -0.2, 1 / 3))),
    ]
    if moving:
        joints.append(Joint(name="wheel_joint", type="continuous", parent="base_link", child="wheel_link",
                            pose=translation(0, 0.1, 0), effort=1.0, velocity=10.0))
    poses: dict[str, Pose] = {"base_footprint": joints[0].pose.inverse(), "base_link": Pose(),
                              **{j.child: j.pose for j in joints[1:]}}
    layout = bare_layout("tin_can", MARK)
    layout = replace(layout, ros=ros or layout.ros)
    assembly = Assembly(layout=layout, prefix="", root="base_footprint", base="base_link",
                        links=tuple(Link(name=n, owner="") for n in poses), joints=tuple(joints), poses=poses, decks={},
                        parts={}, sensors=(), wheels=(), casters=(), moving=(), drive=None, inertial=None, rest=None)
    play: Mapping[str, Any] = MappingProxyType({**dict.fromkeys(poses, Shift(0.0, 0.0)), "on": Shift(0.00025, 0.0174533)})
    assembly.kept[play_of] = play  # computed from bolts otherwise, and there are none here
    return assembly


# ------------------------------------------------------------------------------------------------------------ package.xml
def needs_of(assembly: Assembly, *names: str) -> list[str]:
    """What those targets say that their files need."""
    return [need for name, target in zip(targets.TARGETS, targets.load()) if name in names
            for need in target.depends(assembly)]


def test_manifest_is_what_catkin_pkg_takes() -> None:
    package = pytest.importorskip("catkin_pkg.package", reason="catkin_pkg, which comes with colcon-ros, is not installed")
    ros = replace(bare_layout("tin_can", MARK).ros, maintainer=Maintainer(name="Ada <&> Ltd", email="ada@example.com"), license="MIT",
                  version="1.2.3")
    needed = needs_of(robot(), "package.show_launch", "package.frames_launch", "description.xacro_file")
    text = package_xml(robot(ros=ros), ["urdf/tin_can.xacro", "meshes/a.stl"], [*needed, "nav2_costmap_2d"]).data.decode()
    warnings: list[str] = []
    read = package.parse_package_string(text, warnings=warnings)
    read.validate(warnings=warnings)
    assert not warnings
    assert (read.package_format, read.name, read.version) == (3, "tin_can_description", "1.2.3")
    assert [(m.name, m.email) for m in read.maintainers] == [("Ada <&> Ltd", "ada@example.com")]
    assert [d.name for d in read.buildtool_depends] == ["ament_cmake"]
    needs = {d.name for d in read.exec_depends}
    assert needs == {"launch", "launch_ros", "robot_state_publisher", "rviz2", "rclcpp_components", "tf2_ros", "xacro",
                     "joint_state_publisher", "joint_state_publisher_gui", "nav2_costmap_2d"}
    assert {e.tagname: e.attributes for e in read.exports}["gazebo_ros"] == {"gazebo_model_path": "${prefix}/.."}


def test_manifest_depends_on_what_is_used_and_no_more() -> None:
    package = pytest.importorskip("catkin_pkg.package", reason="catkin_pkg, which comes with colcon-ros, is not installed")
    needed = needs_of(robot(moving=False), "description.plain_urdf", "package.show_launch")
    read = package.parse_package_string(package_xml(robot(moving=False), ["urdf/tin_can.urdf"], needed).data.decode())
    read.validate()  # maintainer and licence are required by REP-149 also where the layout has none
    needs = {d.name for d in read.exec_depends}
    assert not needs & {"xacro", "joint_state_publisher", "joint_state_publisher_gui"}
    assert "gazebo_ros" not in {e.tagname for e in read.exports}


def test_build_file_installs_exactly_what_is_there() -> None:
    text = cmake_lists("tin_can_description", ["urdf/a.urdf", "launch/x.py", "layout/b/c.yaml", "package.xml",
                                               "CMakeLists.txt", "chassis_describe.json"]).data.decode()
    assert "DIRECTORY launch layout urdf\n" in text
    assert "FILES chassis_describe.json\n" in text
    assert "meshes" not in text, "no empty folder: git would lose it and the build would fail"


# ------------------------------------------------------------------------------------------------------------------- RViz
def test_rviz_file_waits_for_a_latched_description() -> None:
    (file,) = rviz.artifacts(replace(robot(), root="on"))
    read = yaml.safe_load(file.data)
    manager = read["Visualization Manager"]
    assert manager["Global Options"]["Fixed Frame"] == "on", "a name, not True"
    model = next(d for d in manager["Displays"] if d["Class"] == "rviz_default_plugins/RobotModel")
    topic = model["Description Topic"]
    # robot_state_publisher/README: robot_description is published transient local, reliable, depth 1.
    assert (topic["Durability Policy"], topic["Reliability Policy"], topic["Value"]) == (
        "Transient Local", "Reliable", "robot_description"), "relative: RViz may run in a namespace"
    assert all(p["Class"].startswith("rviz_common/") for p in read["Panels"])


# ----------------------------------------------------------------------------------------------------------------- launch
class Recorded:
    """Stands for any class of launch and launch_ros and remembers what it was made of."""

    made: list[Recorded]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.args, self.kwargs = args, kwargs
        type(self).made.append(self)


LAUNCH_NAMES = {
    "launch": ["LaunchDescription"],
    "launch.actions": ["DeclareLaunchArgument", "GroupAction", "LogInfo", "OpaqueFunction", "RegisterEventHandler"],
    "launch.conditions": ["IfCondition", "UnlessCondition"],
    "launch.event_handlers": ["OnShutdown"],
    "launch.substitutions": ["LaunchConfiguration"],
    "launch_ros": [],
    "launch_ros.actions": ["Node", "ComposableNodeContainer"],
    "launch_ros.descriptions": ["ComposableNode"],
    "launch_ros.parameter_descriptions": ["ParameterValue"],
}


@pytest.fixture
def load(monkeypatch: pytest.MonkeyPatch) -> Callable[[Path], tuple[Any, dict[str, type[Recorded]]]]:
    """Load a launch file with stand-ins for launch and launch_ros: its structure, without ROS."""
    classes: dict[str, type[Recorded]] = {}
    for module_name, names in LAUNCH_NAMES.items():
        module = types.ModuleType(module_name)
        for name in names:
            classes[name] = type(name, (Recorded,), {"made": []})
            setattr(module, name, classes[name])
        monkeypatch.setitem(sys.modules, module_name, module)

    def run(path: Path) -> tuple[Any, dict[str, type[Recorded]]]:
        spec = importlib.util.spec_from_file_location("loaded_launch_file", path)
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        return module.generate_launch_description(), classes

    return run


def written(folder: Path, *artifacts: Artifact) -> None:
    for artifact in artifacts:
        path = folder / artifact.path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(artifact.data)


URDF = '<?xml version="1.0"?>\n<!-- front: a colon and a blank --><robot name="tin_can"><link name="base_footprint"/></robot>\n'


@pytest.mark.parametrize("moving", [True, False])
def test_show_launch_structure(tmp_path: Path, load: Any, moving: bool) -> None:
    written(tmp_path, *show_launch.artifacts(robot(moving=moving)), Artifact(path="urdf/tin_can.urdf", data=URDF.encode()))
    _, made = load(tmp_path / "launch/show.launch.py")
    nodes = {n.kwargs["executable"]: n.kwargs for n in made["Node"].made}
    expected = {"robot_state_publisher", "rviz2"} | (
        {"joint_state_publisher", "joint_state_publisher_gui"} if moving else set())
    assert set(nodes) == expected
    for name, node in nodes.items():
        times = [p["use_sim_time"] for p in node["parameters"] if "use_sim_time" in p]
        assert len(times) == 1, name
        assert times[0].kwargs == {"value_type": bool}, "typed: launch passes the text 'true' otherwise"
    description = nodes["robot_state_publisher"]["parameters"][0]["robot_description"]
    assert description.args == (URDF,)
    assert description.kwargs == {"value_type": str}, "typed: launch guesses at YAML otherwise"
    assert {a.args[0] for a in made["DeclareLaunchArgument"].made} == (
        {"use_sim_time", "rviz", "namespace", "joint_states", "gui"} if moving else {"use_sim_time", "rviz", "namespace"})
    assert any("not a safety function" in a.kwargs["msg"] for a in made["LogInfo"].made)


def test_frames_launch_structure(tmp_path: Path, load: Any) -> None:
    assembly = robot()
    written(tmp_path, *frames_launch.artifacts(assembly))
    _, made = load(tmp_path / "launch/frames.launch.py")
    container, = made["ComposableNodeContainer"].made
    nodes = container.kwargs["composable_node_descriptions"]
    assert len(nodes) == len(assembly.joints), "all in one process"
    values = [{name: v.args[0] for name, v in n.kwargs["parameters"][0].items()} for n in nodes]
    for joint, read in zip(assembly.joints, values):
        assert (read["frame_id"], read["child_frame_id"]) == (joint.parent, joint.child)
        numbers = [read[f"translation.{k}"] for k in "xyz"] + [read[f"rotation.{k}"] for k in "xyzw"]
        assert all(type(v) is float for v in numbers), "tf2_ros declares doubles; an integer would be refused"
        assert numbers == pytest.approx([*joint.placed.t, *joint.placed.quaternion], rel=1e-11, abs=1e-15)
    assert any("not for use beside robot_state_publisher" in a.kwargs["msg"] for a in made["LogInfo"].made)


@pytest.mark.parametrize("name", ["layout", "live"])
def test_our_own_launch_file_structure(load: Any, name: str) -> None:
    _, made = load(TOP / f"launch/{name}.launch.py")
    assert {a.args[0] for a in made["DeclareLaunchArgument"].made} >= {"layout", "use_sim_time", "rviz"}
    assert len(made["OpaqueFunction"].made) == 1


def test_launch_files_are_plain_ascii_python() -> None:
    for artifact in (*show_launch.artifacts(robot()), *frames_launch.artifacts(robot())):
        ast.parse(artifact.data.decode("ascii"))
        assert b"/root" not in artifact.data
        assert b"@" not in artifact.data, "a placeholder that was not filled"


LAUNCHED = """
import sys
from launch import LaunchDescription, LaunchService
from launch.actions import IncludeLaunchDescription
from launch.launch_description_sources import PythonLaunchDescriptionSource
service = LaunchService()
arguments = [tuple(a.split(':=', 1)) for a in sys.argv[2:]]
service.include_launch_description(LaunchDescription([
    IncludeLaunchDescription(PythonLaunchDescriptionSource(sys.argv[1]), launch_arguments=arguments)]))
sys.exit(service.run())
"""
STUB = """#!{python}
import json, os, sys
files = [open(a).read() for a in sys.argv[1:] if os.path.isfile(a)]
space = "".join(a.partition("__ns:=")[2].strip("/") for a in sys.argv)
with open(os.path.join({out!r}, os.path.basename(sys.argv[0]) + ("-" + space if space else "") + ".json"), "w") as stream:
    json.dump({{"args": sys.argv[1:], "files": files}}, stream)
"""
CONTAINER = """#!{python}
import json, os, sys
import rclpy
from composition_interfaces.srv import LoadNode
from rcl_interfaces.msg import ParameterType
KIND = {{ParameterType.PARAMETER_DOUBLE: "double_value", ParameterType.PARAMETER_STRING: "string_value",
         ParameterType.PARAMETER_BOOL: "bool_value"}}
rclpy.init(args=sys.argv)
node = rclpy.create_node("component_container")
loaded = []
def load(request, response):
    loaded.append({{"package": request.package_name, "plugin": request.plugin_name, "name": request.node_name,
                    "parameters": {{p.name: getattr(p.value, KIND[p.value.type]) for p in request.parameters}}}})
    response.success, response.unique_id = True, len(loaded)
    response.full_node_name = "/" + request.node_name
    return response
node.create_service(LoadNode, "~/_container/load_node", load)
while len(loaded) < {count}:
    rclpy.spin_once(node, timeout_sec=0.5)
for _ in range(5):
    rclpy.spin_once(node, timeout_sec=0.1)
with open(os.path.join({out!r}, "component_container.json"), "w") as stream:
    json.dump(loaded, stream)
"""


@pytest.fixture
def ros_prefix(tmp_path: Path) -> Path:
    """An install prefix with stand-ins for the nodes, which write down what they were started with."""
    # A folder called launch is importable as an empty package: ask for something inside the real one.
    pytest.importorskip("launch.actions", reason="launch is in no package registry; structure is tested without it")
    pytest.importorskip("launch_ros.actions", reason="launch_ros is in no package registry")
    prefix, out = tmp_path / "prefix", tmp_path / "out"
    out.mkdir()
    for package, executable in (("robot_state_publisher", "robot_state_publisher"), ("rviz2", "rviz2"),
                                ("joint_state_publisher", "joint_state_publisher"),
                                ("joint_state_publisher_gui", "joint_state_publisher_gui"),
                                ("chassis_describe", "chassis_describe_live"),
                                ("rclcpp_components", "component_container")):
        marker = prefix / "share/ament_index/resource_index/packages" / package
        marker.parent.mkdir(parents=True, exist_ok=True)
        marker.touch()
        stub = prefix / "lib" / package / executable
        stub.parent.mkdir(parents=True)
        text = CONTAINER if executable == "component_container" else STUB
        stub.write_text(text.format(python=sys.executable, out=str(out), count=len(robot().joints)))
        stub.chmod(0o755)
    return prefix


def launched(prefix: Path, file: Path, *arguments: str, script: str = LAUNCHED) -> subprocess.CompletedProcess[str]:
    paths = [str(prefix), *os.environ.get("AMENT_PREFIX_PATH", sys.prefix).split(os.pathsep)]
    environment = {**os.environ, "AMENT_PREFIX_PATH": os.pathsep.join(paths), "ROS_DOMAIN_ID": "77",
                   "ROS_LOG_DIR": str(prefix / "log"), "PYTHONPATH": str(TOP), "ROS_LOCALHOST_ONLY": "1"}
    # Not in the checkout, whose launch/ folder would be taken for the package.
    return subprocess.run([sys.executable, "-c", script, str(file), *arguments], env=environment, cwd=prefix,
                          capture_output=True, text=True, timeout=120)


@pytest.mark.ros
@pytest.mark.parametrize("gui", [False, True])
def test_show_launch_runs_with_the_real_launch(tmp_path: Path, ros_prefix: Path, gui: bool) -> None:
    written(tmp_path / "pkg", *show_launch.artifacts(robot()), *rviz.artifacts(robot()),
            Artifact(path="urdf/tin_can.urdf", data=URDF.encode()))
    done = launched(ros_prefix, tmp_path / "pkg/launch/show.launch.py", "use_sim_time:=true", f"gui:={str(gui).lower()}")
    assert done.returncode == 0, done.stderr
    seen = {p.stem: json.loads(p.read_text()) for p in (tmp_path / "out").iterdir()}
    assert set(seen) == {"robot_state_publisher", "rviz2", f"joint_state_publisher{'_gui' if gui else ''}"}
    for name, stub in seen.items():
        merged: dict[str, Any] = {}
        for text in stub["files"]:
            content = yaml.safe_load(text)
            merged |= next(iter(content.values())).get("ros__parameters", {}) if "Panels" not in content else {}
        assert merged["use_sim_time"] is True, name
        if name == "robot_state_publisher":
            assert merged["robot_description"] == URDF


@pytest.mark.ros
def test_frames_launch_runs_with_the_real_launch(tmp_path: Path, ros_prefix: Path) -> None:
    pytest.importorskip("composition_interfaces.srv", reason="composition_interfaces is in no package registry")
    assembly = robot()
    written(tmp_path / "pkg", *frames_launch.artifacts(assembly))
    done = launched(ros_prefix, tmp_path / "pkg/launch/frames.launch.py")
    assert done.returncode == 0, done.stderr
    loaded = json.loads((tmp_path / "out/component_container.json").read_text())
    by_child = {node["parameters"]["child_frame_id"]: node for node in loaded}
    assert set(by_child) == {j.child for j in assembly.joints}
    for joint in assembly.joints:
        node = by_child[joint.child]
        assert (node["package"], node["plugin"]) == ("tf2_ros", "tf2_ros::StaticTransformBroadcasterNode")
        read = node["parameters"]
        assert read["frame_id"] == joint.parent
        numbers = [read[f"translation.{k}"] for k in "xyz"] + [read[f"rotation.{k}"] for k in "xyzw"]
        assert numbers == pytest.approx([*joint.placed.t, *joint.placed.quaternion], rel=1e-11, abs=1e-15)
        assert read["use_sim_time"] is False


@pytest.mark.ros
def test_our_own_launch_file_compiles_in_memory(tmp_path: Path, ros_prefix: Path) -> None:
    done = launched(ros_prefix, TOP / "launch/layout.launch.py", f"layout:={TOP / 'config/draught_scout.yaml'}",
                    "joint_states:=false")
    assert done.returncode == 0, done.stderr
    seen = {p.stem: json.loads(p.read_text()) for p in (tmp_path / "out").iterdir()}
    assert set(seen) == {"robot_state_publisher", "rviz2"}
    import chassis_describe as cd

    description = yaml.safe_load(seen["robot_state_publisher"]["files"][0])["/**"]["ros__parameters"]
    assert description == {"robot_description": cd.urdf(cd.assemble(cd.read(TOP / "config/draught_scout.yaml")))}
    view = seen["rviz2"]["args"][1]
    assert yaml.safe_load(seen["rviz2"]["files"][0])["Visualization Manager"]["Global Options"]["Fixed Frame"]
    assert not Path(view).exists(), "the view's file goes when the launch ends"


@pytest.mark.ros
def test_the_live_launch_file_gives_the_node_its_parameters(tmp_path: Path, ros_prefix: Path) -> None:
    layout = TOP / "config/draught_scout.yaml"
    done = launched(ros_prefix, TOP / "launch/live.launch.py", f"layout:={layout}", "footprint_topics:=local_costmap/footprint",
                    "joint_states:=false", "namespace:=robot1")
    assert done.returncode == 0, done.stderr
    seen = {p.stem.removesuffix("-robot1"): json.loads(p.read_text()) for p in (tmp_path / "out").iterdir()}
    assert set(seen) == {"robot_state_publisher", "rviz2", "chassis_describe_live"}
    for program in seen.values():
        assert {"__ns:=/robot1", "/tf:=tf", "/tf_static:=tf_static"} <= set(program["args"])
    # launch_ros writes lists as Python's tuples (launch_ros jazzy, launch_ros/actions/node.py); rcl's parser takes them as lists.
    written = seen["chassis_describe_live"]["files"][0].replace("!!python/tuple", "")
    given = yaml.safe_load(written)["/**"]["ros__parameters"]
    assert given == {"layout": str(layout), "prefix": "-", "strict": False, "footprint_topics": ["local_costmap/footprint"]}


@pytest.mark.ros
def test_our_own_launch_file_says_where_the_layout_is_wrong(tmp_path: Path, ros_prefix: Path) -> None:
    (tmp_path / "bad.yaml").write_text("layout: 1\nrobot: Bad Name\n")
    done = launched(ros_prefix, TOP / "launch/layout.launch.py", f"layout:={tmp_path / 'bad.yaml'}")
    assert done.returncode != 0
    assert "bad.yaml:2:8: error" in done.stdout + done.stderr
    assert "Traceback" not in done.stdout + done.stderr


# ------------------------------------------------------------------------------------------------------------------- docs
def test_frames_page_has_every_frame_with_its_play() -> None:
    assembly = robot()
    (page,) = frames_page.artifacts(assembly)
    text = page.data.decode("ascii")
    rows = {line.split("|")[1].strip(" `"): [c.strip() for c in line.split("|")[2:-1]]
            for line in text.splitlines() if line.startswith("| `")}
    assert set(rows) == {j.child for j in assembly.joints}
    # wiki.ros.org/urdf/XML/joint: fixed axes; 0.1, 0.2, 0.3 rad as they went in, in degrees.
    assert [float(v) for v in rows["on"][4:7]] == pytest.approx([5.729578, 11.459156, 17.188734], abs=1e-6)
    assert rows["on"][8] == "0.25 mm, 1 deg"


# ----------------------------------------------------------------------------------------------------------- layout folder
def layout_of(files: list[tuple[str, str]], catalogue: list[str]) -> Layout:
    return replace(bare_layout("tin_can", MARK), files=tuple(InputFile(path=p, data=d.encode()) for p, d in files),
                   catalogue_paths=tuple(catalogue))


def test_layout_is_copied_byte_for_byte_where_it_can_be() -> None:
    text = "layout: 1  # ü\r\ncatalogue: [parts/mine.yaml]\r\n"
    copies = layout_copy(layout_of([("/somewhere/a.yaml", text), ("/somewhere/parts/mine.yaml", "parts: {}\n")],
                                   ["parts/mine.yaml"]))
    assert {c.path: c.data.decode() for c in copies} == {"layout/a.yaml": text, "layout/parts/mine.yaml": "parts: {}\n"}


@pytest.mark.parametrize("listed", ['[../shared/a.yaml, "/opt/parts/a.yaml"]',
                                    "\n  - ../shared/a.yaml  # ours\n  - '/opt/parts/a.yaml'\n", ])
def test_paths_that_leave_the_folder_are_replaced_and_nothing_else(listed: str) -> None:
    text = f"# top\nlayout: 1\ncatalogue: {listed}\nrobot: tin_can   # keep ../shared/a.yaml\n"
    layout = layout_of([("/x/robots/a.yaml", text), ("/x/shared/a.yaml", "one: 1\n"), ("/opt/parts/a.yaml", "two: 2\n")],
                       ["../shared/a.yaml", "/opt/parts/a.yaml"])
    copies = {c.path: c.data.decode() for c in layout_copy(layout)}
    assert set(copies) == {"layout/a.yaml", "layout/catalogue/a.yaml", "layout/catalogue/a_2.yaml"}
    made = copies["layout/a.yaml"]
    assert yaml.safe_load(made)["catalogue"] == ["catalogue/a.yaml", "catalogue/a_2.yaml"]
    assert made.startswith("# top\nlayout: 1\ncatalogue: ")
    assert made.endswith("robot: tin_can   # keep ../shared/a.yaml\n")
    assert copies["layout/catalogue/a_2.yaml"] == "two: 2\n"
    inputs = inputs_by_name(layout, layout_copy(layout))
    assert inputs["layout/a.yaml"] == made.encode(), "compiled again from the copies, the record is the same"


def test_meshes_are_found_from_the_copies() -> None:
    part = "parts:\n  horn:\n    bodies:\n      - {mesh: ../stl/Horn.STL, scale: 0.001}\n      - &b {mesh: 'unused.stl'}\n      - *b\n"
    layout = layout_of([("/x/a.yaml", "layout: 1\n"), ("/x/lib/p.yaml", part)], ["lib/p.yaml"])
    copies = {c.path: c.data.decode() for c in layout_copy(layout, {"/x/stl/Horn.STL": "meshes/part_horn.stl"})}
    bodies = yaml.safe_load(copies["layout/lib/p.yaml"])["parts"]["horn"]["bodies"]
    assert [b["mesh"] for b in bodies] == ["../../meshes/part_horn.stl", "unused.stl", "unused.stl"]


def test_standard_input_gets_a_name() -> None:
    assert [c.path for c in layout_copy(layout_of([("-", "layout: 1\n")], []))] == ["layout/tin_can.yaml"]


# ----------------------------------------------------------------------------------------------------------- this package
def test_one_version_everywhere() -> None:
    manifest = (TOP / "package.xml").read_text(encoding="utf-8")
    assert re.findall(r"<version>(.*?)</version>", manifest) == [VERSION]


def test_our_own_manifest_is_what_catkin_pkg_takes() -> None:
    package = pytest.importorskip("catkin_pkg.package", reason="catkin_pkg, which comes with colcon-ros, is not installed")
    warnings: list[str] = []
    read = package.parse_package_string((TOP / "package.xml").read_text(encoding="utf-8"), warnings=warnings)
    read.validate(warnings=warnings)
    assert not warnings
    assert read.get_build_type() == "ament_python"


TWO = """
import sys
from launch import LaunchDescription, LaunchService
from launch.actions import IncludeLaunchDescription
from launch.launch_description_sources import PythonLaunchDescriptionSource
service = LaunchService()
service.include_launch_description(LaunchDescription([
    IncludeLaunchDescription(PythonLaunchDescriptionSource(sys.argv[1]),
                             launch_arguments=[('layout', sys.argv[2]), ('namespace', name), ('rviz', 'false')])
    for name in ('robot1', 'robot2')]))
sys.exit(service.run())
"""


@pytest.mark.ros
def test_two_robots_of_one_layout_in_one_launch_file(tmp_path: Path, ros_prefix: Path) -> None:
    """ros2/launch and launch_ros: each with its own namespace, and its transforms there."""
    done = launched(ros_prefix, TOP / "launch/layout.launch.py", str(TOP / "config/seedling_cart.yaml"), script=TWO)
    assert done.returncode == 0, done.stderr
    for name in ("robot1", "robot2"):
        for program in ("robot_state_publisher", "joint_state_publisher"):
            args = json.loads((tmp_path / "out" / f"{program}-{name}.json").read_text(encoding="utf-8"))["args"]
            assert f"__ns:=/{name}" in args
        args = json.loads((tmp_path / "out" / f"robot_state_publisher-{name}.json").read_text(encoding="utf-8"))["args"]
        assert {"/tf:=tf", "/tf_static:=tf_static"} <= set(args)
