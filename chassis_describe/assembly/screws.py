"""Metric screws by name."""
from __future__ import annotations

import re

_METRIC = re.compile(r"M(\d+(?:\.\d+)?)$")


def nominal_diameter(screw: str) -> float:
    """Nominal thread diameter in metres of ``M3``, ``M2.5`` … (ISO 261). Raises ValueError for other names."""
    match = _METRIC.match(screw)
    if not match:
        raise ValueError(f"{screw!r} is not a metric screw such as M3 or M2.5")
    return float(match.group(1)) * 1e-3


def clearance(hole: float | None, part_hole: float | None, screw: str) -> float:
    """How far a bolt can shift (m): c = (H - d)/2 + (h - d)/2; None stands for a tapped hole, h = d."""
    d = nominal_diameter(screw)
    return (((hole - d) if hole is not None else 0.0) + ((part_hole - d) if part_hole is not None else 0.0)) / 2
