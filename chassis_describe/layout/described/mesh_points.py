"""The points of a mesh, in its own axes and units: for the convex hull that stands for it. STL, OBJ and COLLADA."""
from __future__ import annotations

import re
from typing import Any

import numpy as np

from chassis_describe.layout.described.marked import NotXml, parsed

#: A dot stands for any namespace: COLLADA 1.4 and 1.5 have one each.
_VERTEX = re.compile(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)")
_STEPS = ("matrix", "translate", "rotate", "scale")
_FLOATS = re.compile(r"[^\s]+")


class NoPoints(Exception):
    """A mesh that no hull can be made of; the message says why."""


def mesh_points(data: bytes, suffix: str) -> Any:
    """Points (n, 3). Raises NoPoints."""
    try:
        if suffix == ".stl":
            points = _stl(data)
        elif suffix == ".obj":
            points = np.array([[float(v) for v in line.split()[1:4]] for line in data.splitlines() if line.startswith(b"v ")])
        elif suffix == ".dae":
            points = _collada(data)
        else:
            raise NoPoints("its points are not read; give the collision as STL, OBJ or COLLADA")
    except (ValueError, IndexError, KeyError, NotXml) as error:
        raise NoPoints(f"its points can't be read: {error}") from None
    if points.ndim != 2 or points.shape[1:] != (3,) or not len(points) or not np.isfinite(points).all():
        raise NoPoints("it has no points, or some that are no numbers")
    return points


def _stl(data: bytes) -> Any:
    count = int.from_bytes(data[80:84], "little")
    if len(data) == 84 + 50 * count:
        rows = np.frombuffer(data, dtype=np.uint8, offset=84).reshape(count, 50)[:, 12:48]
        return np.ascontiguousarray(rows).view("<f4").reshape(-1, 3).astype(float)
    return np.array([[float(v) for v in m] for m in _VERTEX.findall(data)])


def _collada(data: bytes) -> Any:
    """Every geometry in every node of the scene; metres (``unit``), and z up, as assimp turns it for RViz and Gazebo."""
    root = parsed(data)
    for element in root.iter():
        element.tag = str(element.tag).rpartition("}")[2]
    unit = root.find("asset/unit")
    scale = float(unit.get("meter", "1")) if unit is not None else 1.0
    up = (root.findtext("asset/up_axis") or "Y_UP").strip()
    turn = {"Z_UP": np.eye(3), "Y_UP": np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]]),
            "X_UP": np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])}[up]
    shapes: dict[str, Any] = {}
    for geometry in root.iterfind("library_geometries/geometry"):
        found = []
        for given in geometry.iterfind("mesh/vertices/input"):
            if given.get("semantic") != "POSITION":
                continue
            source_id = given.get("source", "")[1:]
            source = next((s for s in geometry.iterfind("mesh/source") if s.get("id") == source_id), None)
            text = source.findtext("float_array") if source is not None else None
            found.append(np.array([float(v) for v in _FLOATS.findall(text or "")]).reshape(-1, 3))
        if found:
            shapes[geometry.get("id", "")] = np.vstack(found)
    out: list[Any] = []
    nodes = {n.get("id"): n for n in root.iter("node")}

    def walk(node: Any, into: Any, depth: int) -> None:
        if depth > 64:
            raise ValueError("its nodes contain one another")
        for child in node:
            values = [float(v) for v in (child.text or "").split()] if child.tag in _STEPS else []
            if child.tag == "matrix":
                into = into @ np.array(values).reshape(4, 4)
            elif child.tag == "translate":
                into = into @ _affine(np.eye(3), np.array(values))
            elif child.tag == "scale":
                into = into @ _affine(np.diag(values), np.zeros(3))
            elif child.tag == "rotate":
                from chassis_describe.space.pose import about_axis, unit

                into = into @ _affine(np.array(about_axis(unit(values[:3]), np.radians(values[3]))).reshape(3, 3), np.zeros(3))
        for child in node:
            if child.tag == "instance_geometry" and child.get("url", "")[1:] in shapes:
                out.append(shapes[child.get("url", "")[1:]] @ into[:3, :3].T + into[:3, 3])
            elif child.tag == "node":
                walk(child, into, depth + 1)
            elif child.tag == "instance_node" and child.get("url", "")[1:] in nodes:
                walk(nodes[child.get("url", "")[1:]], into, depth + 1)

    for scene in root.iterfind("library_visual_scenes/visual_scene"):
        for node in scene.iterfind("node"):
            walk(node, np.eye(4), 0)
    points = np.vstack(out) if out else np.vstack(list(shapes.values()))
    return scale * points @ turn.T


def _affine(turn: Any, shift: Any) -> Any:
    out = np.eye(4)
    out[:3, :3], out[:3, 3] = turn, shift
    return out
