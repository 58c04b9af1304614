"""What is accepted and refused as YAML before a key is looked at: encodings, bounds, aliases, merges, documents."""
from __future__ import annotations

import sys

import pytest

from chassis_describe.errors import ChassisError, LayoutError
from chassis_describe.findings import Finding
from chassis_describe.layout.read import read
from chassis_describe.yaml_text.compose import compose
from chassis_describe.yaml_text.nodes import MAX_DEPTH

GOOD = """layout: 1
robot: form
decks:
  lower: {outline: {circle: 180}, thickness: 4, note: "a note"}
"""


def faults(text: str | bytes) -> tuple[Finding, ...]:
    with pytest.raises(LayoutError) as raised:
        read("robot.yaml", text=text)
    return raised.value.findings


@pytest.fixture(params=["libyaml", "pure Python"])
def parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Both parsers that PyYAML has."""
    if request.param == "pure Python":
        monkeypatch.setitem(sys.modules, "yaml.cyaml", None)
    else:
        pytest.importorskip("yaml.cyaml")
    return str(request.param)


@pytest.mark.parametrize("text", [
    GOOD, GOOD.encode(), b"\xef\xbb\xbf" + GOOD.encode(), GOOD.replace("\n", "\r\n"), GOOD.rstrip("\n"),
    "%YAML 1.2\n---\n" + GOOD, "# comment\n\t\n" + GOOD, GOOD + "...\n", GOOD + "# a\ttab\n",
    GOOD.replace("a note", "Größe 12 µm, 電池")])
def test_forms_that_are_taken(text: str | bytes, parser: str) -> None:
    assert read("robot.yaml", text=text).decks["lower"].outline.diameter == 0.18  # type: ignore[union-attr]


@pytest.mark.parametrize(("text", "line", "column", "words"), [
    (b"layout: 1\nrobot: caf\xe9\n", 2, 11, "not UTF-8"),
    ("layout: 1\n".encode("utf-16"), 1, 1, "not UTF-8"),
    ("layout: 1\nrobot: a\x07b\n", 2, 9, "control character"),
    ("", 1, 1, "empty"), ("# only a comment\n", 1, 1, "empty"),
    ("- a\n- b\n", 1, 1, "a list of 2"), ("just text\n", 1, 1, "just text"),
    ("layout: 1\ndecks:\n\tlower: {}\n\tupper: {}\n", 3, 1, "indented with a tab; so is 1 more line"),
    ("layout: 1\ndecks:\n  lower:\n  \toutline: {}\n", 4, 3, "indented with a tab"),
])
def test_forms_that_are_refused_at_their_place(text: str | bytes, line: int, column: int, words: str, parser: str) -> None:
    first = faults(text)[0]
    assert (first.where[0].line, first.where[0].column) == (line, column)
    assert words in first.message


def test_too_large() -> None:
    assert "4 MiB" in faults(GOOD + "#" * (4 * 1024 * 1024))[0].message


def test_nesting_is_bounded(parser: str) -> None:
    def nested(levels: int) -> str:
        return "a: " + "[" * (levels - 1) + "]" * (levels - 1)

    assert compose(nested(MAX_DEPTH), "f")[0] is not None
    root, found = compose(nested(MAX_DEPTH + 1), "f")
    assert root is None
    assert "64 levels" in found[0].message
    assert "64 levels" in faults("a: " + "[" * 1_000_000)[0].message


def test_alias_bomb(parser: str) -> None:
    """Each level nine times the one before: 9^9 values from a few hundred bytes."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{k}: &a{k} [{', '.join([f'*a{k - 1}'] * 9)}]" for k in range(1, 10)]
    assert "aliases blow this up" in faults("\n".join(lines))[0].message


def test_merge_bomb_of_mappings(parser: str) -> None:
    lines = ["b0: &b0 {x: {y: {z: 1}}}"]
    lines += [f"b{k}: &b{k} {{{', '.join(f'k{n}: *b{k - 1}' for n in range(9))}}}" for k in range(1, 10)]
    assert "aliases blow this up" in faults("\n".join(lines))[0].message


