"""Judges that are not there: skipped with the reason, or, with CHASSIS_DESCRIBE_JUDGES=required, a failure.

Most checks are held against independent software: physics engines, collision and geometry libraries, parsers. All of it
comes from package registries, so .ci/run requires it. Only tests marked ``ros`` may be skipped there: they need parts of
ROS 2 that no registry carries.
"""
from __future__ import annotations

import os
from collections import Counter
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any

import pytest

try:
    from hypothesis import settings

    # The same examples on every run; `--hypothesis-profile=search` looks for new ones.
    settings.register_profile("steady", derandomize=True, deadline=None)
    settings.register_profile("search", deadline=None)
    settings.load_profile("steady")
except ImportError:
    pass

#: Modules of independent judges; a test file that can't import one of them has nothing to compare with.
JUDGES = ("pinocchio", "mujoco", "pybullet", "yourdfpy", "trimesh", "coal", "xacro", "catkin_pkg", "hypothesis",
          "jsonschema", "ament_package", "colcon_core", "networkx", "scipy", "rclpy")
REQUIRED = os.environ.get("CHASSIS_DESCRIBE_JUDGES") == "required"


def pytest_configure() -> None:
    """Waiting for the disk keeps files through a power cut, which no test makes: it costs half a second a package."""
    os.fsync = lambda handle: None


#: Of the cases of one parametrised test a run with ``--floor`` takes the first, and then one in so many.
FLOOR = 5


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--floor", action="store_true",
                     help="a second run, with other versions of the libraries: every test but the thorough ones, and of its cases one in "
                          "five. What a test calls in a library is called by each of its cases, and by others; the values are our code's, "
                          "and the full run judges those")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not config.getoption("--floor"):
        return
    seen: Counter[tuple[Path, str]] = Counter()
    kept, left_out = [], []
    for item in items:
        test = (item.path, item.nodeid.split("[")[0])
        whole = seen[test] % FLOOR == 0 or item.get_closest_marker("every_case") is not None
        (kept if whole and item.get_closest_marker("thorough") is None else left_out).append(item)
        seen[test] += 1
    config.hook.pytest_deselected(items=left_out)
    items[:] = kept


@pytest.hookimpl(hookwrapper=True)
def pytest_make_collect_report(collector: pytest.Collector) -> Generator[None, Any, None]:
    report = (yield).get_result()
    if report.outcome == "failed" and not REQUIRED:
        said = str(report.longrepr)
        for name in JUDGES:
            if f"No module named '{name}" in said:
                report.outcome = "skipped"
                report.longrepr = (str(collector.path), 1, f"{name}, which judges here, is not installed")
    elif report.outcome == "skipped" and REQUIRED and not isinstance(collector, pytest.Function):
        report.outcome = "failed"
        report.longrepr = f"skipped, and judges are required: {report.longrepr}"


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: Any) -> Generator[None, Any, None]:
    report = (yield).get_result()
    if report.skipped and REQUIRED and not hasattr(report, "wasxfail") and item.get_closest_marker("ros") is None:
        report.outcome = "failed"
        report.longrepr = f"skipped, and judges are required: {report.longrepr}"


@pytest.fixture(scope="session")
def ros_domain() -> int:
    """The DDS domain of this worker."""
    from tests.ros.graph import free_domain

    return free_domain(os.environ.get("PYTEST_XDIST_WORKER", "master"))


@pytest.fixture(scope="session")
def ros_environment(ros_domain: int) -> dict[str, str]:
    """The environment of a process that runs a ROS node of ours; skipped where rclpy is not installed."""
    pytest.importorskip("rclpy", reason="rclpy is not installed")
    from tests.ros.graph import environment

    return environment(ros_domain)


@pytest.fixture
def ros_node(ros_environment: dict[str, str], ros_domain: int, monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """A node in this process, in the same domain, to listen and to publish with; spin it with rclpy.spin_once."""
    from tests.ros.graph import load_here

    for name in ("ROS_AUTOMATIC_DISCOVERY_RANGE", "ROS_LOCALHOST_ONLY"):
        monkeypatch.setenv(name, ros_environment[name])
    load_here()
    import rclpy
    from rclpy.executors import SingleThreadedExecutor

    context = rclpy.Context()
    rclpy.init(context=context, domain_id=ros_domain)
    node = rclpy.create_node("listener_of_the_test", context=context)
    executor = SingleThreadedExecutor(context=context)
    executor.add_node(node)
    node.spin = lambda seconds: executor.spin_once(timeout_sec=seconds)
    yield node
    executor.shutdown()
    node.destroy_node()
    rclpy.shutdown(context=context)
