"""What the sensors of a simulated robot read: numbers, in SI and in the axes of their messages. No ROS here.

A reading is of one instant: a lidar does not sweep while the robot drives. Noise is normal, of the standard deviation that
the layout gives, drawn from one generator; without one in the layout there is none.
"""
from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from chassis_describe.assembly.model import SensorFacet
from chassis_describe.assembly.sensors import OPTICAL_IN_SENSOR
from chassis_describe.facts.beams import layer_of_beams
from chassis_describe.facts.usual_sensors import fov_of, image_fov, pixels_of, range_of, rate_of
from chassis_describe.layout.model import ImuNoise
from chassis_describe.space.sight.rays import cone_bundle, layer, pixels
from chassis_describe.trial.engine import Engine
from chassis_describe.trial.rays import Array, Rays

#: Rings of the rays that fill a ranger's cone.
_RINGS = 8
#: What a depth camera may take of each second of computing (our choice), and seconds that one ray takes for each body in the
#: world (720 rays among 1600 boxes, measured with MuJoCo 4.0 on one machine).
_SHARE, _RAY = 0.25, 6e-9


def _deviation(facet: SensorFacet) -> float:
    noise = facet.sensor.noise
    return noise if isinstance(noise, float) else 0.0


class Scan:
    """One layer of a lidar."""

    def __init__(self, engine: Engine, facet: SensorFacet, random: np.random.Generator) -> None:
        self.first, self.step, self.count = layer_of_beams(facet)
        self.near, self.far = range_of(facet)
        self._rays = Rays(engine, facet, layer(0.0, self.first + self.step * np.arange(self.count)), self.far)
        self._noise, self._random = _deviation(facet), random

    def read(self) -> Array:
        """Ranges (n,): -inf nearer than it measures, +inf where nothing comes back (REP-117)."""
        found = _noisy(self._rays.cast(), self._noise, self._random)
        return np.where(found < self.near, -np.inf, np.where(found > self.far, np.inf, found))


class Layers:
    """A lidar of several layers, spread evenly over its vertical angle."""

    def __init__(self, engine: Engine, facet: SensorFacet, random: np.random.Generator) -> None:
        first, step, count = layer_of_beams(facet)
        low, high = facet.sensor.vertical or (0.0, 0.0)
        around = first + step * np.arange(count)
        self.near, self.far = range_of(facet)
        rows = [layer(float(up), around) for up in np.linspace(low, high, facet.sensor.layers)]
        self._rays = Rays(engine, facet, np.vstack(rows), self.far)
        self._noise, self._random = _deviation(facet), random

    def read(self) -> Array:
        """Points (n, 3) of the beams that come back, in the sensor's axes."""
        found = _noisy(self._rays.cast(), self._noise, self._random)
        kept = (found >= self.near) & (found <= self.far)
        return np.asarray(self._rays.directions[kept] * found[kept, None])


class Pinhole(NamedTuple):
    """An image of ``width`` by ``height`` pixels, square ones; ``focal`` in pixels, the middle of the image straight ahead."""

    width: int
    height: int
    focal: float

    @property
    def middle(self) -> tuple[float, float]:
        """Where the optical axis meets the image: the first pixel's middle is at 0, 0 (sensor_msgs/CameraInfo)."""
        return (self.width - 1) / 2, (self.height - 1) / 2


def pinhole_of(facet: SensorFacet) -> Pinhole:
    """The image that a camera gives."""
    width, height = pixels_of(facet)
    return Pinhole(width, height, width / 2 / math.tan(image_fov(facet) / 2))


