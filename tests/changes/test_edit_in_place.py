"""A placement moved in the text of its layout: everything else stays, byte for byte.

Where a value stands is told by PyYAML's own composer in pure Python, which the editor does not use.
"""
from __future__ import annotations

import re
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings, strategies as st

import chassis_describe as cd
from chassis_describe.changes.move import Request, plan
from chassis_describe.errors import UsageError
from chassis_describe.layout.model import InputFile
from chassis_describe.yaml_text.nodes import decoded
from chassis_describe.yaml_text.spans import spans
from chassis_describe.yaml_text.spelling import number_like, number_text

CORPUS = Path(__file__).parent / "corpus"
FILES = sorted(CORPUS.glob("*.yaml"))


def listed(data: bytes, label: str) -> list[str]:
    found = re.search(rb"# " + label.encode() + rb": ([^\r\n]*)", data)
    return found[1].decode().split() if found else []


# JSON-like files can't begin with a comment in every reader, so this one is named here.
MOVES = [(f, n) for f in FILES for n in (listed(f.read_bytes(), "moves") or ["a", "b"])]
REFUSES = [(f, n) for f in FILES for n in listed(f.read_bytes(), "refuses")]


def assembled(data: bytes) -> Any:
    return cd.assemble(cd.read("corpus.yaml", text=data))


def moved(data: bytes, name: str, i: object, j: object, **more: Any) -> bytes:
    request = Request(placement=name, by=(Decimal(str(i)), Decimal(str(j))), **more)
    edit = plan(request, assembled(data), [InputFile(path="corpus.yaml", data=data)])
    return data if edit is None else edit.data


def without(data: bytes, name: str, keys: set[str]) -> tuple[str, str]:
    """The text before and after the values of these keys of a placement, cut out; and the placement's own text."""
    text = data.decode("utf-8")
    bom = text.startswith("\ufeff")
    text = text.removeprefix("\ufeff")
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    placements = next(v for k, v in root.value if k.value == "placements")
    own = next(v for k, v in placements.value if k.value == name)
    pieces, end = [], 0
    for key, value in own.value:
        if key.value in keys:
            pieces.append(text[end: key.end_mark.index])
            end = value.end_mark.index
            # A block ends for this composer where the next token begins: take it back to its last value.
            if isinstance(value, yaml.SequenceNode) and not value.flow_style:
                last = value.value[-1]
                while isinstance(last, yaml.SequenceNode) and not last.flow_style:
                    last = last.value[-1]
                end = last.end_mark.index
    return "\ufeff" * bom + "\0".join([*pieces, text[end:]]), text


def has(data: bytes, name: str, key: str) -> bool:
    root = yaml.compose(data.decode("utf-8").removeprefix("\ufeff"), Loader=yaml.SafeLoader)
    placements = next(v for k, v in root.value if k.value == "placements")
    return any(k.value == key for k, _ in next(v for k, v in placements.value if k.value == name).value)


@pytest.mark.parametrize(("file", "name"), MOVES, ids=lambda v: v.stem if isinstance(v, Path) else v)
@pytest.mark.parametrize(("i", "j"), [(2, 0), (-1, 3)])
def test_nothing_but_the_place_changes(file: Path, name: str, i: int, j: int) -> None:
    data = file.read_bytes()
    new = moved(data, name, i, j)
    assert new != data
    key = "screws" if has(new, name, "screws") else "at"
    if has(data, name, key):
        assert without(new, name, {key})[0] == without(data, name, {key})[0]
        # Inside the value only digits and signs have changed: comments, spaces and line ends are as they were.
        digits = re.compile(r"[-+.\d*]|(?<=\*)[a-z]+")
        if b"*" not in data:
            assert digits.sub("", new.decode()) == digits.sub("", data.decode())
        assert moved(new, name, -i, -j) == data or b"*" in data
    else:
        extra = re.compile(rf"(?:, |(?:\r\n|\r|\n) +)[\"']?{key}[\"']?: \[[^\]]*\]")
        before, after = data.decode(), new.decode()
        found = [m for m in extra.finditer(after) if after[: m.start()] + after[m.end():] == before]
        assert len(found) == 1
        assert moved(moved(new, name, -i, -j), name, i, j) == new
    if b"\r\n" in data:
        assert not re.search(rb"(?<!\r)\n", new)


