"""Rays of a simulated robot's sensors: from a frame of the robot to what is seen, but for the sensor's own part.

Rays from inside a case would end on its inner face, so what a sensor is bolted up in is left out, cable and bracket of the
same part with it. Metres.
"""
from __future__ import annotations

import functools
from typing import Any

import numpy as np

from chassis_describe.assembly.model import SensorFacet
from chassis_describe.space.pose import Pose
from chassis_describe.trial.engine import Engine

Array = np.ndarray[Any, Any]
#: A group of geoms that rays pass through, and the mask of those that they meet: MuJoCo has six.
_HIDDEN = 5
_SEEN = np.array([group != _HIDDEN for group in range(6)], dtype=np.uint8)


class MovingFrame:
    """A sensing origin while the robot moves: x out of the sensor, z up (REP-103)."""

    def __init__(self, engine: Engine, facet: SensorFacet) -> None:
        sites = {engine.model.site(n).name for n in range(engine.model.nsite)}
        self._site = engine.model.site(facet.frame).id if facet.frame in sites else None
        self.body = int(engine.model.site_bodyid[self._site] if self._site is not None else engine.model.body(facet.frame).id)
        self._data = engine.data
        # The frame of an image sensor that others describe may be an optical one.
        sensing: Pose = engine.assembly.poses[facet.frame].inverse() @ facet.pose
        self._turn, self._shift = np.array(sensing.r).reshape(3, 3), np.array(sensing.t)

    def now(self) -> tuple[Array, Array]:
        """Rotation (3, 3) and origin (3,) in the world."""
        if self._site is not None:
            turn, origin = self._data.site_xmat[self._site], self._data.site_xpos[self._site]
        else:
            turn, origin = self._data.xmat[self.body], self._data.xpos[self.body]
        turn = turn.reshape(3, 3)
        return turn @ self._turn, origin + turn @ self._shift


class Rays:
    """A bundle of directions (n, 3), unit vectors in the sensor's axes, cast again and again."""

    def __init__(self, engine: Engine, facet: SensorFacet, directions: Array, reach: float) -> None:
        self.directions = np.ascontiguousarray(directions, dtype=np.float64)
        self.frame = MovingFrame(engine, facet)
        count = len(self.directions)
        self._found, self._which = np.zeros(count), np.zeros(count, dtype=np.int32)
        own = engine.bodies_of(facet.placement) - {self.frame.body}
        self._groups = engine.model.geom_group
        self._own = np.flatnonzero(np.isin(engine.model.geom_bodyid, list(own)))
        # MuJoCo 3.5 put `normal` among the arguments.
        more = {"normal": None} if tuple(int(n) for n in engine.api.__version__.split(".")[:2]) >= (3, 5) else {}
        self._cast = functools.partial(
            engine.api.mj_multiRay, engine.model, engine.data, geomgroup=_SEEN, flg_static=1, bodyexclude=self.frame.body,
            geomid=self._which, dist=self._found, nray=count, cutoff=reach, **more)

    def cast(self) -> Array:
        """Distance along each ray (n,), infinite where nothing is within reach."""
        turn, origin = self.frame.now()
        # Only one body can be left out by name; the other links of the part are moved out of sight for the moment.
        kept = self._groups[self._own]
        self._groups[self._own] = _HIDDEN
        self._cast(pnt=np.ascontiguousarray(origin), vec=(self.directions @ turn.T).ravel())
        self._groups[self._own] = kept
        return np.where(self._found < 0, np.inf, self._found)
