"""The house: imports go one way, modules stay small, the top level is what it is."""
from __future__ import annotations

import ast
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[1]
PACKAGE = TOP / "chassis_describe"
GROUND = {"source", "findings", "units", "tolerances", "artifact", "xmltree", "version"}
#: Room → the rooms that it may import from, besides itself and the ground floor.
DOORS: dict[str, set[str]] = {
    "layout": set(),
    "space": set(),
    "assembly": {"space", "layout"},
    "fit": {"space", "layout", "assembly"},
    "targets": {"space", "layout", "assembly"},
    "drawings": {"space", "layout", "assembly"},
    "changes": {"space", "layout", "assembly"},
}
#: Modules at the top, in their order: each may import rooms, the ground floor, and those before it.
EDGE = ["writing", "compiler", "report", "report_sarif", "report_junit", "part_list", "manual", "revisions", "rewriting", "changing", "change_report", "cli", "live",
        "__main__", "__init__"]
MODULES = sorted(PACKAGE.rglob("*.py"))


def imported(path: Path) -> set[str]:
    """Names below the package that a module imports, anywhere in it: ``space.pose``."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written in full"
            base = node.module or ""
            names |= {f"{base}.{a.name}" for a in node.names} | {base}
    return {n.split(".", 1)[1] for n in names if n.startswith("chassis_describe.")}


def room(name: str) -> str:
    return name.split(".")[0]


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_go_one_way(path: Path) -> None:
    home = path.relative_to(PACKAGE).with_suffix("").parts[0]
    for name in imported(path):
        there = room(name)
        if there == home or there in GROUND:
            continue
        if home in GROUND:
            pytest.fail(f"the ground floor imports {name}")
        if home in DOORS:
            # the manual and the record of a package name the version; nothing else comes from above
            assert there in DOORS[home], f"{home} imports {name}"
        else:
            assert there in DOORS or there not in EDGE or EDGE.index(there) < EDGE.index(home), f"{home} imports {name}"


def test_rclpy_is_imported_in_one_place_only() -> None:
    for path in MODULES:
        if path.name != "live.py":
            assert "import rclpy" not in path.read_text(encoding="utf-8"), path


def test_printing_is_done_in_one_place_only() -> None:
    for path in MODULES:
        if path.name not in ("cli.py", "manual.py", "live.py"):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            calls = {n.func.id for n in ast.walk(tree) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)}
            assert "print" not in calls, path


def test_top_level_is_fixed() -> None:
    import subprocess

    listed = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a git checkout")
    tops = {name.split("/")[0] for name in listed.stdout.splitlines()}
    allowed = {"README.md", "DEVELOPERS.md", "package.xml", "setup.py", "chassis_describe", "launch", "config", "tests",
               "resource", "LICENSE"}
    assert {t for t in tops if not t.startswith(".")} <= allowed


def test_modules_have_plain_names() -> None:
    assert not {p.stem for p in MODULES} & {"utils", "helpers", "common", "manager", "misc"}
