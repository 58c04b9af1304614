"""The modules that need ROS 2, imported when they are asked for; where it is missing, one sentence says what to install."""
from __future__ import annotations

from importlib import import_module
from types import ModuleType

from chassis_describe.errors import UsageError
from chassis_describe.source import PACKAGE

#: Packages of ROS 2 that modules of ours import.
_ROS = ("rclpy", "rcl_interfaces", "builtin_interfaces", "rosgraph_msgs", "std_msgs", "std_srvs", "geometry_msgs", "sensor_msgs",
        "nav_msgs", "trajectory_msgs", "diagnostic_msgs", "visualization_msgs", "tf2_msgs")


def needing_ros(module: str, what: str, extra: str = "ros") -> ModuleType:
    """Import a module of this package. Raises UsageError where a package of ROS 2 is missing; ``what`` needs it."""
    try:
        return import_module(f"{PACKAGE.name}.{module}")
    except ImportError as error:
        missing = (error.name or str(error)).split(".")[0]
        if missing not in _ROS:
            raise
        raise UsageError(f"{what} needs ROS 2's Python packages, and {missing} is not here: source your ROS installation, or "
                         f"pip install 'chassis_describe[{extra}]' (Linux x86-64, Python 3.10 to 3.13)") from None
