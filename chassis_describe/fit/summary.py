"""The key figures of a robot, as the summary of ``check`` gives them (SI but for names that end in a unit)."""
from __future__ import annotations

from typing import Any

from chassis_describe.assembly.footprint import circumscribed_radius, inscribed_radius
from chassis_describe.assembly.model import Assembly
from chassis_describe.fit.ground import ground_summary
from chassis_describe.fit.play import play_summary
from chassis_describe.fit.sight import sight_summary


def summary(assembly: Assembly) -> dict[str, Any]:
    """Everything by name; None (or empty) where there is no ground, drive or mass."""
    whole, drive, standing = assembly.inertial, assembly.drive, assembly.rest is not None
    return {
        "mass": whole.mass if whole else None,
        "com": whole.com if whole else None,
        "inertia": dict(zip(("ixx", "iyy", "izz", "ixy", "ixz", "iyz"), whole.inertia)) if whole else None,
        "footprint": [list(p) for p in assembly.footprint] if standing else None,
        "circumscribed_radius": circumscribed_radius(assembly) if standing else None,
        "inscribed_radius": inscribed_radius(assembly) if standing else None,
        **ground_summary(assembly),
        "wheel_separation": drive.wheel_separation if drive else None,
        "wheel_radius": drive.wheel_radius if drive else None,
        **sight_summary(assembly),
        **play_summary(assembly),
    }
