"""The door: a layout file (with overlays) → Layout, or every fault of the files at once.

The order of the work: bytes, tree, overlays, keys by the table, parts, decks, placements, what holds them together.
"""
from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any

from chassis_describe.errors import LayoutError, UsageError
from chassis_describe.layout.build import settings
from chassis_describe.layout.build.casters import all_turning, turning_casters
from chassis_describe.layout.build.decks import DeckBuilder, lattice
from chassis_describe.layout.build.described import Descriptions
from chassis_describe.layout.build.drive import read_drive
from chassis_describe.layout.build.placements import PlacementBuilder, shared_shafts
from chassis_describe.layout.build.plates import Plates
from chassis_describe.layout.build.tree import frames_apart, no_loops, one_base_deck, supports_of
from chassis_describe.layout.catalogue import Shelves, read_catalogue
from chassis_describe.layout.files import Opener, beside, from_disk, input_file, not_opened, root_of
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.language.table_layout import LAYOUT
from chassis_describe.layout.meshes import read_meshes
from chassis_describe.layout.model import Deck, InputFile, Layout
from chassis_describe.layout.names import slip
from chassis_describe.layout.overlay import laid_over
from chassis_describe.layout.part_files import read_parts
from chassis_describe.layout.world import read_world
from chassis_describe.units import shown
from chassis_describe.yaml_text.nodes import Node, Scalar, mark_of

VERSION = 1


def read(path: str | os.PathLike[str], *, text: str | bytes | None = None,
         overlays: Sequence[str | os.PathLike[str]] = (), opener: Opener | None = None) -> Layout:
    """Read a layout. ``text`` stands in for the file's content, ``opener`` for the disk.

    Raises LayoutError with every fault of all files, in file order, and UsageError for a file that can't be opened.
    """
    r = Reading()
    opener = opener or from_disk
    name = os.fspath(path)
    inputs = [input_file(name, text, opener), *(input_file(os.fspath(o), None, opener) for o in overlays)]
    roots = [root_of(item, r) for item in inputs]
    if any(root is None for root in roots):
        r.give_up_on_faults()
    base: Node = roots[0]  # type: ignore[assignment]
    for over in roots[1:]:
        base = laid_over(base, over, r)  # type: ignore[arg-type]
    return _Run(r, inputs, opener).layout(base)


