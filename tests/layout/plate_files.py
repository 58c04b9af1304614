"""Plate files made with ezdxf, and the decks that are read from them."""
from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from typing import Any

import pytest

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.findings import Finding
from chassis_describe.layout.model import Deck

ezdxf = pytest.importorskip("ezdxf")

HEAD = "layout: 1\nrobot: r\ndecks:\n  plate: {{outline: {{file: plate.dxf{more}}}, thickness: 4, density: 1000{deck}}}\n"


def dxf(draw: Callable[[Any], object], units: int | None = 4, version: str = "R2010") -> bytes:
    """A file with what ``draw`` adds to the model space; ``units``: $INSUNITS."""
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = units or 0
    draw(document.modelspace())
    return written(document)


def written(document: Any) -> bytes:
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode(document.output_encoding, "surrogateescape")


def opener(data: bytes, text: str) -> Callable[[str], bytes]:
    return lambda path: data if path.endswith(".dxf") else text.encode()


def assembly_of(data: bytes, more: str = "", deck: str = "") -> Assembly:
    text = HEAD.format(more=f", {more}" if more else "", deck=f", {deck}" if deck else "")
    return cd.assemble(cd.read("r.yaml", opener=opener(data, text)))


def deck_of(data: bytes, more: str = "", deck: str = "") -> Deck:
    return assembly_of(data, more, deck).layout.decks["plate"]


def faults(data: bytes, more: str = "", deck: str = "") -> tuple[Finding, ...]:
    with pytest.raises(cd.LayoutError) as raised:
        deck_of(data, more, deck)
    return raised.value.findings


def notes(assembly: Assembly, code: str) -> list[Finding]:
    return [f for f in cd.check(assembly) if f.code == code]


def box(space: Any, width: float = 200.0, height: float = 140.0, **attributes: object) -> None:
    """A rectangle from the origin, page-right by page-up."""
    space.add_lwpolyline([(0, 0), (width, 0), (width, height), (0, height)], close=True, dxfattribs=attributes)


def circles(space: Any, at: Iterable[tuple[float, float]], diameter: float = 3.5) -> None:
    for x, y in at:
        space.add_circle((x, y), diameter / 2)