@pytest.mark.parametrize(("file", "name"), MOVES, ids=lambda v: v.stem if isinstance(v, Path) else v)
def test_the_new_robot_is_the_old_one_with_that_part_moved(file: Path, name: str) -> None:
    data = file.read_bytes()
    old, new = assembled(data), assembled(moved(data, name, 3, -1))
    carried = {name, *(n for n, p in old.parts.items() if p.placement.on == name)}
    mirrors = {n for n, p in old.parts.items() if p.placement.mirror_of == name}
    pitch = 0.010 if old.parts[name].placement.support == "seat" else 0.020
    for n, placed in old.parts.items():
        if n in carried:
            mine = old.parts[name]
            support = mine.pose @ mine.part_in_support.inverse()
            if mine.placement.support == "seat":  # the lattice is the seat's, whose axes are the part's here
                assert mine.placement.seat == "top"
            shift = support.vector((3 * pitch, -1 * pitch, 0.0))
            assert new.parts[n].pose.t == pytest.approx(tuple(a + b for a, b in zip(placed.pose.t, shift)), abs=1e-12)
            assert new.parts[n].pose.r == placed.pose.r
        elif n in mirrors:
            assert (new.parts[n].at[0] - placed.at[0], new.parts[n].at[1] - placed.at[1]) in ((3, 1), (3.0, 1.0), (0, 0))
        else:
            assert new.parts[n].pose == placed.pose
    assert new.inertial.mass == pytest.approx(old.inertial.mass, rel=1e-12)


@pytest.mark.parametrize(("file", "name"), REFUSES, ids=lambda v: v.stem if isinstance(v, Path) else v)
def test_what_would_move_others_too_is_refused_by_name(file: Path, name: str) -> None:
    with pytest.raises(UsageError) as refused:
        moved(file.read_bytes(), name, 1, 0)
    reason = str(refused.value)
    if file.stem == "anchors":
        others = {"b": "placements > d", "e": "placements > f", "g": "placements > h", "h": "*lone"}
        assert others[name] in reason
    else:
        assert "no lattice" in reason


