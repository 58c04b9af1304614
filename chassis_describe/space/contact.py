"""Standing on the ground: contacts of balls and upright discs, the plane that carries them, loads. Metres."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from chassis_describe.space.pose import Pose, Vec3


@dataclass(frozen=True, slots=True, kw_only=True)
class Roller:
    """What can touch the ground: a ball (``axis`` None) or a wheel's mid-plane disc about ``axis``. Base frame."""

    name: str
    centre: Vec3
    radius: float
    axis: Vec3 | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """``point`` is the roller's lowest point at rest (base frame); ``gap`` its height over the ground."""

    name: str
    point: Vec3
    gap: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """How the robot stands. ``base_in_ground``: pose of base_link in base_footprint (height, roll and pitch).

    ``status``: ``stable`` (one face), ``rocks`` (several, the least tilted taken), ``outside`` (none; the face nearest
    under the centre of mass), ``degenerate`` (fewer than three contacts not in line: taken level on the lowest).
    ``touching`` names the rollers on the plane; ``other_faces`` the names of further stable faces.
    """

    status: Literal["stable", "rocks", "outside", "degenerate"]
    base_in_ground: Pose
    normal: Vec3  # up, in the base frame
    contacts: tuple[Contact, ...]
    touching: tuple[str, ...]
    other_faces: tuple[tuple[str, ...], ...] = ()