class Depth:
    """A depth camera's cloud and image, of one ray for ``stride`` by ``stride`` pixels: as many rays as time allows."""

    def __init__(self, engine: Engine, facet: SensorFacet, random: np.random.Generator) -> None:
        image = pinhole_of(facet)
        rays = _SHARE / (_RAY * engine.model.ngeom * rate_of(facet))
        self.image = image
        self.stride = max(1, math.ceil(math.sqrt(image.width * image.height / rays)))
        self.width, self.height = max(1, image.width // self.stride), max(1, image.height // self.stride)
        self.near, self.far = range_of(facet)
        down, right = np.indices((self.height, self.width)) + 0.5
        seen = pixels(image_fov(facet), image.height / image.width, right / self.width, down / self.height).reshape(-1, 3)
        self._rays = Rays(engine, facet, seen, self.far / float(seen[:, 0].min()))
        self._noise, self._random = _deviation(facet), random
        poses = engine.assembly.poses
        told = OPTICAL_IN_SENSOR.inverse() if facet.message_frame not in poses else (
            poses[facet.message_frame].inverse() @ facet.pose)
        self._turn = np.array(told.r).reshape(3, 3)

    def read(self) -> Array:
        """Points (height, width, 3) in the axes of its messages; NaN where it measures nothing."""
        along = self._rays.directions
        return np.asarray((along / along[:, :1] * self._ahead()[:, None] @ self._turn.T).reshape(self.height, self.width, 3))

    def read_image(self) -> Array:
        """Depths along the axis (m), of every pixel of the image (rows, columns): that of the nearest ray; NaN likewise."""
        rows = np.arange(self.image.height) * self.height // self.image.height
        columns = np.arange(self.image.width) * self.width // self.image.width
        return np.asarray(self._ahead().reshape(self.height, self.width)[np.ix_(rows, columns)])

    def _ahead(self) -> Array:
        """Depth of each ray, which is what such cameras measure."""
        ahead = _noisy(self._rays.cast() * self._rays.directions[:, 0], self._noise, self._random)
        ahead[(ahead < self.near) | (ahead > self.far)] = np.nan
        return ahead


class Ranger:
    """The nearest thing in a cone."""

    def __init__(self, engine: Engine, facet: SensorFacet, random: np.random.Generator) -> None:
        self.near, self.far = range_of(facet)
        self._rays = Rays(engine, facet, cone_bundle(fov_of(facet) / 2, _RINGS), self.far)
        self._noise, self._random = _deviation(facet), random

    def read(self) -> float:
        """A distance within its range: the nearest that it measures for what is nearer, the farthest for nothing at all, as
        drivers of such sensors give it and costmap layers for ranges expect it."""
        found = _noisy(self._rays.cast().min(keepdims=True), self._noise, self._random)
        return float(min(max(found[0], self.near), self.far))


class InertialReading(NamedTuple):
    """In the board's axes: rad/s, m/s² (at rest g upwards); ``attitude`` in the world, x y z w."""

    gyro: Array
    accel: Array
    attitude: Array


class InertialUnit:
    """Gyroscope, accelerometer and attitude.

    Rates and accelerations are the mean since the last reading, as the low-pass filters of such sensors give it: stiff wheels
    on a stiff floor chatter at every step of the engine.
    """

    def __init__(self, engine: Engine, facet: SensorFacet, random: np.random.Generator) -> None:
        noise = facet.sensor.noise
        self.noise = noise if isinstance(noise, ImuNoise) else ImuNoise(0.0, 0.0)
        self._random = random
        self._gyro, self._accel, self._attitude = (
            engine.data.sensor(f"{facet.frame}_{what}").data for what in ("gyro", "accelerometer", "attitude"))
        self._sum, self._samples = np.zeros((2, 3)), 0

    def sample(self) -> None:
        """To be called after every step of the engine."""
        self._sum[0] += self._gyro
        self._sum[1] += self._accel
        self._samples += 1

    def read(self) -> InertialReading:
        """The mean of the samples since the last reading, and the attitude now."""
        gyro, accel = self._sum / self._samples if self._samples else np.array([self._gyro, self._accel])
        self._sum, self._samples = np.zeros((2, 3)), 0
        w, x, y, z = self._attitude
        return InertialReading(_noisy(gyro, self.noise.gyro, self._random), _noisy(accel, self.noise.accel, self._random),
                               np.array([x, y, z, w]))


class Bumper:
    """Whether any of its part touches the floor or a wall."""

    def __init__(self, engine: Engine, facet: SensorFacet) -> None:
        self._engine, self._own = engine, engine.bodies_of(facet.placement)

    def read(self) -> bool:
        return self._engine.touched(self._own)


def _noisy(values: Array, deviation: float, random: np.random.Generator) -> Array:
    return np.array(values + random.normal(0.0, deviation, len(values)) if deviation else values, dtype=np.float64)