class _Run:
    """One run of the reader over a whole layout."""

    def __init__(self, r: Reading, inputs: Sequence[InputFile], opener: Opener) -> None:
        self.r, self.opener = r, opener
        self.files = list(inputs)
        self.catalogue_paths: list[str] = []
        self.added: dict[str, float] = {}

    def layout(self, root: Node) -> Layout:
        """The layout, or all faults."""
        r = self.r
        top = LAYOUT.read(root, r, ())
        assert top is not None  # the root is a mapping
        self._head(top)
        shelves = Shelves(r, self._shelves(top))
        self.added.update({k: v for k, v in (top.get("materials") or {}).items() if v is not None})
        for number, shelf in enumerate(shelves.shelves):
            for name in shelf:
                shelves.at(number, name)  # parts that nobody uses have to be right as well

        base_lattice = lattice(top.get("lattice"), None, top.mark("lattice"), r)
        deck_taken: dict[str, Taken | None] = top.get("decks") or {}
        placed: dict[str, Taken | None] = top.get("placements") or {}
        self._one_name_space(deck_taken, placed)
        one_base_deck(deck_taken, top, r)
        plates = Plates(r, self.opener)
        builder = DeckBuilder(r, base_lattice, deck_taken, self.added, plates)
        decks: dict[str, Deck | None] = {n: builder.deck(n, t) if t is not None else None for n, t in deck_taken.items()}

        packages = self._packages(top)
        placer = PlacementBuilder(r, placed, decks, shelves, self.added, Descriptions(r, self.opener, packages))
        written = {name: placer.mirrors.of(name) for name in placed}
        placements = {name: p for name in placed if (p := placer.placement(name)) is not None}
        no_loops(supports_of(deck_taken, written), r)
        drive_taken = top.get("drive")
        drive = read_drive(drive_taken, placed, placements, r) if drive_taken is not None and not top.faulty(
            "placements") else None  # without placements each wheel would be a fault of its own
        settings.hardware_of(top.get("ros"), placed, placements, r)
        settings.names_of_controllers(placements, r)
        ros = settings.ros(top.get("ros"), placements, r)
        if ros.casters == "turning":
            turning_casters(placements.values(), r)
            placements = all_turning(placements)
        waivers = settings.waivers(top.get("checks"), r)
        good_decks = {n: d for n, d in decks.items() if d is not None}
        shared_shafts(placements, r)
        frames_apart(good_decks, placements, r)
        r.give_up_on_faults()
        return Layout(
            robot=top.get("robot"), lattice=base_lattice, decks=good_decks, placements=placements, drive=drive,
            ros=ros, weighed=top.get("weighed"),
            weighed_mark=top.mark("weighed") if top.has("weighed") else None, limits=settings.limits(top.get("checks")),
            waivers=waivers, fasteners=settings.fasteners(top.get("fasteners")),
            files=(*self.files, *plates.files.values()), catalogue_paths=tuple(self.catalogue_paths),
            plate_paths=tuple(plates.files),
            meshes=read_meshes((p.part for p in placements.values()), self.opener), packages=packages,
            world=read_world(top.get("simulation"), self.opener), mark=top.mark())

    def _packages(self, top: Taken) -> dict[str, str]:
        """Folders of packages, from where the program runs."""
        given = {n: f for n, f in (top.get("packages") or {}).items() if f is not None}
        return {n: beside(f, top.at("packages").items[n][1].file) for n, f in given.items()}  # type: ignore[union-attr]

    def _head(self, top: Taken) -> None:
        version = top.get("layout")
        if version is not None and version != VERSION:
            self.r.fault("bad-value", f"version {version} of the layout language is not known", top.at("layout"),
                         top.within("layout"), hint=f"this program reads `layout: {VERSION}`")
        robot = top.get("robot")
        if robot is not None:
            wrong = slip(robot, True)
            if wrong is not None:
                self.r.fault("bad-name", f"`{shown(robot)}` can't be the name of a robot: {wrong[0]}", top.at("robot"),
                             top.within("robot"), hint=wrong[1])

    def _one_name_space(self, decks: dict[str, Any], placements: dict[str, Any]) -> None:
        for name, taken in placements.items():
            deck = decks.get(name)
            if name in decks and taken is not None:
                self.r.fault("bad-name", f"`{name}` is a deck already", taken.node, taken.path,
                             hint="decks and placements share one name space; give the placement another name",
                             also=[deck.mark() if deck is not None else None])

    def _shelves(self, top: Taken) -> list[dict[str, Taken | None]]:
        shelves: list[dict[str, Taken | None]] = []
        if top.has("parts"):
            shelves.append(top.get("parts") or {})
        for written, node in top.get("catalogue", ()):
            path = beside(written, node.file)
            item = self._part_file(path, written, node)
            if item is not None:
                self.files.append(item)
                self.catalogue_paths.append(written)
                parts, materials = read_catalogue(root_of(item, self.r), self.r)
                shelves.append(parts)
                for name, density in materials.items():
                    self.added.setdefault(name, density)
        return shelves

    def _part_file(self, path: str, written: str, node: Scalar) -> InputFile | None:
        mark = mark_of(node, ("catalogue",))
        if any(f.path == path for f in self.files):
            self.r.fault("bad-value", f"the file `{shown(written)}` is read already", mark, hint="name it once")
            return None
        try:
            return InputFile(path=path, data=self.opener(path))
        except (OSError, ValueError) as error:
            self.r.fault("bad-value", f"the part file can't be read: {not_opened(path, error)}", mark,
                         hint="the path counts from the file that names it")
            return None


__all__ = ["LayoutError", "UsageError", "read", "read_parts"]
