"""The robot as binary glTF 2.0 (Khronos, ISO/IEC 12113): a node for every link, named as the link, in the place of its frame.

glTF's y points up: the topmost node turns our z there, and below it every node has its frame's pose in its parent's, metres.
"""
from __future__ import annotations

import json
import math
import struct
from typing import Any

import numpy as np

from chassis_describe.assembly.model import Assembly, Color, Link
from chassis_describe.drawings.paper import MARK
from chassis_describe.drawings.style import INKS
from chassis_describe.space.plate.mesh import plate_mesh
from chassis_describe.space.surface import surface_of

Array = np.ndarray[Any, np.dtype[Any]]
_AROUND = 48  # chords of cylinders and balls
_ROLES = {"standoff": "metal", "spacer": "metal", "wheel": "grey", "caster": "grey", "plate": "sand"}
_UP = (-math.sqrt(0.5), 0.0, 0.0, math.sqrt(0.5))  # a quarter turn about x: z up becomes y up


def glb(assembly: Assembly) -> bytes:
    """The file."""
    scene = _Scene()
    children: dict[str, list[str]] = {}
    for joint in assembly.joints:
        children.setdefault(joint.parent, []).append(joint.child)
    top = scene.node({"name": assembly.robot, "rotation": _UP})
    waiting = [(assembly.root, top, "")]
    while waiting:
        name, above, parent = waiting.pop()
        pose = assembly.poses[name] if not parent else assembly.poses[parent].inverse() @ assembly.poses[name]
        if not parent:
            pose = pose.inverse() @ pose  # the root is the scene's origin
        node: dict[str, Any] = {"name": name, "translation": [_number(v) for v in pose.t],
                                "rotation": [_number(v) for v in pose.quaternion]}
        mesh = scene.mesh(assembly.link_of[name])
        if mesh is not None:
            node["mesh"] = mesh
        own = scene.node(node)
        scene.nodes[above].setdefault("children", []).append(own)
        waiting += [(child, own, name) for child in reversed(children.get(name, ()))]
    return scene.file(top)


def _number(value: float) -> float:
    return round(value, 9) + 0.0


class _Scene:
    """What has been gathered of a glTF file."""

    def __init__(self) -> None:
        self.nodes: list[dict[str, Any]] = []
        self.meshes: list[dict[str, Any]] = []
        self.materials: dict[Color, int] = {}
        self.accessors: list[dict[str, Any]] = []
        self.views: list[dict[str, Any]] = []
        self.data = bytearray()

    def node(self, node: dict[str, Any]) -> int:
        """Its index."""
        self.nodes.append(node)
        return len(self.nodes) - 1

    def mesh(self, link: Link) -> int | None:
        """The bodies of a link, a primitive for each colour; None where it has none."""
        by_color: dict[Color, list[Array]] = {}
        for body in link.bodies:
            if body.visible:
                turn, shift = np.array(body.pose.r).reshape(3, 3), np.array(body.pose.t)
                color = body.color or _color(_ROLES.get(body.role, "blue"))
                by_color.setdefault(color, []).append(surface_of(body.solid, _AROUND).triangles @ turn.T + shift)
        if link.plate is not None:
            by_color.setdefault(_color("sand"), []).append(plate_mesh(link.plate))
        if not by_color:
            return None
        self.meshes.append({"name": link.name, "primitives": [self._primitive(np.concatenate(faces), color)
                                                              for color, faces in by_color.items()]})
        return len(self.meshes) - 1

    def _primitive(self, faces: Array, color: Color) -> dict[str, Any]:
        normal = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
        length = np.linalg.norm(normal, axis=1, keepdims=True)
        faces, normal = faces[length[:, 0] > 0], (normal / np.where(length > 0, length, 1.0))[length[:, 0] > 0]
        points = faces.reshape(-1, 3).astype("<f4") + np.float32(0)
        return {"attributes": {"POSITION": self._accessor(points, bounds=True),
                               "NORMAL": self._accessor(np.repeat(normal, 3, axis=0).astype("<f4") + np.float32(0))},
                "material": self.materials.setdefault(color, len(self.materials))}

    def _accessor(self, rows: Array, *, bounds: bool = False) -> int:
        self.views.append({"buffer": 0, "byteOffset": len(self.data), "byteLength": rows.nbytes, "target": 34962})
        self.data += rows.tobytes()
        found: dict[str, Any] = {"bufferView": len(self.views) - 1, "componentType": 5126, "count": len(rows), "type": "VEC3"}
        if bounds:
            found |= {"min": [float(v) for v in rows.min(axis=0)], "max": [float(v) for v in rows.max(axis=0)]}
        self.accessors.append(found)
        return len(self.accessors) - 1

    def file(self, top: int) -> bytes:
        """Header, JSON and binary chunk, each of a length that four divides."""
        content: dict[str, Any] = {"asset": {"version": "2.0", "generator": MARK}, "scene": 0, "scenes": [{"nodes": [top]}],
                                   "nodes": self.nodes}
        if self.meshes:
            content |= {"meshes": self.meshes, "accessors": self.accessors, "bufferViews": self.views,
                        "buffers": [{"byteLength": len(self.data)}],
                        "materials": [{"pbrMetallicRoughness": {"baseColorFactor": list(c), "metallicFactor": 0.0,
                                                                "roughnessFactor": 0.8},
                                       **({"alphaMode": "BLEND"} if c[3] < 1 else {})} for c in self.materials]}
        text = json.dumps(content, separators=(",", ":")).encode("ascii")
        text += b" " * (-len(text) % 4)
        data = bytes(self.data) + b"\0" * (-len(self.data) % 4)
        chunks = struct.pack("<I4s", len(text), b"JSON") + text
        chunks += struct.pack("<I4s", len(data), b"BIN\0") + data if data else b""
        return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def _color(ink: str) -> Color:
    """A colour of the style as glTF wants it: linear, from sRGB (IEC 61966-2-1)."""
    red, green, blue = (int(INKS[ink][k:k + 2], 16) / 255 for k in (1, 3, 5))
    linear = [round(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4, 4) for c in (red, green, blue)]
    return linear[0], linear[1], linear[2], 1.0

