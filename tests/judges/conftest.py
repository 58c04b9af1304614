"""Independent judges, and the robots that they judge: every layout in ``config/``.

A judge that is not installed skips its tests with the reason; with CHASSIS_DESCRIBE_JUDGES=required (as .ci/run sets
it) that is a failure, since every judge here comes from a package registry.
"""
from __future__ import annotations

import importlib
import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from lxml import etree

from tests.demos import DEMOS

TOP = Path(__file__).resolve().parents[2]


@dataclass
class Robot:
    """A demo robot, made once for all tests of a run."""

    layout: Path

    @cached_property
    def assembly(self) -> Any:
        import chassis_describe as cd

        return cd.assemble(cd.read(self.layout))

    @cached_property
    def urdf(self) -> str:
        import chassis_describe as cd

        return cd.urdf(self.assembly)


_ROBOTS = {path.stem: Robot(path) for path in DEMOS}


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "robot" in metafunc.fixturenames:
        metafunc.parametrize("robot", list(_ROBOTS.values()), ids=list(_ROBOTS))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.judge)


def _missing(what: str) -> None:
    if os.environ.get("CHASSIS_DESCRIBE_JUDGES") == "required":
        pytest.fail(f"{what} is not installed, and judges are required")
    pytest.skip(f"{what} is not installed")


@pytest.fixture(scope="session")
def judge() -> Callable[[str], ModuleType]:
    """A judge's Python module by name."""

    def find(name: str) -> ModuleType:
        try:
            return importlib.import_module(name)
        except ImportError:
            _missing(f"the Python module {name}")
            raise AssertionError from None

    return find


@pytest.fixture(scope="session")
def tool() -> Callable[[str], list[str]]:
    """Every program of that name on the PATH and in Debian's place, by its full path (wheels bring some along too)."""

    def find(name: str) -> list[str]:
        folders = [*os.environ.get("PATH", "").split(os.pathsep), "/usr/bin"]
        found = {os.path.realpath(path): path for folder in folders if (path := shutil.which(name, path=folder))}
        if not found:
            _missing(f"the program {name}")
        return list(found.values())

    return find


@pytest.fixture(scope="session")
def without_frames() -> Callable[[str], tuple[str, str]]:
    """A copy for PyBullet."""
    return _without_frames


def _without_frames(urdf: str) -> tuple[str, str]:
    """The root's name and the text, without links that are only frames (PyBullet gives each of them 1 kg): those at the
    ends are left out, and what hangs on one in between hangs on its parent."""
    tree = etree.fromstring(urdf.encode())
    while True:
        joints = tree.findall("joint")
        bare = {link.get("name") for link in tree.findall("link") if link.find("inertial") is None}
        parents = {j.find("parent").get("link") for j in joints}
        into = {j.find("child").get("link"): j for j in joints}
        top = next(link.get("name") for link in tree.findall("link") if link.get("name") not in into)
        gone = (bare - parents) | ({top} & bare) or {name for name in bare if name in into and into[name].get("type") == "fixed"}
        if not gone:
            return str(top), etree.tostring(tree).decode()
        gone = {sorted(gone)[0]}
        for joint in joints:
            ends = {joint.find("parent").get("link"), joint.find("child").get("link")}
            if not ends & gone:
                continue
            (name,) = gone
            if joint.find("parent").get("link") == name and name in into:
                _hang(joint, into[name])
            else:
                tree.remove(joint)
        for link in tree.findall("link"):
            if link.get("name") in gone:
                tree.remove(link)


def _hang(joint: Any, above: Any) -> None:
    """A joint on the parent of the fixed joint above it; rotations by scipy."""
    from scipy.spatial.transform import Rotation

    def read(element: Any) -> tuple[Any, Any]:
        origin = element.find("origin")
        values = {k: [float(v) for v in (origin.get(k, "0 0 0") if origin is not None else "0 0 0").split()] for k in ("xyz", "rpy")}
        return Rotation.from_euler("xyz", values["rpy"]), values["xyz"]

    (upper, at), (lower, xyz) = read(above), read(joint)
    for old in joint.findall("origin"):
        joint.remove(old)
    origin = etree.SubElement(joint, "origin")
    origin.set("xyz", " ".join(repr(float(v)) for v in upper.apply(xyz) + at))
    origin.set("rpy", " ".join(repr(float(v)) for v in (upper * lower).as_euler("xyz")))
    joint.find("parent").set("link", above.find("parent").get("link"))
