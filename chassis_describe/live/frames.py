"""The frames of an assembly as messages of tf2: each joint at the value in force."""
from __future__ import annotations

from builtin_interfaces.msg import Time
from geometry_msgs.msg import Quaternion, Transform, TransformStamped, Vector3
from std_msgs.msg import Header

from chassis_describe.assembly.model import Assembly
from chassis_describe.space.pose import Pose


def transform(parent: str, child: str, pose: Pose, stamp: Time | None = None) -> TransformStamped:
    """``pose`` is the child frame in the parent frame."""
    x, y, z = pose.t
    qx, qy, qz, qw = pose.quaternion
    return TransformStamped(header=Header(stamp=stamp or Time(), frame_id=parent), child_frame_id=child,
                            transform=Transform(translation=Vector3(x=x, y=y, z=z), rotation=Quaternion(x=qx, y=qy, z=qz, w=qw)))


def every_frame(assembly: Assembly, stamp: Time | None = None) -> list[TransformStamped]:
    """One transform a joint, movable ones at the value in force: the complete tree."""
    return [transform(j.parent, j.child, j.placed, stamp) for j in assembly.joints]
