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


class Head(NamedTuple):
    """One kind of screw head for one thread: diameter, height, tool, and the lengths that the standard makes (m)."""

    diameter: float
    height: float
    tool: str
    shortest: float
    longest: float


#: Pitch of the coarse thread, ISO 261 (m). M1.6 and from M6 on from memory.
ISO_261_PITCH: dict[str, float] = {name: p * 1e-3 for name, p in (
    ("M1.6", 0.35), ("M2", 0.4), ("M2.5", 0.45), ("M3", 0.5), ("M4", 0.7), ("M5", 0.8), ("M6", 1.0), ("M8", 1.25), ("M10", 1.5))}

#: Nominal lengths (m) by head. ISO 4762, ISO 7380-1 and ISO 7045 as reproduced in cq_warehouse, nominal_screw_lengths.csv.
LENGTHS: dict[str, tuple[float, ...]] = {kind: tuple(n * 1e-3 for n in lengths) for kind, lengths in (
    ("socket", (2.5, 3, 4, 5, 6, 8, 10, 12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100)),
    ("button", (6, 8, 10, 12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90)),
    ("pan", (3, 4, 5, 6, 8, 10, 12, 14, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60)),
    # over all, head and point; ISO 7046-1 and ISO 10642 together, from memory
    ("countersunk", (3, 4, 5, 6, 8, 10, 12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100)))}

#: What each head is called, by its standard; a countersunk one with a hexagon socket, which begins at M3.
STANDARDS: dict[str, str] = {"socket": "ISO 4762", "button": "ISO 7380-1", "pan": "ISO 7045", "countersunk": "ISO 10642"}


def standard_of(kind: str, thread: str) -> str:
    """The standard of one head: countersunk screws under M3 are cross-recessed ones."""
    return "ISO 7046-1" if kind == "countersunk" and thread in ("M1.6", "M2", "M2.5") else STANDARDS[kind]

#: By kind and thread. Socket: dk plain, k, key, ranges of ISO 4762 (cq_warehouse, socket_head_cap_parameters.csv; dk
#: as in ISO_4762_HEAD). Button: ISO 7380-1 (button_head_parameters.csv; there is none below M3; ranges M3 to M5 from the same
#: collection, M6 on from memory). Pan: ISO 7045 (dk, k as in pan_head_parameters.csv; ranges and drives from memory but M3).
#: Countersunk, 90°, dk being the theoretical sharp edge: from M3 on ISO 10642 (dk, k, key as in two agreeing tables of socket
#: screws, codecupboard.com 2019/07 and joshuanava.biz "hexagon socket set screws"), below ISO 7046-1 (k as on
#: fullerfasteners.com; dk, M1.6 and all ranges from memory).
HEADS: dict[str, dict[str, Head]] = {
    kind: {name: Head(dk * 1e-3, k * 1e-3, tool, low * 1e-3, high * 1e-3) for name, dk, k, tool, low, high in rows}
    for kind, rows in (
        ("socket", (
            ("M1.6", 3.0, 1.6, "hex key 1.5 mm", 2.5, 16), ("M2", 3.8, 2, "hex key 1.5 mm", 3, 20),
            ("M2.5", 4.5, 2.5, "hex key 2 mm", 4, 25), ("M3", 5.5, 3, "hex key 2.5 mm", 5, 30),
            ("M4", 7.0, 4, "hex key 3 mm", 6, 40), ("M5", 8.5, 5, "hex key 4 mm", 8, 50),
            ("M6", 10.0, 6, "hex key 5 mm", 8, 60), ("M8", 13.0, 8, "hex key 6 mm", 10, 80),
            ("M10", 16.0, 10, "hex key 8 mm", 16, 100))),
        ("button", (
            ("M3", 5.7, 1.65, "hex key 2 mm", 6, 30), ("M4", 7.6, 2.2, "hex key 2.5 mm", 6, 40),
            ("M5", 9.5, 2.75, "hex key 3 mm", 8, 50), ("M6", 10.5, 3.3, "hex key 4 mm", 10, 60),
            ("M8", 14, 4.4, "hex key 5 mm", 10, 80), ("M10", 17.5, 5.5, "hex key 6 mm", 16, 90))),
        ("pan", (
            ("M1.6", 3.2, 1.3, "cross-head driver PH0", 3, 16), ("M2", 4, 1.6, "cross-head driver PH0", 3, 20),
            ("M2.5", 5, 2.1, "cross-head driver PH1", 3, 25), ("M3", 5.6, 2.4, "cross-head driver PH1", 4, 30),
            ("M4", 8, 3.1, "cross-head driver PH2", 5, 40), ("M5", 9.5, 3.7, "cross-head driver PH2", 6, 50),
            ("M6", 12, 4.6, "cross-head driver PH3", 8, 60))),
        ("countersunk", (
            ("M1.6", 3.6, 1.0, "cross-head driver PH0", 3, 16), ("M2", 4.4, 1.2, "cross-head driver PH0", 3, 20),
            ("M2.5", 5.5, 1.5, "cross-head driver PH1", 3, 25), ("M3", 6.72, 1.86, "hex key 2 mm", 8, 30),
            ("M4", 8.96, 2.48, "hex key 2.5 mm", 8, 40), ("M5", 11.2, 3.1, "hex key 3 mm", 8, 50),
            ("M6", 13.44, 3.72, "hex key 4 mm", 8, 60), ("M8", 17.92, 4.96, "hex key 5 mm", 10, 80),
            ("M10", 22.4, 6.2, "hex key 6 mm", 12, 100))))}

#: Greatest height of a hexagon nut, ISO 4032 (cq_warehouse, hex_nut_parameters.csv), and of a prevailing-torque nut with
#: a plastic insert, ISO 7040 (from memory; the standard begins at M3).
NUT_HEIGHTS: dict[str, dict[str, float]] = {
    "plain": {name: m * 1e-3 for name, m in (("M1.6", 1.3), ("M2", 1.6), ("M2.5", 2.0), ("M3", 2.4), ("M4", 3.2), ("M5", 4.7),
                                             ("M6", 5.2), ("M8", 6.8), ("M10", 8.4))},
    "lock": {name: m * 1e-3 for name, m in (("M3", 4.5), ("M4", 6.0), ("M5", 6.8), ("M6", 8.0), ("M8", 9.5), ("M10", 11.9))}}

#: Nominal thickness of a plain washer, ISO 7089 (M2 to M5 from a reproduction, others from memory).
WASHER_THICKNESS: dict[str, float] = {name: h * 1e-3 for name, h in (
    ("M1.6", 0.3), ("M2", 0.3), ("M2.5", 0.5), ("M3", 0.5), ("M4", 0.8), ("M5", 1.0), ("M6", 1.6), ("M8", 1.6), ("M10", 2.0))}

#: Materials that a head or nut presses into: washers go under both.
SOFT = frozenset(("PLA", "PETG", "ABS", "acrylic", "polycarbonate", "nylon", "POM", "HDPE", "PVC foam board",
                  "birch plywood", "MDF", "cardboard", "rubber"))
#: Plastics that crack where thread locker touches them (makers' warnings; common practice).
NO_LOCKER = frozenset(("acrylic", "polycarbonate"))