def test_aliases_and_merges(parser: str) -> None:
    layout = read("robot.yaml", text="""
layout: 1
robot: form
decks:
  lower: &plate {outline: &edge {circle: 180}, thickness: 4, note: first}
  upper:
    <<: *plate
    thickness: 3
    above: lower
    standoffs: [{length: 60, holes: &corners [[-3, 0], [3, 0], [0, 3]]}]
  roof: {<<: [{thickness: 5}, *plate], above: upper, standoffs: [{length: 40, holes: *corners}]}
""")
    assert [d.thickness for d in layout.decks.values()] == [0.004, 0.003, 0.005]
    assert [d.note for d in layout.decks.values()] == ["first"] * 3
    assert layout.decks["roof"].placing.standoffs[0].holes == ((-3, 0), (3, 0), (0, 3))  # type: ignore[union-attr]


def test_a_fault_behind_an_alias_has_the_path_of_its_user_and_the_place_of_the_text(parser: str) -> None:
    found = faults("""layout: 1
robot: form
decks:
  lower: {outline: &edge {circle: 18O}, thickness: 4}
  upper: {outline: *edge, thickness: 4, above: lower, standoffs: [{length: 40, holes: [[0, 0]]}]}
""")
    assert [(f.where[0].line, f.where[0].column, f.where[0].path) for f in found] == [
        (4, 35, ("decks", "lower", "outline", "circle")), (4, 35, ("decks", "upper", "outline", "circle"))]


def test_keys_that_old_yaml_takes_for_truth_values(parser: str) -> None:
    """YAML 1.1 reads y, n, on, off, yes and no as booleans, 1.2 (and this reader) as the text that stands there."""
    layout = read("robot.yaml", text="""
layout: 1
robot: form
parts: {y: {bodies: [{cylinder: [10, 20], axis: y}]}, on: {bodies: [{box: [1, 2, 3]}]}}
decks: {no: {outline: {circle: 180}, thickness: 4, note: no}}
placements: {off: {part: y, on: no}, yes: {part: on, on: no, note: on}}
""")
    assert list(layout.placements) == ["off", "yes"]
    assert layout.placements["off"].part.name == "y"
    assert (layout.placements["yes"].part.name, layout.placements["yes"].note) == ("on", "on")
    assert layout.decks["no"].note == "no"


@pytest.mark.parametrize(("text", "words"), [
    ("a: Lidar: front\n", "quote the text"), ("a: [1, 2\nb: 3\n", "not closed"), ("a: 'x\n", "close"),
    ("a: @x\n", "quote"), ("a: %x\n", ""), ("a: `x`\n", "quote"), ("a: *important*\n", "quote"), ("a: &\n", ""),
    ("a: |x\n", ""), ('a: "\\q"\n', "single quotes"), ("a: 1\n b: 2\n", ""), ("- a\nb: 2\n", ""), ("a: }\n", ""),
    ("a: !x 1\n", "unit"), ("? [a]\n: b\n", "plain name"), ("{a: 1}: 2\n", "plain name"), ("a: 1\n---\nb: 2\n", "---"),
    ("a: 1\n... x\n", ""), ("%TAG\n", ""), ("a: &x 1\nb: &x 2\n*x : 3\n", "")])
def test_broken_yaml_says_what_to_do(text: str, words: str, parser: str) -> None:
    found = faults(text)
    assert any(words in f"{f.message} {f.hint}" for f in found), [str(f) for f in found]
    assert all(f.where and f.where[0].line >= 1 for f in found)


@pytest.mark.parametrize("text", ["\ud800", "layout: 1\nrobot: \ud800\n"])
def test_half_a_surrogate_pair_is_refused(text: str) -> None:
    with pytest.raises(ChassisError):
        read("robot.yaml", text=text)
