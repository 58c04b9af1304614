"""Values in anybody's YAML: every byte but the intended ones stays, and PyYAML, which judges here, reads what was meant.

The file to edit is in the style of the parameter files of Nav2 and ros2_control (names from memory, numbers invented).
"""
from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
import yaml
from hypothesis import given, strategies as st

from chassis_describe.errors import UsageError
from chassis_describe.yaml_text.values import Path, Value, tree_of, value_at, with_values

TEXT = """# the robot's navigation\t
---
"/**":   # for all
  ros__parameters: {use_sim_time: false}   # { "not": a key }
local_costmap:
  local_costmap:
    ros__parameters:
      footprint: "[[0.1, 0.1], [0.1, -0.1], [-0.1, 0]]"  # outline
      robot_radius: 0.220   # m, "about"
      inflation_layer: &inflation
        cost_scaling_factor: 3.0
        inflation_radius: .55
      plugins: ['voxel', "inflation"]
      flow: {a: 1.50, 'b': [ 1.0,2.0 ,  3 ], "c d": +2e-1,}
      origins:
      - -1.250 # first
      -   2.0
      empty:
      tagged: !!float 1
      both: &x !!str "text"
global_costmap:
  global_costmap:
    ros__parameters:
      inflation_layer: *inflation
      merged: {<<: *inflation, inflation_radius: 0.7}
      robot_radius: 0.220
# the end, without a line break: \u00e9\u4e2d"""
P = ("local_costmap", "local_costmap", "ros__parameters")
G = ("global_costmap", "global_costmap", "ros__parameters")


def at(data: bytes, path: Path) -> Any:
    value = yaml.safe_load(data)
    for step in path:
        value = value[step]
    return value


@pytest.mark.parametrize(("path", "value", "old", "new"), [
    ((*P, "robot_radius"), 0.25, "robot_radius: 0.220   # m", "robot_radius: 0.250   # m"),
    ((*P, "robot_radius"), 1.0, "robot_radius: 0.220   # m", "robot_radius: 1.0   # m"),
    ((*P, "footprint"), "[[0.2, 0.1]]", '"[[0.1, 0.1], [0.1, -0.1], [-0.1, 0]]"', '"[[0.2, 0.1]]"'),
    ((*P, "flow", "b"), [1.0, 2.5, 4], "[ 1.0,2.0 ,  3 ]", "[ 1.0,2.5 ,  4 ]"),
    ((*P, "flow", "b", 1), 2.5, "[ 1.0,2.0 ,  3 ]", "[ 1.0,2.5 ,  3 ]"),
    ((*P, "flow", "a"), 2.0, "a: 1.50", "a: 2.0"),
    ((*P, "flow", "c d"), 0.3, "+2e-1", "+3e-1"),
    ((*P, "origins"), [-1.5, 2.25], "- -1.250 # first\n      -   2.0", "- -1.500 # first\n      -   2.25"),
    ((*P, "plugins", 0), "it's", "['voxel'", "['it''s'"),
    ((*P, "empty"), 5, "empty:\n", "empty: 5\n"),
    ((*P, "tagged"), 2, "!!float 1", "!!float 2"),
    ((*P, "both"), "other", '&x !!str "text"', '&x !!str "other"'),
    (("/**", "ros__parameters", "use_sim_time"), True, "use_sim_time: false", "use_sim_time: true"),
    ((*G, "merged", "inflation_radius"), 0.8, "inflation_radius: 0.7", "inflation_radius: 0.8")])
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"])
def test_one_value_and_no_other_byte(path: Path, value: Value, old: str, new: str, ends: str, bom: bytes) -> None:
    data, expected = (bom + t.replace("\n", ends).encode() for t in (TEXT, TEXT.replace(old, new)))
    assert old in TEXT
    assert with_values(data, "nav2.yaml", {path: value}) == expected
    assert with_values(expected, "nav2.yaml", {path: value}) == expected


@pytest.mark.parametrize(("path", "value", "says"), [
    ((*P, "inflation_layer", "cost_scaling_factor"), 5.0, r"global_costmap.*would change too"),
    ((*G, "inflation_layer", "cost_scaling_factor"), 5.0, r"\*inflation"), ((*G, "inflation_layer"), 5.0, r"\*inflation"),
    ((*G, "merged", "cost_scaling_factor"), 5.0, "<<"), ((*P, "nothing"), 1, "has no"), ((*P, "origins", 7), 1, "has no"),
    ((*P, "origins"), [1.0], "list of 2"), ((*P, "origins"), 1.0, "single value"), ((*P, "flow"), 1.0, "a mapping"),
    ((*P, "robot_radius"), [1.0], "one value"), ((*P, "robot_radius"), float("nan"), "no number")])
