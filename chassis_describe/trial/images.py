"""What cameras see, where OpenGL renders on this machine."""
from __future__ import annotations

import subprocess
import sys
from typing import Any

from chassis_describe.trial.engine import Engine
from chassis_describe.trial.rays import Array
from chassis_describe.trial.sensors import Pinhole

#: Draws something small. Run in a process of its own: where OpenGL is broken, MuJoCo may end the whole process.
_TRIAL = ("import mujoco; model = mujoco.MjModel.from_xml_string('<mujoco/>'); renderer = mujoco.Renderer(model, 8, 8); "
          "renderer.update_scene(mujoco.MjData(model)); renderer.render()")
#: Seconds within which it has drawn: software needs a few to begin with.
_PATIENCE = 30.0


class Images:
    """Pictures by camera. ``renders``: whether this machine can draw."""

    def __init__(self, engine: Engine, cameras: dict[str, Pinhole]) -> None:
        self._engine, self._cameras = engine, cameras
        self._open: dict[tuple[int, int], Any] = {}
        self.renders = bool(cameras) and _drawn()
        room = engine.model.vis.global_
        room.offwidth = max([room.offwidth, *(c.width for c in cameras.values())])
        room.offheight = max([room.offheight, *(c.height for c in cameras.values())])

    def picture(self, camera: str) -> Array:
        """Colours (height, width, 3), 0 to 255."""
        image = self._cameras[camera]
        size = (image.height, image.width)
        if size not in self._open:
            self._open[size] = self._engine.api.Renderer(self._engine.model, *size)
        renderer = self._open[size]
        renderer.update_scene(self._engine.data, camera=camera)
        drawn: Array = renderer.render()
        return drawn

    def close(self) -> None:
        """Give back what drawing took."""
        for renderer in self._open.values():
            renderer.close()
        self._open.clear()


def _drawn() -> bool:
    try:
        return subprocess.run([sys.executable, "-c", _TRIAL], check=False, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                              stderr=subprocess.DEVNULL, timeout=_PATIENCE).returncode == 0
    except (OSError, subprocess.TimeoutExpired):
        return False
