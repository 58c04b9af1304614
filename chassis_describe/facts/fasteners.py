"""Sizes of metric fasteners in metres, by screw name. A name that is in no table: the rule is silent."""
from __future__ import annotations

from typing import NamedTuple


class Clearance(NamedTuple):
    """ISO 273 clearance holes for one thread (m)."""

    fine: float
    medium: float
    coarse: float


#: ISO 273:1979, series fine (H12), medium (H13), coarse (H14). M2 to M5 from three agreeing reproductions of the
#: standard; M1.6 and M6 to M10 from memory.
ISO_273: dict[str, Clearance] = {
    name: Clearance(fine * 1e-3, medium * 1e-3, coarse * 1e-3) for name, fine, medium, coarse in (
        ("M1.6", 1.7, 1.8, 2.0), ("M2", 2.2, 2.4, 2.6), ("M2.5", 2.7, 2.9, 3.1), ("M3", 3.2, 3.4, 3.6),
        ("M4", 4.3, 4.5, 4.8), ("M5", 5.3, 5.5, 5.8), ("M6", 6.4, 6.6, 7.0), ("M8", 8.4, 9.0, 10.0),
        ("M10", 10.5, 11.0, 12.0))}

#: Head diameter of socket cap screws, ISO 4762, plain heads, nominal (m). M1.6 and from M6 on from memory.
ISO_4762_HEAD: dict[str, float] = {
    name: d * 1e-3 for name, d in (("M1.6", 3.0), ("M2", 3.8), ("M2.5", 4.5), ("M3", 5.5), ("M4", 7.0), ("M5", 8.5),
                                   ("M6", 10.0), ("M8", 13.0), ("M10", 16.0))}

#: Width across flats of hexagon nuts, ISO 4032 (m). M1.6 and from M6 on from memory.
ISO_4032_NUT: dict[str, float] = {
    name: s * 1e-3 for name, s in (("M1.6", 3.2), ("M2", 4.0), ("M2.5", 5.0), ("M3", 5.5), ("M4", 7.0), ("M5", 8.0),
                                   ("M6", 10.0), ("M8", 13.0), ("M10", 16.0))}

#: Outer diameter of plain washers, ISO 7089 (m). M1.6 and from M6 on from memory.
ISO_7089_WASHER: dict[str, float] = {
    name: d * 1e-3 for name, d in (("M1.6", 4.0), ("M2", 5.0), ("M2.5", 6.0), ("M3", 7.0), ("M4", 9.0), ("M5", 10.0),
                                   ("M6", 12.0), ("M8", 16.0), ("M10", 20.0))}