def test_what_cannot_be_changed_alone_is_refused(path: Path, value: Value, says: str) -> None:
    with pytest.raises(UsageError, match=says):
        with_values(TEXT.encode(), "nav2.yaml", {path: value})


@pytest.mark.parametrize(("text", "says"), [
    ("a: 1\n---\nb: 2\n", "second YAML document begins in line 2"), ("a: 1\na: 2\n", "2 times"), ("a: [1\n", "not YAML"),
    ("a: |\n  1\n", "block of text"), ("a: \xff\n", "UTF-8"), ("[" * 80, "deeper"), ("", "has no"), ("- a\n", "has no"), ("a: &a [*a]\n", "list of 1")])
def test_files_that_are_not_edited(text: str, says: str) -> None:
    with pytest.raises(UsageError, match=says):
        with_values(text.encode("latin-1"), "x.yaml", {("a",): [1, 2] if "&a" in text else 1})


def test_what_stands_there() -> None:
    assert value_at(tree_of(TEXT.encode(), "x")[1], "x", (*P, "nothing")) is None
    word = value_at(tree_of(TEXT.encode(), "x")[1], "x", (*P, "robot_radius"))
    assert word is not None
    assert TEXT[word.start: word.end] == "0.220"


KEYS = st.sampled_from(["a", "'b c'", '"/**"', "ros__parameters", "é", "x.y"])
NUMBERS = st.sampled_from(["0", "1", "-2.50", "+0.3", ".5", "1e3", "2.0e-2", "'3'", '"4.0"', "10"])
LEAVES = st.one_of(NUMBERS, st.sampled_from(["text", "'it''s # no comment'", '"\\u00e9: x"', "true", "~", ""]))
SPACES = st.sampled_from(["", " ", "  # comment: [1, {2", "\t# tab"])


@st.composite
def documents(draw: st.DrawFn) -> tuple[str, list[Path]]:
    """Block mappings in one another with flow and block lists, comments and blank lines; and the paths of the numbers."""
    lines: list[str] = draw(st.lists(st.sampled_from(["# head", "", "  # indented"]), max_size=2))
    paths: list[Path] = []

    def mapping(indent: int, path: Path, depth: int) -> None:
        for key in draw(st.lists(KEYS, min_size=1, max_size=3, unique=True)):
            here = (*path, yaml.safe_load(key))
            kind = draw(st.integers(0, 4 if depth < 3 else 3))
            start = " " * indent + key + ":"
            if kind == 4:
                lines.append(start + draw(SPACES))
                mapping(indent + draw(st.integers(1, 4)), here, depth + 1)
            elif kind == 3:
                lines.append(start + draw(SPACES))
                for number in range(draw(st.integers(1, 3))):
                    paths.append((*here, number))
                    lines.append(" " * indent + "-" + " " * draw(st.integers(1, 3)) + draw(NUMBERS) + draw(SPACES))
            elif kind == 2:
                count = draw(st.integers(1, 3))
                paths.extend((*here, number) for number in range(count))
                lines.append(start + " [" + draw(st.sampled_from([", ", " ,", ",  "])).join(draw(NUMBERS) for _ in range(count)) + "]" + draw(SPACES))
            elif kind == 1:
                paths.append(here)
                lines.append(start + " " + draw(NUMBERS) + draw(SPACES))
            else:
                lines.append(start + " " + draw(LEAVES) + draw(SPACES))
            lines.extend(draw(st.lists(st.sampled_from(["", "# between"]), max_size=1)))

    mapping(0, (), 0)
    return draw(st.sampled_from(["\n", "\r\n"])).join(lines) + draw(st.sampled_from(["", "\n"])), paths


@given(documents(), st.randoms(use_true_random=False), st.decimals(-1000, 1000, places=3))
def test_any_document_and_any_number(document: tuple[str, list[Path]], chance: Any, number: Decimal) -> None:
    text, paths = document
    data = text.encode()
    if not paths:
        return
    path = chance.choice(paths)
    new = with_values(data, "any.yaml", {path: number})
    before, after = yaml.safe_load(data.replace(b"\t#", b" #")), yaml.safe_load(new.replace(b"\t#", b" #"))
    assert float(at(new.replace(b"\t#", b" #"), path)) == pytest.approx(float(number))
    holder, other = before, after
    for step in path[:-1]:
        holder, other = holder[step], other[step]
    holder[path[-1]] = other[path[-1]] = None
    assert before == after  # nothing else
    word = value_at(tree_of(data, "any.yaml")[1], "any.yaml", path)
    assert word is not None
    start, tail = text[: word.start].encode(), text[word.end:].encode()
    assert new.startswith(start)
    assert new.endswith(tail)
