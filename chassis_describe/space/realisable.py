"""Whether an inertia can belong to a body.

Principal moments must be positive and obey the triangle rule λi + λj ≥ λk, on the eigenvalues and not on the diagonal
(Traversaro et al., arXiv:1610.08703; Wensing, Kim, Slotine, IEEE RA-L 3(1), arXiv:1701.04395).
"""
from __future__ import annotations

import math
from collections.abc import Sequence

from chassis_describe.tolerances import TRIANGLE_RULE


def principal_moments(tensor: Sequence[float]) -> tuple[float, float, float]:
    """Eigenvalues, ascending, of ixx, iyy, izz, ixy, ixz, iyz (closed form for a symmetric 3×3 matrix)."""
    xx, yy, zz, xy, xz, yz = tensor
    off = xy * xy + xz * xz + yz * yz
    if off == 0.0:
        a, b, c = sorted((xx, yy, zz))
        return a, b, c
    mean = (xx + yy + zz) / 3
    p = math.sqrt(((xx - mean) ** 2 + (yy - mean) ** 2 + (zz - mean) ** 2 + 2 * off) / 6)
    axx, ayy, azz = (xx - mean) / p, (yy - mean) / p, (zz - mean) / p
    axy, axz, ayz = xy / p, xz / p, yz / p
    half_det = (axx * (ayy * azz - ayz * ayz) - axy * (axy * azz - ayz * axz) + axz * (axy * ayz - ayy * axz)) / 2
    phi = math.acos(min(1.0, max(-1.0, half_det))) / 3
    high = mean + 2 * p * math.cos(phi)
    low = mean + 2 * p * math.cos(phi + 2 * math.pi / 3)
    return low, 3 * mean - high - low, high


def why_impossible(mass: float, tensor: Sequence[float]) -> str | None:
    """None for a possible body, else the reason with its numbers. ``mass`` kg; tensor kg·m² about the centre of mass."""
    return fault_of_moments(tensor) if mass > 0.0 else f"its mass is {mass:g} kg"


def fault_of_moments(tensor: Sequence[float]) -> str | None:
    """What is impossible about an inertia of any mass (kg·m²), or None."""
    low, middle, high = principal_moments(tensor)
    listed = f"its principal moments ({low:.4g}, {middle:.4g}, {high:.4g} kg·m²)"
    if not low > 0.0:
        return f"{listed} are not all positive"
    lacking = high - low - middle
    if lacking > TRIANGLE_RULE * high:
        return f"of {listed} the largest exceeds the sum of the others by {lacking:.3g}"
    return None
