"""Parameter files of the demo robots and of one that sees itself, for every distro and odometry, against what was approved before.

Compared by meaning: the files are read with PyYAML and every parameter is one line ``file: node.parameter = value``;
numbers may differ by 1e-9. ``golden/<robot>.txt`` holds jazzy with the controller's odometry in full, then for each
other choice only the lines that differ; then for each choice what a namespace changes besides the keys of the nodes. To approve a change, run with ``CHASSIS_DESCRIBE_APPROVE=1`` and read the diff.
"""
from __future__ import annotations

import difflib
import math
import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml

from chassis_describe import assemble, read
from chassis_describe.targets.stack import cloud_filter, cloud_scan, controllers, depth_scan, laser_filter, localization, navigation
from chassis_describe.targets.stack.distros import DISTROS
from tests.demos import CONFIG, NAMES as DEMOS

TOP = Path(__file__).resolve().parents[2]
GOLDEN = Path(__file__).parent / "golden"
FILES = {**{name: TOP / "config" / f"{name}.yaml" for name in DEMOS},
         "clouds": Path(__file__).parent / "layouts" / "clouds.yaml"}  # sees itself: cloud filters, zones, a scan from a cloud
TARGETS = (navigation, controllers, laser_filter, cloud_filter, cloud_scan, depth_scan, localization)
BASE = ("jazzy", "controller")
SPACE = "robot1"


def lines_of(value: Any, where: str) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from lines_of(inner, f"{where}.{key}" if where[-1:] != " " else f"{where}{key}")
    else:
        yield f"{where} = {value!r}"


def parameters(assembly: Any) -> list[str]:
    out: list[str] = []
    for target in TARGETS:
        for file in target.artifacts(assembly):
            out += lines_of(yaml.safe_load(file.data), f"{file.path}: ")
    return out


FIRST: dict[str, Any] = {}


def built(robot: str, **ros: Any) -> Any:
    """The robot with other settings; what follows from the geometry is worked out once: no fact knows of the stack
    (test_house.py)."""
    layout = read(FILES[robot])
    assembly = assemble(replace(layout, ros=replace(layout.ros, **ros)))
    alike = FIRST.setdefault(robot, assembly)
    assembly.kept.update({fact: value for fact, value in alike.kept.items()
                          if fact.__module__.startswith("chassis_describe.facts.")})
    return assembly


def choices(robot: str) -> dict[tuple[str, str], list[str]]:
    return {(distro, odometry): parameters(built(robot, distro=distro, odometry=odometry))
            for odometry in ("controller", "ekf") for distro in DISTROS}


def report(robot: str) -> list[str]:
    found = choices(robot)
    base = found[BASE]
    out = [f"## {BASE[0]}, {BASE[1]}", *base]
    for choice, lines in found.items():
        if choice != BASE:
            out.append(f"## {choice[0]}, {choice[1]}")
            out += [line for line in difflib.ndiff(base, lines) if line[:2] in ("+ ", "- ")]
    for choice, lines in found.items():
        spaced = parameters(built(robot, distro=choice[0], odometry=choice[1], namespace=SPACE))
        assert all(f": {SPACE}." in line for line in spaced), "every node is below the namespace"
        out.append(f"## {choice[0]}, {choice[1]}, in a namespace")
        out += [line for line in difflib.ndiff(lines, [line.replace(f": {SPACE}.", ": ", 1) for line in spaced])
                if line[:2] in ("+ ", "- ")]
    return out


def close(a: str, b: str) -> bool:
    """The same words, numbers within 1e-9."""
    x, y = (line.replace(",", " ").replace("[", " [ ").replace("]", " ] ").replace("'", " ' ").split() for line in (a, b))
    if len(x) != len(y):
        return False
    for p, q in zip(x, y):
        try:
            if not math.isclose(float(p), float(q), rel_tol=1e-9, abs_tol=1e-9):
                return False
        except ValueError:
            if p != q:
                return False
    return True


@pytest.mark.parametrize(("a", "b", "same"), [
    ("f: a = 1.0", "f: a = 1.0000000000001", True), ("f: a = 1.0", "f: a = 1.001", False), ("f: a = 1", "f: b = 1", False),
    ("f: a = '[[0.1, 0.2]]'", "f: a = '[[0.1, 0.20000000000001]]'", True), ("f: a = 'x'", "f: a = 'y'", False),
    ("f: a = [1.0, 2.0]", "f: a = [1.0, 2.0, 3.0]", False), ("f: a = '1'", "f: a = 1", False)])
def test_the_comparer_sees_what_matters(a: str, b: str, same: bool) -> None:
    assert close(a, b) is same


@pytest.mark.parametrize("robot", FILES)
def test_demo(robot: str) -> None:
    path = GOLDEN / f"{robot}.txt"
    got = report(robot)
    if os.environ.get("CHASSIS_DESCRIBE_APPROVE"):
        path.parent.mkdir(exist_ok=True)
        path.write_text("\n".join(got) + "\n", encoding="utf-8")
    approved = path.read_text(encoding="utf-8").splitlines()
    if len(approved) == len(got) and all(close(a, b) for a, b in zip(approved, got)):
        return
    pytest.fail("\n".join(difflib.unified_diff(approved, got, str(path.name), "now", lineterm="")))


def nodes_of(value: Any, names: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], dict[str, Any]]]:
    """(namespaces and name, parameters) of every node of a parameter file."""
    for key, inner in value.items():
        if key == "ros__parameters":
            yield names, inner
        elif isinstance(inner, dict):
            yield from nodes_of(inner, (*names, key))


@pytest.mark.judge
@pytest.mark.parametrize("distro", ["humble", "lyrical"])
@pytest.mark.parametrize("robot", DEMOS)
def test_nodes_get_what_the_files_say(robot: str, distro: str, tmp_path: Path, node_parameters: Any) -> None:
    """ros2/rcl, rcl_yaml_param_parser: each node of each file, each parameter, value and type."""
    layout = read(FILES[robot])
    assembly = assemble(replace(layout, ros=replace(layout.ros, distro=distro, odometry="ekf")))
    seen = 0
    for target in TARGETS:
        for file in target.artifacts(assembly):
            path = tmp_path / Path(file.path).name
            path.write_bytes(file.data)
            for (*namespaces, name), inner in nodes_of(yaml.safe_load(file.data)):
                got = node_parameters(path, name, "".join(f"/{n}" for n in namespaces))
                for line in lines_of(inner, " "):
                    key, _, text = line.strip().partition(" = ")
                    value = got[key]
                    assert repr(value if isinstance(value, (str, bool, int, float)) else list(value)) == text, key
                    seen += 1
    assert seen > 30


def test_every_demo_has_its_file_and_every_file_its_demo() -> None:
    assert sorted(path.stem for path in GOLDEN.glob("*.txt")) == sorted({*FILES, *(p.stem for p in CONFIG.glob("*.yaml"))})
