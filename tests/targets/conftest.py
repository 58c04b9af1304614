"""What the tests of targets share: layouts as text, parameters as a ROS node gets them."""
from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

Parameters = Callable[..., dict[str, Any]]


@pytest.fixture(scope="session")
def ros_context() -> Iterator[Any]:
    """A private rclpy context; skipped where rclpy is not installed."""
    rclpy = pytest.importorskip("rclpy", reason="rclpy is not installed")
    context = rclpy.Context()
    rclpy.init(context=context)
    yield context
    rclpy.shutdown(context=context)


@pytest.fixture
def node_parameters(ros_context: Any) -> Parameters:
    """The parameters that a node of this name and namespace gets from a file, read by rcl's own parser."""

    def parameters(path: Path, name: str, namespace: str = "") -> dict[str, Any]:
        from rclpy.node import Node

        node = Node(name, namespace=namespace, context=ros_context, start_parameter_services=False, enable_rosout=False,
                    cli_args=["--ros-args", "--params-file", str(path)], use_global_arguments=False,
                    allow_undeclared_parameters=True, automatically_declare_parameters_from_overrides=True)
        try:
            return {key: parameter.value for key, parameter in node.get_parameters_by_prefix("").items()}
        finally:
            node.destroy_node()

    return parameters


@pytest.fixture
def resolved_topic(ros_context: Any) -> Callable[..., str]:
    """What a topic of a node becomes under ROS arguments, by rcl's own remapping."""

    def resolve(topic: str, arguments: list[str], name: str, namespace: str = "") -> str:
        from rclpy.node import Node

        node = Node(name, namespace=namespace, context=ros_context, start_parameter_services=False, enable_rosout=False,
                    cli_args=["--ros-args", *arguments], use_global_arguments=False)
        try:
            return str(node.resolve_topic_name(topic))
        finally:
            node.destroy_node()

    return resolve


LAYOUTS = Path(__file__).parent / "layouts"
Robots = Callable[..., Any]


@pytest.fixture(scope="session")
def robots() -> Robots:
    """``robots(name, prefix=..., text=..., **ros)``: a robot of ``layouts/``, ``ros`` settings replaced; each built once."""
    from dataclasses import replace

    from chassis_describe import assemble, read

    built: dict[tuple[Any, ...], Any] = {}
    first: dict[tuple[Any, ...], Any] = {}

    def build(name: str, *, swap: tuple[tuple[str, str], ...] = (), **ros: Any) -> Any:
        key = (name, swap, tuple(sorted(ros.items())))
        if key not in built:
            path = LAYOUTS / f"{name}.yaml"
            text = path.read_text(encoding="utf-8")
            for old, new in swap:
                assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {path.name}"
                text = text.replace(old, new)
            layout = read(path, text=text)
            robot = built[key] = assemble(replace(layout, ros=replace(layout.ros, **ros)))
            # What follows from the geometry is worked out once: no fact knows of the stack (test_house.py).
            alike = first.setdefault((name, swap, ros.get("prefix"), ros.get("slam_lidar")), robot)
            robot.kept.update({fact: value for fact, value in alike.kept.items()
                               if fact.__module__.startswith("chassis_describe.facts.")})
        return built[key]

    return build
