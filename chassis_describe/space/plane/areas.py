"""Many areas of a plane, asked which of them meet another: their boxes all at once, then one by one. Metres."""
from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt


class Areas:
    """Shapely geometries, none empty, in the order in which they were given."""

    __slots__ = ("areas", "bounds")

    def __init__(self, areas: Sequence[Any]) -> None:
        self.areas = tuple(areas)
        self.bounds = np.array([area.bounds for area in self.areas], float).reshape(len(self.areas), 4)

    def meeting(self, other: Any, among: npt.NDArray[np.bool_] | None = None) -> Iterator[int]:
        """The numbers of the areas that share a point with ``other``, ascending; of those that are ``among`` it (n,) alone."""
        low_x, low_y, high_x, high_y = other.bounds
        near = ((self.bounds[:, 0] <= high_x) & (self.bounds[:, 2] >= low_x)
                & (self.bounds[:, 1] <= high_y) & (self.bounds[:, 3] >= low_y))
        if among is not None:
            near &= among
        return (k for k in np.flatnonzero(near).tolist() if self.areas[k].intersects(other))
