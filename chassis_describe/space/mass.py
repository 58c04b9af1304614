"""Mass properties and their sums.

An :class:`Inertial` holds the inertia about its own centre of mass, in the axes of the frame that its ``com`` is given
in, with the tensor's signs (``ixy = -∫xy dm``: URDF, wiki.ros.org/urdf/XML/link).
Parallel axes: I_p = I_c + m(‖r‖²·1 − r rᵀ) (University Physics Vol. 1, OpenStax, 10.5). Rotation: R I Rᵀ.
"""
from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from chassis_describe.space.pose import IDENTITY_ROTATION, Pose, Rotation, Vec3, multiply, transpose
from chassis_describe.space.solids import Solid

Tensor = tuple[float, float, float, float, float, float]
#: The terms of a tensor in our order, by the names of URDF.
TENSOR = ("ixx", "iyy", "izz", "ixy", "ixz", "iyz")


class Inertial(NamedTuple):
    """Mass (kg), centre of mass (m), inertia about it (kg·m²): ixx, iyy, izz, ixy, ixz, iyz."""

    mass: float
    com: Vec3
    inertia: Tensor

    def moved(self, pose: Pose) -> Inertial:
        """The same body seen from the outer frame of ``pose``."""
        return Inertial(self.mass, pose.point(self.com), rotated(self.inertia, pose.r))

    def scaled(self, mass: float) -> Inertial:
        """The same shape with another total mass."""
        k = mass / self.mass
        return Inertial(mass, self.com, tuple(k * v for v in self.inertia))  # type: ignore[arg-type]


def rotated(inertia: Tensor, r: Rotation) -> Tensor:
    """R I Rᵀ."""
    if r is IDENTITY_ROTATION:
        return inertia
    xx, yy, zz, xy, xz, yz = inertia
    m = multiply(multiply(r, (xx, xy, xz, xy, yy, yz, xz, yz, zz)), transpose(r))
    return (m[0], m[4], m[8], (m[1] + m[3]) / 2, (m[2] + m[6]) / 2, (m[5] + m[7]) / 2)


def of_solid(solid: Solid, mass: float, pose: Pose) -> Inertial:
    """A uniform solid of that mass with its centre frame at ``pose``."""
    a, b, c = solid.unit_inertia
    return Inertial(mass, pose.t, rotated((mass * a, mass * b, mass * c, 0.0, 0.0, 0.0), pose.r))


def combined(items: Iterable[Inertial]) -> Inertial | None:
    """The sum of bodies given in one frame; None when there is no mass. Negative masses (holes) are allowed."""
    parts = [i for i in items if i.mass != 0.0]
    mass = sum(i.mass for i in parts)
    if not parts or mass == 0.0:
        return None
    if len(parts) == 1:
        return parts[0]
    com = tuple(sum(i.mass * i.com[k] for i in parts) / mass for k in range(3))
    total = [0.0] * 6
    for item in parts:
        x, y, z = (item.com[k] - com[k] for k in range(3))
        m, own = item.mass, item.inertia
        total[0] += own[0] + m * (y * y + z * z)
        total[1] += own[1] + m * (x * x + z * z)
        total[2] += own[2] + m * (x * x + y * y)
        total[3] += own[3] - m * x * y
        total[4] += own[4] - m * x * z
        total[5] += own[5] - m * y * z
    return Inertial(mass, com, tuple(total))  # type: ignore[arg-type]
