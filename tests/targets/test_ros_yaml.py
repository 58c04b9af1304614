"""The writer of ROS parameter files.

Judges: PyYAML (YAML 1.1, the reader of launch and of rclpy.parameter) and, where rclpy is installed, rcl's own parser
in C (repository ros2/rcl, rcl_yaml_param_parser), by the parameters that a node really gets.
"""
from __future__ import annotations

import math
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings, strategies as st

from chassis_describe.targets.stack.ros_yaml import Block, document, double, written

#: Text that a parser could take for something else (measured with PyYAML 6: 123E5 and 1e-3 stay text, 007 becomes 7,
#: on becomes True; ROS's parser reads 123E5 as a number).
TRAPS = ("123E5", "1e-3", "1e3", "007", "0x1F", "on", "y", "no", "null", "~", "nan", ".inf", "3:7", "1_000", "2024-01-01",
         "", " ", "#1", "a: b", "[1, 2]", "{}", "&a", "*a", "!x", "- a", "it's", 'say "x"', "back\\slash", "%", "@", "`")


@pytest.mark.parametrize(("value", "text"), [
    (1.0, "1.0"), (0.2 + 0.8, "1.0"), (0.0, "0.0"), (-0.0, "0.0"), (-1e-17, "0.0"), (0.001, "0.001"), (1e-5, "1.0e-05"),
    (-2.5e-7, "-2.5e-07"), (1e20, "1.0e+20"), (123456789012.0, "123456789012.0"), (1 / 3, "0.333333333333")])
def test_doubles_have_a_point(value: float, text: str) -> None:
    assert double(value) == text


@given(st.floats(allow_nan=False, allow_infinity=False))
@settings(max_examples=200, deadline=None)
def test_doubles_come_back_as_doubles(value: float) -> None:
    read = yaml.safe_load(double(value))
    assert isinstance(read, float)
    assert read == pytest.approx(value, rel=1e-11, abs=1e-15)
    assert math.copysign(1.0, read) == 1.0 or read < 0, "no -0.0"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_numbers_are_finite(value: float) -> None:
    with pytest.raises(ValueError, match="can't be written"):
        double(value)


@pytest.mark.parametrize("value", [(), (1, 0.5), (True, 1), ("a", 1)])
def test_lists_hold_one_type(value: tuple[object, ...]) -> None:
    with pytest.raises(ValueError, match="list"):
        written(value)  # type: ignore[arg-type]


def sample() -> tuple[Block, dict[str, object]]:
    """A document with every kind of value, and what its parameters are."""
    values: dict[str, object] = {
        "double": 1.0, "small": 1e-5, "negative": -0.25, "integer": 1, "yes_no": True, "no_yes": False,
        "doubles": (0.0, 1.0, -2.5e-7), "integers": (1, -2), "flags": (True, False), "texts": ("1.0", "on"),
        **{f"text{n}": text for n, text in enumerate(TRAPS)}}
    doc = Block().note("a remark: with a colon, \u00b0 and a tab\tin it")
    node = doc.parameters("robot", "some_node")
    for key, value in values.items():
        node.put(key, value, "a remark # behind")  # type: ignore[arg-type]
    inner = node.block("deep").block("er")
    inner.put("y", 2.0)
    node.block("without_parameters").note("left out")
    return doc, {**values, "deep.er.y": 2.0}


def test_yaml_reads_the_types_that_were_meant() -> None:
    doc, values = sample()
    text = document(doc)
    text.encode("ascii")
    assert "without_parameters" not in text
    read = yaml.safe_load(text)["robot"]["some_node"]["ros__parameters"]
    assert read.pop("deep") == {"er": {"y": 2.0}}
    for key, value in read.items():
        meant = values[key]
        assert value == (list(meant) if isinstance(meant, tuple) else meant)
        assert type(value) is (list if isinstance(meant, tuple) else type(meant)), key


def test_a_key_stands_once() -> None:
    block = Block().put("a", 1)
    with pytest.raises(ValueError, match="twice"):
        block.put("a", 2)
    with pytest.raises(ValueError, match="not a block"):
        block.block("a")


@pytest.mark.judge
def test_ros_own_parser_gives_a_node_the_same(tmp_path: Path, node_parameters) -> None:  # type: ignore[no-untyped-def]
    doc, values = sample()
    path = tmp_path / "p.yaml"
    path.write_text(document(doc), encoding="ascii")
    got = node_parameters(path, "some_node", "/robot")
    for key, meant in values.items():
        value = got[key]
        assert type(value) is type(meant) or isinstance(meant, tuple), key
        if isinstance(meant, tuple):
            assert list(value) == list(meant), key
            assert {type(v) for v in value} == {type(v) for v in meant}, key
        else:
            assert value == meant, key
