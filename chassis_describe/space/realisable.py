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
    if not mass > 0.0:
        return f"its mass is {mass:g} kg"
    low, middle, high = principal_moments(tensor)
    moments = f"principal moments {low:.4g}, {middle:.4g}, {high:.4g} kg·m²"
    if not low > 0.0:
        return f"{moments}: each must be more than 0"
    lacking = high - low - middle
    if lacking > TRIANGLE_RULE * high:
        return f"{moments}: the two smaller ones together must reach the largest, {lacking:.3g} is lacking"
    return None


def fault_of_inertia(six: Sequence[float]) -> tuple[str, str] | None:
    """What is impossible about ``ixx, iyy, izz, ixy, ixz, iyz`` (kg·m²) and a hint, or None.

    A body's principal moments are positive and none exceeds the sum of the others (arXiv:1610.08703, eq. 7-8). The
    eigenvalues decide, not the diagonal.
    """
    principal = sorted(eigenvalues(six))
    listed = ", ".join(f"{v:.4g}" for v in principal)
    if principal[0] <= 0.0:
        return (f"no body has this inertia: its principal moments ({listed} kg·m²) are not all positive",
                "the products are too large for the moments; were they given with another factor?")
    if principal[0] + principal[1] < principal[2] * (1.0 - TRIANGLE_RULE):
        return (f"no body has this inertia: of its principal moments ({listed} kg·m²) the largest exceeds the sum of "
                "the others", "check the digits and units; a flat plate just reaches the sum")
    return None


def eigenvalues(six: Sequence[float]) -> tuple[float, float, float]:
    """Eigenvalues of a symmetric 3 × 3 matrix by Jacobi rotations (Golub and Van Loan, Matrix Computations, 8.5)."""
    xx, yy, zz, xy, xz, yz = six
    scale = max(abs(v) for v in six) or 1.0
    a = [[xx / scale, xy / scale, xz / scale], [xy / scale, yy / scale, yz / scale], [xz / scale, yz / scale, zz / scale]]
    for _ in range(60):
        p, q = max(((0, 1), (0, 2), (1, 2)), key=lambda ij: abs(a[ij[0]][ij[1]]))
        if abs(a[p][q]) < 1e-17:
            break
        theta = (a[q][q] - a[p][p]) / (2 * a[p][q])
        t = math.copysign(1.0, theta) / (abs(theta) + math.hypot(theta, 1.0))
        c = 1 / math.hypot(t, 1.0)
        s = t * c
        for k in range(3):
            a[k][p], a[k][q] = c * a[k][p] - s * a[k][q], s * a[k][p] + c * a[k][q]
        for k in range(3):
            a[p][k], a[q][k] = c * a[p][k] - s * a[q][k], s * a[p][k] + c * a[q][k]
    return (a[0][0] * scale, a[1][1] * scale, a[2][2] * scale)
