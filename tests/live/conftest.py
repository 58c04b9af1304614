"""One live node for a whole module, its layout, and a listener: starting a node costs more than all that is asked of it."""
from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.live.graph import TOP, Ears, Process


@pytest.fixture(scope="module")
def layout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copy(TOP / "config" / "seedling_cart.yaml", tmp_path_factory.mktemp("live") / "cart.yaml"))


@pytest.fixture(scope="module")
def live(layout: Path, ros_environment: dict[str, str]) -> Iterator[Process]:
    process = Process(["-m", "chassis_describe", "live", str(layout), "--footprint-topic", "local_costmap/footprint"], ros_environment,
                      layout.parent / "live.log")
    yield process
    if process.running:
        assert process.end() == 0, process.said
    print(process.said)


@pytest.fixture
def ears(ros_node: Any) -> Ears:
    """Hears what the node publishes, from now on and what was latched."""
    from diagnostic_msgs.msg import DiagnosticArray
    from geometry_msgs.msg import Polygon, PolygonStamped
    from std_msgs.msg import String
    from tf2_msgs.msg import TFMessage
    from visualization_msgs.msg import MarkerArray

    listener = Ears(ros_node)
    listener.listen("/robot_description", String)
    listener.listen("/tf_static", TFMessage)
    listener.listen("/footprint_stamped", PolygonStamped)
    listener.listen("/local_costmap/footprint", Polygon, latched=False)
    listener.listen("/diagnostics", DiagnosticArray, latched=False)
    listener.listen("/chassis_describe_live/markers", MarkerArray)
    return listener
