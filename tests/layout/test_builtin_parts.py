"""The built-in catalogue is read piece by piece; each piece must be what the whole file says."""
from __future__ import annotations

import pytest

from chassis_describe.errors import LayoutError
from chassis_describe.layout.catalogue import FOLDER, builtin_names, builtin_part
from chassis_describe.layout.part_files import all_parts, read_parts
from chassis_describe.layout.read import read

FILES = sorted(FOLDER.glob("*.yaml"))


@pytest.mark.parametrize("path", FILES, ids=[p.stem for p in FILES])
def test_the_piece_of_each_part_says_what_the_file_says(path) -> None:  # type: ignore[no-untyped-def]
    whole = read_parts(str(path))
    assert whole
    for part in whole:
        assert builtin_part(part.name) == part  # marks included


def test_names() -> None:
    names = builtin_names()
    assert list(names) == sorted(names)
    assert set(all_parts()) == set(names)
    assert builtin_part("no_such_part") is None
    assert len(names) == sum(len(read_parts(str(p))) for p in FILES)  # no name twice


def test_a_layout_reads_only_what_it_uses(monkeypatch: pytest.MonkeyPatch) -> None:
    """Start-up: one part is parsed, not the catalogue."""
    from chassis_describe.layout import catalogue

    seen: list[str] = []
    own = catalogue._read_builtin
    monkeypatch.setattr(catalogue, "_read_builtin", lambda name, r: seen.append(name) or own(name, r))  # type: ignore[func-returns-value]
    name = next(n for n in builtin_names() if (p := builtin_part(n)) is not None and p.bolts)
    seen.clear()
    builtin_part.cache_clear()
    read("r.yaml", text="layout: 1\nrobot: r\ndecks: {a: {outline: {circle: 100}, thickness: 4}}\n"
         f"placements: {{it: {{part: {name}, on: a}}}}\n")
    assert name in seen
    assert len(seen) <= 3  # itself and what it is like


def test_the_layouts_own_part_goes_before_a_built_in_one() -> None:
    name = builtin_names()[0]
    layout = read("r.yaml", text=f"layout: 1\nrobot: r\nparts: {{{name}: {{bodies: [{{box: [9, 9, 9]}}]}}}}\n"
                  f"decks: {{a: {{outline: {{circle: 100}}, thickness: 4}}}}\nplacements: {{it: {{part: {name}, on: a}}}}\n")
    assert layout.placements["it"].part.mark.file == "r.yaml"


def test_an_unknown_part_names_the_nearest_built_in_one() -> None:
    name = builtin_names()[0]
    with pytest.raises(LayoutError, match=f"did you mean `{name}`"):
        read("r.yaml", text="layout: 1\nrobot: r\ndecks: {a: {outline: {circle: 100}, thickness: 4}}\n"
             f"placements: {{it: {{part: {name}x, on: a}}}}\n")
