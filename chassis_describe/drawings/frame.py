"""From a view's coordinates (mm) to the page (mm), and which scale and paper fit."""
from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

from chassis_describe.drawings.paper import Path, Region, Step, Vec2
from chassis_describe.errors import UsageError
from chassis_describe.space.plate.contours import Contour
from chassis_describe.words import not_known

#: Scales of technical drawings (ISO 5455), as the number under 1; those beyond 10 only where nothing else fits.
SCALES = (1, 2, 5, 10, 20, 50, 100)
#: Sheets, lying, width and height in mm: ISO 216 A4 and A3, ANSI A (letter, 11 in by 8.5 in).
PAPERS: dict[str, Vec2] = {"a4": (297.0, 210.0), "a3": (420.0, 297.0), "letter": (279.4, 215.9)}


def paper_size(name: str) -> Vec2:
    """Width and height of a sheet by its name. Raises UsageError for a name that is none."""
    if name not in PAPERS:
        raise UsageError(not_known(name, "paper", PAPERS))
    return PAPERS[name]


class Frame(NamedTuple):
    """Where a view is on the page. ``plan``: deck coordinates, x (forward) up and y to the left; ``under``: the plate turned
    over left to right, y to the right; ``view``: x to the right, y up. ``scale``: 2 stands for 1:2."""

    kind: Literal["plan", "under", "view"]
    x: float  # of the view's origin
    y: float
    scale: int

    def point(self, p: Vec2) -> Vec2:
        """On the page."""
        a, b = p[0] / self.scale, p[1] / self.scale
        if self.kind == "view":
            return (self.x + a, self.y - b)
        return (self.x + (b if self.kind == "under" else -b), self.y - a)

    def direction(self, d: Vec2) -> Vec2:
        """A direction on the page, of the same length."""
        if self.kind == "view":
            return (d[0], -d[1])
        return (d[1] if self.kind == "under" else -d[1], -d[0])

    def path(self, contour: Contour, pen: str = "", fill: str = "", kind: str = "") -> Path:
        """A closed contour."""
        steps = tuple(Step(self.point(e.end), self.point(e.centre) if e.centre is not None else None,
                           e.left == (self.kind == "under")) for e in contour)
        return Path(self.point(contour[0].start), steps, pen, fill, True, kind)

    def region(self, contours: Iterable[Contour], pen: str = "", fill: str = "", kind: str = "") -> Region:
        """Contours filled together."""
        return Region(tuple(self.path(c) for c in contours), pen, fill, kind)
