"""Layouts made to hurt: long chains, thousands of faults, endless numbers. They end, with our own exceptions."""
from __future__ import annotations

import pytest

from chassis_describe.errors import LayoutError
from chassis_describe.layout.read import read
from chassis_describe.yaml_text.nodes import MAX_FAULTS

HEAD = "layout: 1\nrobot: r\ndecks: {a: {outline: {circle: 100}, thickness: 4}}\n"


def faults(text: str) -> LayoutError:
    with pytest.raises(LayoutError) as raised:
        read("r.yaml", text=text)
    return raised.value


def test_a_long_chain_of_mirrors_last_first() -> None:
    lines = [f"  p{k}: {{mirror_of: p{k + 1}}}" for k in range(3000)]
    text = HEAD + "parts: {b: {bodies: [{box: [9, 9, 9]}]}}\nplacements:\n" + "\n".join(lines)
    placements = read("r.yaml", text=text + "\n  p3000: {part: b, on: a, at: [1, 2]}\n").placements
    assert (placements["p0"].at, placements["p1"].at) == ((1, 2), (1, -2))
    assert len(faults(text + "\n  p3000: {mirror_of: p7}\n").findings) == 1


def test_a_long_chain_of_parts_that_are_like_one_another() -> None:
    lines = [f"  p{k}: {{like: p{k + 1}}}" for k in range(3000)]
    text = HEAD + "parts:\n" + "\n".join(lines) + "\n  p3000: {mass: 5, bodies: [{box: [9, 9, 9]}]}\n"
    assert read("r.yaml", text=text + "placements: {it: {part: p0, on: a}}").placements["it"].part.mass == 0.005
    assert len(faults(text.replace("p3000: {", "p3000: {like: p9, ")).findings) == 1


def test_a_long_loop_of_supports() -> None:
    lines = [f"  p{k}: {{part: b, on: p{(k + 1) % 3000}}}" for k in range(3000)]
    text = HEAD + "parts: {b: {bodies: [{box: [9, 9, 9]}], seats: {top: {}}}}\nplacements:\n" + "\n".join(lines)
    found = faults(text).findings
    assert [f.code for f in found] == ["tree"]
    assert len(found[0].where) == 3000


def test_thousands_of_unknown_names() -> None:
    lines = [f"  p{k}: {{part: bb, on: q{k}}}" for k in range(3000)]
    found = faults(HEAD + "parts: {b: {bodies: [{box: [9, 9, 9]}]}}\nplacements:\n" + "\n".join(lines)).findings
    assert len(found) == 6000
    assert any("only the first 100" in f.hint for f in found)


@pytest.mark.parametrize("text", [
    HEAD.replace("thickness: 4", "thickness: 4, skip: [" + "a, " * (2 * MAX_FAULTS) + "]"), "a: 1\n" * (2 * MAX_FAULTS)])
def test_more_faults_than_anybody_reads_are_said_to_be_more(text: str) -> None:
    found = faults(text).findings
    assert MAX_FAULTS <= len(found) <= MAX_FAULTS + 2
    assert any(f"more than {MAX_FAULTS} faults" in f.message for f in found)


@pytest.mark.parametrize("value", ["0" * 300_000 + " a b", "1" * 300_000, "1e" + "9" * 300_000, "a." * 100_000 + "@",
                                   "_".join("ab" * 50_000), "9" * 100])
@pytest.mark.parametrize("place", ["thickness: {}", "note: x, mass: {}", "skip: [[{}, 0]]", "material: {}", "{}: 1"])
def test_endless_values(value: str, place: str) -> None:
    error = faults(HEAD.replace("thickness: 4", place.format(value)))
    assert all(len(f.message) < 400 for f in error.findings)


@pytest.mark.parametrize("key", ["prefix", "version", "hardware", "maintainer: {name: x, email"])
def test_endless_texts_with_a_pattern(key: str) -> None:
    value = "a.a@" + "a." * 100_000 + "_1.1.1/"
    assert faults(f"{HEAD}ros: {{{key}: {value}{'}' if '{' in key else ''}}}\n").findings


@pytest.mark.parametrize("text", ["\\e[2J", "\\a", "\\0", "\\x9b31m", "\\ud800", "\\uffff"])
@pytest.mark.parametrize("place", ["ros: {{license: {}}}", "ros: {{maintainer: {{name: {}, email: a@example.org}}}}",
                                   "parts: {{p: {{about: {}, bodies: [{{sphere: 9}}]}}}}", "materials: {{{}: 700}}"])
def test_control_characters_by_an_escape(place: str, text: str) -> None:
    """Terminals obey them, XML 1.0 (2.2) has no place for them; lone surrogates have no UTF-8."""
    found = faults(HEAD + place.format(f'"x{text}y"') + "\n").findings
    assert any("control character" in f.message or f.code == "yaml-syntax" for f in found)
    assert all(f.message.isprintable() for f in found)


def test_a_tower_is_refused_at_its_first_storey_too_many() -> None:
    """The play of each frame adds along all that carries it: 5000 parts on one another took minutes."""
    rows = "".join(f"  l{k}: {{part: block, on: l{k - 1}}}\n" for k in range(1, 5000))
    text = ("layout: 1\nrobot: tower\nparts: {block: {mass: 9, bodies: [{box: [40, 30, 4]}], seats: {top: {}}}}\n"
            "decks: {lower: {outline: {circle: 180}, thickness: 4, density: 700}}\n"
            "placements:\n  l0: {part: block, on: lower, at: [0, 0], fixing: adhesive}\n")
    with pytest.raises(LayoutError, match="`l100` would be number 101 of things") as raised:
        read("tower.yaml", text=text + rows)
    assert len(raised.value.findings) == 1
    read("tower.yaml", text=text + "".join(rows.splitlines(keepends=True)[:99]))