@given(place=st.sampled_from(MOVES), i=st.integers(-3, 3), j=st.integers(-3, 3), half=st.booleans())
@settings(max_examples=30, deadline=None)
def test_there_and_back_gives_the_file_again(place: tuple[Path, str], i: int, j: int, half: bool) -> None:
    file, name = place
    data = file.read_bytes()
    step = (i + 0.5, j) if half else (i, j)
    if b"*" in data or (half and b"screws" in data) or step == (0, 0):
        return
    new = moved(data, name, *step)
    # A first move may put in a key that was not there; from then on the file comes back to itself.
    there = moved(new, name, 1, 0)
    assert moved(there, name, -1, 0) == new
    if has(data, name, "at") or has(data, name, "screws"):
        back = moved(new, name, *(-s for s in step))
        assert back == data or (half and assembled(back).parts[name].pose == assembled(data).parts[name].pose)


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_both_parsers_of_pyyaml_give_the_same_places(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # PyYAML without libyaml, as it comes where no compiler was
    text = decoded(file.read_bytes(), "")[0]
    with_libyaml = spans(text)
    monkeypatch.setitem(sys.modules, "yaml.cyaml", None)
    assert spans(text) == with_libyaml


# ---------------------------------------------------------------------------------------- layouts in random handwriting
@st.composite
def handwriting(draw: st.DrawFn) -> tuple[bytes, dict[str, object]]:
    """A layout whose placement `probe` is written in some style or other, and what it says."""
    at = draw(st.none() | st.tuples(st.integers(-5, 5), st.sampled_from([-2, 0, 1.5, 3])))
    keys: dict[str, object] = {"part": "block", "on": "plate"}
    if at is not None:
        keys["at"] = list(at)
    if draw(st.booleans()):
        keys["points"] = draw(st.sampled_from(["left", "back"]))
    if draw(st.booleans()):
        keys["note"] = draw(st.sampled_from(["it's [here], {so}", "🔋 → é", "at: [1, 1]", "# none"]))
    order = draw(st.permutations(sorted(keys)))
    line = draw(st.sampled_from(["\n", "\r\n"]))
    comment = draw(st.sampled_from(["", "  # plain", "  # at: [7, 7]", "  # tab\there 🔧"]))
    flow = draw(st.booleans())
    gap = draw(st.sampled_from(["", " ", "   "]))
    quote = draw(st.sampled_from(["", "'", '"']))

    def value(key: str) -> str:
        if key == "note":
            return yaml.safe_dump(keys[key], default_style="'", allow_unicode=True, width=1000).strip()
        if key == "at":
            inside = f",{draw(st.sampled_from(['', ' ', '  ', line + '        ']))}".join(str(v) for v in at or ())
            return f"[{gap}{inside}{gap}]"
        return f"{quote}{keys[key]}{quote}"

    if flow:
        split = draw(st.sampled_from([", ", f",{comment}{line}      " if comment else ", ", f"{line}      , "]))
        entry = f"  probe:{gap or ' '}{{{gap}{split.join(f'{quote}{k}{quote}: {value(k)}' for k in order)}{gap}}}{comment}"
    else:
        indent = draw(st.sampled_from(["    ", "      "]))
        rows = []
        for key in order:
            if key == "at" and draw(st.booleans()):
                rows.append(f"{indent}at:{comment}{line}" + line.join(f"{indent}- {v}{comment}" for v in at or ()))
            else:
                rows.append(f"{indent}{key}:{gap or ' '}{value(key)}{comment}")
        entry = f"  probe:{comment}{line}" + line.join(rows)
    before = draw(st.booleans())
    other = "  other: {part: block, on: plate, at: [9, 9]}"
    tail = draw(st.sampled_from(["", line, f"{line}{line}# the end"]))
    head = ["layout: 1", "robot: hand_made", "parts: {block: {mass: 20, bodies: [{box: [9, 9, 9]}], bolts: [[0, 0]]}}",
            "decks: {plate: {outline: {rectangle: [600, 400]}, thickness: 4, material: birch plywood}}", "placements:"]
    text = line.join([*head, other, entry] if before else [*head, entry, other]) + tail
    bom = draw(st.booleans())
    return ("\ufeff" if bom else "").encode() + text.encode(), keys


@given(written=handwriting(), i=st.integers(-4, 4), j=st.integers(-4, 4))
@settings(max_examples=60, deadline=None)
def test_any_handwriting(written: tuple[bytes, dict[str, object]], i: int, j: int) -> None:
    data, keys = written
    new = moved(data, "probe", i, j)
    said = yaml.safe_load(data.decode("utf-8-sig"))
    at = said["placements"]["probe"].setdefault("at", [0, 0])
    said["placements"]["probe"]["at"] = [at[0] + i, at[1] + j]
    now = yaml.safe_load(new.decode("utf-8-sig"))
    now["placements"]["probe"].setdefault("at", [0, 0])
    assert now == said
    if "at" in keys:
        assert without(new, "probe", {"at"})[0] == without(data, "probe", {"at"})[0]
        assert moved(new, "probe", -i, -j) == data
    elif i or j:
        # A new key was put in, at one place.
        k = next(n for n, (a, b) in enumerate(zip(data + b"\0", new + b"\1")) if a != b)
        extra = len(new) - len(data)
        assert any(new[:n] + new[n + extra:] == data for n in range(max(k - extra, 0), k + 1))


# -------------------------------------------------------------------------------------------------------------- numbers
@pytest.mark.parametrize(("old", "value", "new"), [
    ("1", "3", "3"), ("1", "1.5", "1.5"), ("1.5", "2", "2"), ("1.0", "3", "3.0"), ("-0.50", "1.5", "1.50"),
    ("+1", "3", "+3"), ("+1", "-1", "-1"), ("5.", "7", "7."), (".5", "1.5", "1.5"), ("1e0", "3", "3e0"),
    ("2E1", "22", "2.2E1"), ("0", "0", "0"), ("1", "0.1", "0.1"), ("1e1", "0", "0"),
    # What does not change stays as it is written, whatever another number of the list does.
    ("-0", "0", "-0"), ("00.5", "0.5", "00.5"), ("10e-1", "1", "10e-1"), (".50", "0.5", ".50"), ("-0.0", "0", "-0.0")])
def test_numbers_keep_their_spelling(old: str, value: str, new: str) -> None:
    assert number_like(old, Decimal(value)) == new
    assert Decimal(new) == Decimal(value)


@given(st.decimals(-1000, 1000, places=3), st.integers(-50, 50))
@settings(max_examples=60, deadline=None)
def test_whole_steps_there_and_back_keep_the_spelling(value: Decimal, step: int) -> None:
    old = number_text(value)
    there = number_like(old, value + step)
    assert Decimal(there) == value + step
    assert number_like(there, value) == old


# ------------------------------------------------------------------------------------------------------- single oddities
PLAIN = """layout: 1
robot: odd_robot
parts: {block: {mass: 20, bodies: [{box: [9, 9, 9]}], bolts: [[0, 0]]}}
decks: {plate: {outline: {rectangle: [600, 400]}, thickness: 4, material: birch plywood}}
placements:"""
SHARED = "\n  z: &z {part: block, on: plate, at: &p [9, 9]}\n"


@pytest.mark.parametrize(("before", "after"), [
    (" {a: {part: block, on: plate, at: [1, 2,],},}", " {a: {part: block, on: plate, at: [3, 1,],},}"),
    ("\n  ? a\n  : part: block\n    on: plate\n", "\n  ? a\n  : part: block\n    on: plate\n    at: [2, -1]\n"),
    ("\n  &k a: {part: block, on: plate}\n", "\n  &k a: {part: block, on: plate, at: [2, -1]}\n"),
    ("\n  a: {part: block,\n      on: plate # c\n     }\n", "\n  a: {part: block,\n      on: plate, at: [2, -1] # c\n     }\n"),
    ("\n  a:\n    part: block\n    on: plate\n    at:\n      - &x 1\n      - &y -2   # c\n",
     "\n  a:\n    part: block\n    on: plate\n    at:\n      - &x 3\n      - &y -3   # c\n"),
    # YAML 1.1, 5.4: next line and line separator are line breaks too
    ("\n  a:\n    part: block\n    on: plate # x\x85    turn: 0\n",
     "\n  a:\n    part: block\n    on: plate # x\x85    at: [2, -1]\x85    turn: 0\n"),
    ("\n  a:\n    part: block # a\u2028    on: plate\n", "\n  a:\n    part: block # a\u2028    on: plate\n    at: [2, -1]\n"),
    ("\n  a: {'part': \"block\", 'on': 'plate'}\n", "\n  a: {'part': \"block\", 'on': 'plate', 'at': [2, -1]}\n"),
    ("\n  a: {part: block, on: plate}\n...\n", "\n  a: {part: block, on: plate, at: [2, -1]}\n...\n"),
    ("\n  a:\n    note: |\n      hi\n    on: plate\n    part: block\n",
     "\n  a:\n    note: |\n      hi\n    on: plate\n    part: block\n    at: [2, -1]\n"),
    (f"{SHARED}  a: {{<<: *z}}\n", f"{SHARED}  a: {{<<: *z, at: [11, 8]}}\n"),
    (f"{SHARED}  a:\n    note: x\n    <<: *z\n", f"{SHARED}  a:\n    note: x\n    <<: *z\n    at: [11, 8]\n"),
    (f"{SHARED}  a: {{at: *p , part: block, on: plate}}\n", f"{SHARED}  a: {{at: [11, 8] , part: block, on: plate}}\n"),
])
def test_single_oddities(before: str, after: str) -> None:
    assert moved((PLAIN + before).encode(), "a", 2, -1).decode() == PLAIN + after
