"""Layouts and placements of which next to nothing is said: the language's defaults."""
from __future__ import annotations

from typing import Any

from chassis_describe.layout.build.materials import MATERIALS
from chassis_describe.layout.build.settings import fasteners, limits, usual_ros
from chassis_describe.layout.language.table_decks import LATTICE
from chassis_describe.layout.language.table_layout import PLACEMENT
from chassis_describe.layout.model import Lattice, Layout, Part, Placement
from chassis_describe.source import Mark


def bare_layout(robot: str, mark: Mark) -> Layout:
    """No decks and no placements yet."""
    return Layout(robot=robot, lattice=Lattice(**LATTICE.defaults, mark=mark), decks={}, placements={}, ros=usual_ros(),
                  limits=limits(None), fasteners=fasteners(None), mark=mark)


def bare_placement(name: str, part: Part, deck: str, mark: Mark, **more: Any) -> Placement:
    """A part on a deck; ``more``: fields of the placement."""
    usual = PLACEMENT.defaults
    return Placement(**{**usual, "spacer_density": MATERIALS[usual["spacer"]], "name": name, "part": part, "support": "deck",
                        "on": deck, "mark": mark, **more})
