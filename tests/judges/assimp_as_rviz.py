"""assimp, called as RViz 2 calls it: every file, side files too, through an opener of its own that takes ``package://`` addresses only.

Flags, opener and what is read of a material: ros2/rviz jazzy, rviz_rendering/src/rviz_rendering/mesh_loader_helpers/
assimp_loader.cpp. assimp's library comes with the wheels of pinocchio (cmeel-assimp); structures as in assimp 5 and 6
(include/assimp/scene.h, mesh.h, cfileio.h).
"""
from __future__ import annotations

import ctypes
from collections.abc import Iterator
from ctypes import POINTER, byref, c_char_p, c_float, c_int, c_size_t, c_uint, c_void_p
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

#: aiProcess_Triangulate, GenNormals, SortByPType, GenUVCoords, FlipUVs (include/assimp/postprocess.h).
FLAGS = 0x8 | 0x20 | 0x8000 | 0x40000 | 0x800000
_PROC = ctypes.CFUNCTYPE(c_size_t, c_void_p, c_void_p, c_size_t, c_size_t)


class _Mesh(ctypes.Structure):
    _fields_ = [("kinds", c_uint), ("count", c_uint), ("faces_count", c_uint), ("points", POINTER(c_float)),
                ("normals", POINTER(c_float)), ("tangents", c_void_p), ("bitangents", c_void_p), ("colours", c_void_p * 8),
                ("coordinates", c_void_p * 8), ("components", c_uint * 8), ("faces", c_void_p), ("bones_count", c_uint),
                ("bones", c_void_p), ("material", c_uint)]


class _Scene(ctypes.Structure):
    _fields_ = [("flags", c_uint), ("root", c_void_p), ("meshes_count", c_uint), ("meshes", POINTER(POINTER(_Mesh))),
                ("materials_count", c_uint), ("materials", POINTER(c_void_p))]


class _File(ctypes.Structure):
    _fields_ = [("read", _PROC), ("write", _PROC), ("tell", ctypes.CFUNCTYPE(c_size_t, c_void_p)),
                ("size", ctypes.CFUNCTYPE(c_size_t, c_void_p)), ("seek", ctypes.CFUNCTYPE(c_int, c_void_p, c_size_t, c_int)),
                ("flush", ctypes.CFUNCTYPE(None, c_void_p)), ("user", c_void_p)]


class _Opener(ctypes.Structure):
    _fields_ = [("open", ctypes.CFUNCTYPE(c_void_p, c_void_p, c_char_p, c_char_p)),
                ("close", ctypes.CFUNCTYPE(None, c_void_p, c_void_p)), ("user", c_void_p)]


class Seen(NamedTuple):
    """A submesh as RViz draws it: corners of its triangles (n, 3, 3), their normals, diffuse and ambient colour."""

    triangles: Any
    normals: Any
    diffuse: tuple[float, ...]
    ambient: tuple[float, ...]


def library() -> Any:
    """assimp. Raises ImportError where the wheels did not bring it."""
    import pinocchio

    for above in Path(pinocchio.__file__).parents:
        found = sorted(above.glob("libassimp.so*"))
        if found:
            one = ctypes.CDLL(str(found[0]))
            one.aiImportFileEx.restype, one.aiImportFileEx.argtypes = POINTER(_Scene), [c_char_p, c_uint, POINTER(_Opener)]
            one.aiGetErrorString.restype = c_char_p
            one.aiReleaseImport.argtypes = [POINTER(_Scene)]
            one.aiGetMaterialColor.argtypes = [c_void_p, c_char_p, c_uint, c_uint, POINTER(c_float)]
            return one
    raise ImportError("libassimp")


class Loader:
    """``packages``: by name the files of each, path → bytes. ``opened``: every address that was opened."""

    def __init__(self, packages: dict[str, dict[str, bytes]]) -> None:
        self.assimp, self.packages, self.opened = library(), packages, []  # type: ignore[var-annotated]
        self._files: dict[int, tuple[_File, list[Any]]] = {}
        kinds = dict(_Opener._fields_)
        self._opener = _Opener(kinds["open"](self._open), kinds["close"](self._close), None)

    def load(self, address: str) -> list[Seen]:
        """The submeshes. Raises ValueError with assimp's words where it refuses the file."""
        scene = self.assimp.aiImportFileEx(address.encode(), FLAGS, byref(self._opener))
        if not scene:
            raise ValueError(self.assimp.aiGetErrorString().decode())
        try:
            return list(self._seen(scene.contents))
        finally:
            self.assimp.aiReleaseImport(scene)

    def _seen(self, scene: _Scene) -> Iterator[Seen]:
        for k in range(scene.meshes_count):
            mesh = scene.meshes[k].contents
            points, normals = (np.ctypeslib.as_array(v, (mesh.count, 3)).reshape(-1, 3, 3).copy() for v in (mesh.points, mesh.normals))
            material = scene.materials[mesh.material]
            yield Seen(points, normals, self._color(material, b"$clr.diffuse"), self._color(material, b"$clr.ambient"))

    def _color(self, material: c_void_p, key: bytes) -> tuple[float, ...]:
        found = (c_float * 4)()
        assert self.assimp.aiGetMaterialColor(material, key, 0, 0, found) == 0
        return tuple(found)[:3]

    def _open(self, _: Any, name: bytes, mode: bytes) -> int | None:
        scheme, _, rest = name.decode().partition("://")
        package, _, path = rest.partition("/")
        data = self.packages.get(package, {}).get(path) if scheme == "package" else None
        if data is None:
            return None
        self.opened.append(name.decode())
        kinds, place = dict(_File._fields_), [0]

        def read(_: Any, into: int, size: int, count: int) -> int:
            piece = data[place[0]:place[0] + size * count]
            ctypes.memmove(into, piece, len(piece))
            place[0] += len(piece)
            return len(piece) // size

        def seek(_: Any, offset: int, origin: int) -> int:
            place[0] = offset + (0, place[0], len(data))[origin]
            return 0 if place[0] <= len(data) else -1

        calls = [kinds["read"](read), kinds["write"](lambda *_: 0), kinds["tell"](lambda _: place[0]),
                 kinds["size"](lambda _: len(data)), kinds["seek"](seek), kinds["flush"](lambda _: None)]
        file = _File(*calls, None)
        address = ctypes.addressof(file)
        self._files[address] = (file, calls)
        return address

    def _close(self, _: Any, file: int) -> None:
        self._files.pop(file, None)
