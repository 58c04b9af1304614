"""The README's picture is the demo's lower deck as `draw` makes it now."""
from __future__ import annotations

import re
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.drawings.table import Wish, drawing
from tests.drawings.reading import of_class, root_of, text_boxes

pytest.importorskip("reportlab")  # its font metrics judge the labels

TOP = Path(__file__).resolve().parents[2]
PICTURE = TOP / "chassis_describe" / "manual" / "draught_scout.svg"
ANEW = "draw config/draught_scout.yaml --deck lower -o chassis_describe/manual/draught_scout.svg"


def words(data: bytes) -> list[str]:
    """All but the hash, which changes with every part of the catalogue's files."""
    return [b.text for _, boxes in text_boxes(data) for b in boxes if not re.fullmatch(r"[0-9a-f]{12}", b.text)]


def test_it_is_drawn_anew() -> None:
    """Words, holes and outlines; not bytes, for other versions of GEOS begin a union's ring at another corner."""
    assert f"({PICTURE.relative_to(TOP).as_posix()})" in (TOP / "README.md").read_text(encoding="utf-8")
    assembly = cd.assemble(cd.read(TOP / "config" / "draught_scout.yaml"))
    now, kept = drawing(assembly, "svg", Wish(findings=cd.check(assembly), deck="lower")), PICTURE.read_bytes()
    assert words(kept) == words(now), ANEW
    for kind in ("hole", "part", "plate", "part-outline", "leader", "forward"):
        one, other = (of_class(root_of(data), kind) for data in (kept, now))
        assert len(one) == len(other), ANEW
        if kind == "hole":
            assert [dict(n.attrib) for n in one] == [dict(n.attrib) for n in other], ANEW
