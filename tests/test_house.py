"""The house: imports go one way, nothing goes round in a ring, the top level is what it is."""
from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

TOP = Path(__file__).resolve().parents[1]
PACKAGE = TOP / "chassis_describe"
#: Small modules without a domain, at the top of the package; any room may import them, they import only one another.
GROUND = {"source", "errors", "inputs", "findings", "words", "units", "tolerances", "values", "artifact", "xmltree", "version"}
#: Room → the rooms that it may import from, besides itself and the ground floor.
BELOW_FACTS = {"assembly", "layout", "space"}
DOORS: dict[str, set[str]] = {
    "space": set(),
    "yaml_text": set(),
    "layout": {"yaml_text", "space"},
    "assembly": {"layout", "space"},
    "facts": BELOW_FACTS,
    "fit": {"facts", *BELOW_FACTS},
    "drawings": {"facts", *BELOW_FACTS},
    "targets": {"facts", "yaml_text", *BELOW_FACTS},
    "changes": {"facts", "yaml_text", *BELOW_FACTS},
    "search": {"fit", "facts", *BELOW_FACTS},
    "sync": {"targets", "facts", "yaml_text", *BELOW_FACTS},
    "disk": {"targets"},
    "reports": {"search", "fit", "changes", "facts", *BELOW_FACTS},
    "manual": {"layout", "yaml_text"},
}
#: One module for each use case, from files to results; they and these rooms may import from any room but ``cli``.
LINES = {"compiler", "changing", "picturing", "documents", "syncing", "matching", "locating", "placing", "drafting", "adapting"}
FREE = {"live", "trial", "page", *LINES}
CLI = {"__main__", "cli"}
ROOMS = {*DOORS, "live", "trial", "page", "cli", "catalogue"}
MODULES = sorted(PACKAGE.rglob("*.py"))
#: Where rclpy may be imported: what runs inside ROS.
ROS_MODULES = {"live/node.py", "live/context.py", "live/description.py", "live/listen.py", "trial/node.py"}


class Said(NamedTuple):
    """What a module imports from below the package, anywhere in it (``space.pose``), the names that it calls, and whether it
    reads something's ``ros``."""

    imports: frozenset[str]
    calls: frozenset[str]
    reads_ros: bool


@cache
def said_by(path: Path) -> Said:
    names, calls, reads_ros = set[str](), set[str](), False
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written in full"
            base = node.module or ""
            names |= {f"{base}.{a.name}" for a in node.names} | {base}
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            calls.add(node.func.id)
        elif isinstance(node, ast.Attribute) and node.attr == "ros":
            reads_ros = True
    below = frozenset(n.split(".", 1)[1] for n in names if n.startswith("chassis_describe."))
    return Said(below, frozenset(calls), reads_ros)


def imported(path: Path) -> frozenset[str]:
    return said_by(path).imports


def room(name: str) -> str:
    return name.split(".")[0]


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_go_one_way(path: Path) -> None:
    home = path.relative_to(PACKAGE).with_suffix("").parts[0]
    for name in imported(path):
        there = room(name)
        if there == home or there in GROUND:
            continue
        assert home not in GROUND, f"the ground floor imports {name}"
        if home in DOORS:
            assert there in DOORS[home], f"{home} imports {name}"
        elif home not in {*CLI, "__init__"}:
            assert there not in CLI, f"{home} imports {name}"


def test_every_module_at_the_top_is_known() -> None:
    tops = {p.relative_to(PACKAGE).with_suffix("").parts[0] for p in MODULES}
    assert tops <= GROUND | ROOMS | LINES | CLI | {"__init__"}


def test_no_circles() -> None:
    """No modules that import one another in a ring, between rooms or inside one; imports in functions count."""
    dotted = {".".join(p.relative_to(PACKAGE).with_suffix("").parts).removesuffix(".__init__"): p for p in MODULES}
    graph = {name: {n for n in imported(path) if n in dotted and n != name} for name, path in dotted.items()}
    while True:  # modules that import nothing (more) are in no ring
        leaves = {name for name, there in graph.items() if not there}
        if not leaves:
            break
        graph = {name: there - leaves for name, there in graph.items() if name not in leaves}
    while True:  # nor are those that nothing imports
        reached = set().union(*graph.values())
        if len(reached) == len(graph):
            break
        graph = {name: there for name, there in graph.items() if name in reached}
    assert not graph, f"a ring among {sorted(graph)}"


def test_facts_know_nothing_of_the_stack() -> None:
    """What follows from the geometry is the same for every distro; only the lidar that the layout names for SLAM is read, and
    the namespace of topics."""
    reading = {path.stem for path in (PACKAGE / "facts").glob("*.py") if said_by(path).reads_ros}
    assert reading == {"slam_lidar", "sensor_topics"}


def test_rclpy_is_imported_in_one_place_only() -> None:
    for path in MODULES:
        if path.relative_to(PACKAGE).as_posix() not in ROS_MODULES:
            assert not re.search(r"^\s*(?:import|from) rclpy\b", path.read_text(encoding="utf-8"), re.MULTILINE), path


def test_printing_is_done_in_one_place_only() -> None:
    for path in MODULES:
        home = path.relative_to(PACKAGE).parts[0]
        if home != "cli" and path.relative_to(PACKAGE).as_posix() not in {*ROS_MODULES, "manual/__main__.py"}:
            assert "print" not in said_by(path).calls, path


def test_top_level_is_fixed() -> None:
    import subprocess

    listed = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a git checkout")
    tops = {name.split("/")[0] for name in listed.stdout.splitlines()}
    allowed = {"README.md", "DEVELOPERS.md", "package.xml", "setup.py", "chassis_describe", "launch", "config", "tests",
               "resource", "LICENSE"}
    assert {t for t in tops if not t.startswith(".")} <= allowed


def test_the_developers_page_knows_every_room_and_what_code_cites() -> None:
    page = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
    picture = page[page.index("## The picture"):page.index("## Conventions")]
    for name in {p.relative_to(PACKAGE).with_suffix("").parts[0] for p in MODULES} - {"__main__", "__init__"}:
        assert f"{name}/" in picture or f"{name}.py" in picture, f"DEVELOPERS.md does not say what lives in {name}"
    for path in MODULES:
        for word in re.findall(r'\(DEVELOPERS\.md, "([^"]+)"\)', path.read_text(encoding="utf-8")):
            assert f"- **{word}.**" in page or f"## {word}\n" in page, f"{path} cites {word}"


def test_modules_have_plain_names() -> None:
    assert not {p.stem for p in MODULES} & {"utils", "helpers", "common", "manager", "misc"}
