"""Decks that are drawn in files: what the file says, as shapes and holes of the deck. What reads drawings is imported where a deck
has one: most have none, and a small robot's URDF starts fast."""
from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from chassis_describe.errors import never
from chassis_describe.inputs import TooLarge
from chassis_describe.layout.files import Opener, beside, reason_of
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.model import (
    CircleShape,
    DrilledHole,
    InputFile,
    Lattice,
    OutlineShape,
    PlateFile,
    PolygonShape,
    RectangleShape,
)
from chassis_describe.source import Mark
from chassis_describe.tolerances import CHORD
from chassis_describe.units import shown
from chassis_describe.values import replace

if TYPE_CHECKING:
    from chassis_describe.layout.plate_file.plate import DrawnPlate
    from chassis_describe.space.plate.shapes import Shape

#: Keys of an outline that a file has said already, and those that only a file gives a meaning.
_SAID, _OF_FILE = ("corner", "centre"), ("layer", "front", "seen_from")


class DrawnDeck(NamedTuple):
    """What a plate file gives a deck. ``lattice`` with the diameter of the holes in the file."""

    outline: OutlineShape
    cutouts: tuple[OutlineShape, ...]
    drilled: tuple[DrilledHole, ...]
    lattice: Lattice | None
    holes: frozenset[tuple[int, int]] | None
    file: PlateFile


class Plates:
    """The plate files of a layout, each opened once: ``files`` by path."""

    def __init__(self, r: Reading, opener: Opener) -> None:
        self.r, self.opener = r, opener
        self.files: dict[str, InputFile] = {}

    def deck(self, taken: Taken, lattice: Lattice | None, default: Lattice) -> DrawnDeck | None:
        """What the ``file`` of an outline says, or None after a report. ``default``: the robot's lattice, for a deck without."""
        from chassis_describe.layout.plate_file.faults import NoPlate
        from chassis_describe.layout.plate_file.plate import Asked, drawn_plate

        for key in _SAID:
            if taken.has(key):
                self.r.fault("meaningless-key", f"`{key}` means nothing beside `file`, which says where everything is",
                             taken.keys[key], taken.within(key), hint=f"leave `{key}` out")
        written: str | None = taken.get("file")
        if written is None or any(taken.faulty(key) for key in _OF_FILE):
            return None
        layer = taken.get("layer", ())
        like = lattice or default
        asked = Asked((layer,) if isinstance(layer, str) else tuple(name for name, _ in layer), taken.get("front"),
                      taken.get("seen_from"), lattice.pitch if lattice is not None else None, like.hole, like.origin)
        try:
            drawn = drawn_plate(self._opened(written, beside(written, taken.at("file").file)).data, asked)
        except NoPlate as error:
            for problem in error.problems:
                self.r.fault("plate-file", f"{shown(written)} {problem.message}", taken.at("file"), taken.within("file"),
                             hint=problem.hint)
            return None
        return _deck(written, drawn, lattice, like.hole, taken.mark("file"))

    def _opened(self, written: str, path: str) -> InputFile:
        """The file, as it was read the first time. Raises NoPlate."""
        from chassis_describe.layout.plate_file.document import suffix_fault
        from chassis_describe.layout.plate_file.faults import no_plate

        wrong = suffix_fault(written)
        if wrong is not None:
            raise wrong
        if path not in self.files:
            try:
                self.files[path] = InputFile(path=path, data=self.opener(path))
            except (OSError, ValueError) as error:
                raise no_plate(reason_of(error), "leave out of the file what is not cut" if isinstance(error, TooLarge) else
                               "the path counts from the file that names it") from None
        return self.files[path]


def keys_of_files(taken: Taken, r: Reading) -> None:
    """Report keys that only a file gives a meaning, where there is none."""
    for key in _OF_FILE:
        if taken.has(key) and not taken.has("file") and any(taken.has(k) for k in ("rectangle", "circle", "polygon")):
            r.fault("meaningless-key", f"`{key}` says how a plate file is read, and this outline has none", taken.keys[key],
                    taken.within(key), hint=f"leave `{key}` out, or name the `file`")


def _deck(written: str, drawn: DrawnPlate, lattice: Lattice | None, hole: float, mark: Mark) -> DrawnDeck:
    x0, y0, x1, y1 = drawn.outline.bounds
    drilled = (*(DrilledHole(at=d.centre, hole=2 * d.radius, mark=mark) for d in drawn.round_holes),
               *(DrilledHole(at=s.centre, slot=(s.length, s.width), turn=s.turn, mark=mark) for s in drawn.slots))
    return DrawnDeck(
        outline=_shape(drawn.outline, mark), cutouts=tuple(_shape(c, mark) for c in drawn.cutouts), drilled=drilled,
        lattice=replace(lattice, hole=drawn.hole) if lattice is not None else None, holes=drawn.holes,
        file=PlateFile(
            name=written, size=(x1 - x0, y1 - y0), unit=drawn.curves.unit, unit_said=drawn.curves.unit_said, zero=drawn.zero,
            hole=hole, drilled=len(drawn.round_holes), slots=len(drawn.slots), cutouts=len(drawn.cutouts), aside=drawn.curves.aside,
            mended=drawn.mended, doubt=drawn.doubt, mark=mark))


def _shape(shape: Shape, mark: Mark) -> OutlineShape:
    from chassis_describe.space.plate.chains import chords_of
    from chassis_describe.space.plate.contours import contour_of
    from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Slot

    if isinstance(shape, Disc):
        return CircleShape(diameter=2 * shape.radius, centre=shape.centre, mark=mark)
    if isinstance(shape, Rectangle):
        return RectangleShape(size=shape.size, corner=shape.corner, centre=shape.centre, mark=mark)
    if isinstance(shape, Slot):  # too wide for a bolt: a window with round ends
        return PolygonShape(points=tuple(chords_of(contour_of(shape), CHORD)), mark=mark)
    if isinstance(shape, Polygon):
        return PolygonShape(points=shape.points, mark=mark)
    raise never(shape)
