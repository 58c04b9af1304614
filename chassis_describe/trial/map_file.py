"""A map file and its image, as Nav2's map server reads them: keys, modes, thresholds and the way up of the image.

As in navigation2 main:nav2_map_server/src/map_io.cpp (loadMapYaml, loadMapFromFile); an image's first row is the far end of y.
"""
from __future__ import annotations

import io
import math
import os
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from chassis_describe.errors import LayoutError, UsageError
from chassis_describe.findings import Finding, finding
from chassis_describe.inputs import MESH_BYTES, open_input
from chassis_describe.source import Mark
from chassis_describe.units import shown
from chassis_describe.yaml_text.compose import compose
from chassis_describe.yaml_text.nodes import Map, Node, Scalar, Seq, decoded, mark_of

if TYPE_CHECKING:
    import numpy as np

#: Cells of a map that is published: occupied, unknown (nav_msgs/OccupancyGrid).
OCCUPIED, UNKNOWN = 100, -1

#: A map of more cells than this (5000 x 5000: 250 m each way at 5 cm) is no place for a robot on plates, and memory for it
#: would run to gigabytes.
_MOST_CELLS = 25_000_000
#: Metres to a pixel, and how far from the first pixel the frame `map` may lie (m): beyond, it is a slip.
_RESOLUTION = (1e-3, 10.0)
_FAR = 1e6

Mode = Literal["trinary", "scale", "raw"]
_MODES: tuple[Mode, ...] = ("trinary", "scale", "raw")


class Grid(NamedTuple):
    """``cells`` (rows, columns): as a map server publishes them, -1 to 100, first row at least y. ``resolution``: metres to a
    cell. ``origin``: the outer corner of the first cell in the frame ``map`` (m, m, rad)."""

    cells: np.ndarray[Any, Any]
    resolution: float
    origin: tuple[float, float, float]


def read_map(path: str) -> Grid:
    """A map file and its image. Raises LayoutError with every fault of the file, UsageError where it or its image can't be
    read."""
    path = os.path.expanduser(path)
    about = _about(path)
    image = about.image if os.path.isabs(about.image) else os.path.join(os.path.dirname(path), about.image)
    shades, alpha = _picture(image, about.mark)
    return Grid(_occupancy(shades, alpha, about)[::-1], about.resolution, about.origin)


# ------------------------------------------------------------------------------------------------------------ the file
class _About(NamedTuple):
    image: str
    resolution: float
    origin: tuple[float, float, float]
    free: float
    occupied: float
    negate: bool
    mode: Mode
    mark: Mark


class _MapReader:
    """Takes the keys of a map file, and notes all that is wrong with them."""

    def __init__(self, root: Map) -> None:
        self.root = root
        self.faults: list[Finding] = []

    def fault(self, code: str, name: str, node: Node, message: str, hint: str) -> None:
        self.faults.append(finding(code, message, hint=hint, where=[mark_of(node, (name,))]))

    def node(self, name: str, hint: str) -> Node | None:
        if name not in self.root.items:
            self.fault("missing-key", name, self.root, f"`{name}` is missing", hint)
            return None
        return self.root.items[name][1]

    def text(self, name: str, hint: str) -> str:
        node = self.node(name, hint)
        if isinstance(node, Scalar) and node.text:
            return node.text
        if node is not None:
            self.fault("wrong-type", name, node, f"`{name}` is no name", hint)
        return ""

    def number(self, name: str, hint: str) -> float:
        node = self.node(name, hint)
        return 0.0 if node is None else self.number_of(name, node, hint)

    def number_of(self, name: str, node: Node, hint: str) -> float:
        try:
            value = float(node.text) if isinstance(node, Scalar) else math.nan
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            said = shown(node.text, 40) if isinstance(node, Scalar) else "a list" if isinstance(node, Seq) else "a mapping"
            self.fault("wrong-type", name, node, f"{said} is no number", hint)
            return 0.0
        return value


def _about(path: str) -> _About:
    try:
        text, faults = decoded(open_input(path), path)
    except (OSError, ValueError) as error:
        raise UsageError(f"the map {_not_read(path, error)}") from None
    root, more = (None, []) if faults else compose(text, path)
    if faults or more:
        raise LayoutError((*faults, *more))
    if not isinstance(root, Map):
        raise UsageError(f"{shown(path, 200)} is no map file: it holds no mapping with `image`, `resolution` and `origin`")
    r = _MapReader(root)
    image = r.text("image", "write the name of the image, relative to this file, such as `image: corridor.pgm`")
    resolution = r.number("resolution", "metres to a pixel, such as `resolution: 0.05`")
    if "resolution" in root.items and not _RESOLUTION[0] <= resolution <= _RESOLUTION[1] and not r.faults:
        r.fault("bad-value", "resolution", root.items["resolution"][1], "a pixel is between a millimetre and 10 m",
                "metres, such as 0.05")
    origin = _origin(r)
    free = r.number("free_thresh", "common practice: `free_thresh: 0.196`")
    occupied = r.number("occupied_thresh", "common practice: `occupied_thresh: 0.65`")
    negate = _negate(r)
    mode = _mode(r)
    if r.faults:
        raise LayoutError(tuple(r.faults))
    return _About(image, resolution, origin, free, occupied, negate, mode, mark_of(root.items["image"][1], ("image",)))


def _origin(r: _MapReader) -> tuple[float, float, float]:
    hint = "x, y (m) and yaw (rad) of the lower left pixel, such as `origin: [-5.0, -5.0, 0.0]`"
    node = r.node("origin", hint)
    if isinstance(node, Seq) and len(node.items) == 3:
        x, y, yaw = (r.number_of("origin", item, hint) for item in node.items)
        if max(abs(x), abs(y), abs(yaw)) > _FAR:
            r.fault("bad-value", "origin", node, "the origin lies further than 1000 km away", hint)
        return x, y, yaw
    if node is not None:
        r.fault("wrong-type", "origin", node, "`origin` has three numbers", hint)
    return 0.0, 0.0, 0.0


def _negate(r: _MapReader) -> bool:
    hint = "0: dark pixels are walls; 1: light ones"
    node = r.node("negate", hint)
    said = node.text.lower() if isinstance(node, Scalar) else ""
    words = {"0": False, "1": True, "false": False, "no": False, "off": False, "true": True, "yes": True, "on": True}
    if node is not None and said not in words:
        r.fault("bad-value", "negate", node, "`negate` is 0 or 1", hint)
    return words.get(said, False)


def _mode(r: _MapReader) -> Mode:
    entry = r.root.items.get("mode")
    if entry is None:
        return "trinary"
    said = entry[1].text.lower() if isinstance(entry[1], Scalar) else ""
    for mode in _MODES:
        if said == mode:
            return mode
    r.fault("bad-value", "mode", entry[1], f"there is no mode {shown(said, 40)}", f"one of {', '.join(_MODES)}")
    return "trinary"


def _not_read(path: str, error: Exception) -> str:
    from chassis_describe.layout.files import reason_of

    return f"{shown(path, 200)} {reason_of(error)}"


# ----------------------------------------------------------------------------------------------------------- the image
def _picture(path: str, mark: Mark) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any] | None]:
    """Shades 0 to 255 (rows, columns) from the top, and how opaque they are where the image says."""
    import numpy as np

    try:
        from PIL import Image
    except ImportError:
        raise UsageError("reading maps needs the package pillow: pip install 'chassis_describe[sim]'") from None
    try:
        data = open_input(path, most=MESH_BYTES)
    except (OSError, ValueError) as error:
        raise UsageError(f"{mark}: the image {_not_read(path, error)}") from None
    try:
        with Image.open(io.BytesIO(data)) as image:
            wide, high = image.size
            if wide * high > _MOST_CELLS:
                raise UsageError(f"{mark}: the image {shown(path, 200)} has {wide} x {high} pixels, and maps of at most "
                                 f"{_MOST_CELLS // 1_000_000} million are read; cut it to where the robot drives")
            image.load()
            if image.mode.startswith("I"):  # 16 bits a pixel
                return np.round(np.asarray(image, dtype=float) / 257.0).astype(np.uint8), None
            if image.mode in ("LA", "PA", "RGBA") or "transparency" in image.info:
                whole = image.convert("RGBA")
                return np.asarray(whole.convert("RGB").convert("L")), np.asarray(whole)[:, :, 3]
            return np.asarray(image.convert("RGB").convert("L") if image.mode != "L" else image), None
    except (OSError, ValueError, EOFError, SyntaxError, Image.DecompressionBombError) as error:
        raise UsageError(f"{mark}: the image {shown(path, 200)} is none that can be read ({error}); maps are PGM, PNG or "
                         "BMP images") from None


def _occupancy(shades: np.ndarray[Any, Any], alpha: np.ndarray[Any, Any] | None, about: _About) -> np.ndarray[Any, Any]:
    """Cells from the top, as the map server publishes them."""
    import numpy as np

    if about.mode == "raw":
        return np.where(shades <= OCCUPIED, shades, UNKNOWN).astype(np.int8)
    dark = shades / 255.0 if about.negate else 1.0 - shades / 255.0
    cells = np.full(shades.shape, UNKNOWN, dtype=np.int8)
    if about.mode == "scale" and about.occupied > about.free:
        between = (dark > about.free) & (dark < about.occupied)
        cells[between] = np.round((dark[between] - about.free) / (about.occupied - about.free) * OCCUPIED)
    cells[dark >= about.occupied] = OCCUPIED
    cells[dark <= about.free] = 0
    if alpha is not None:
        cells[alpha < 255] = UNKNOWN
    return cells
