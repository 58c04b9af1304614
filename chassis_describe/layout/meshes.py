"""Mesh files that parts name: read through the opener like every other input, and taken only for what they say they are.

Formats are those that RViz, Gazebo and the physics engines of robotics load from a URDF (from memory): STL, Wavefront OBJ, COLLADA,
and glTF 2.0 whole in one file. PLY is not among them: Gazebo has no loader for it.
"""
from __future__ import annotations

import json
import posixpath
import re
from collections.abc import Callable, Iterable, Mapping

from chassis_describe.layout.files import Opener, reason_of
from chassis_describe.layout.model import MeshFile, Part

#: Suffixes in lower case → what people call the format.
FORMATS: Mapping[str, str] = {".stl": "STL", ".obj": "OBJ", ".dae": "COLLADA", ".glb": "glTF", ".gltf": "glTF"}
_OBJ_WORDS = frozenset((
    b"v", b"vt", b"vn", b"vp", b"f", b"l", b"p", b"o", b"g", b"s", b"mg", b"usemtl", b"mtllib", b"usemap", b"maplib", b"shadow_obj",
    b"trace_obj", b"cstype", b"deg", b"bmat", b"step", b"curv", b"curv2", b"surf", b"parm", b"trim", b"hole", b"scrv", b"sp",
    b"end", b"con", b"bevel", b"c_interp", b"d_interp", b"lod", b"ctech", b"stech"))
_COLLADA = re.compile(rb"(?:\xef\xbb\xbf)?\s*(?:<\?xml[^>]*\?>\s*)?(?:<!--.*?-->\s*)*<COLLADA[\s>]", re.DOTALL)


def mesh_suffix(path: str) -> str | None:
    """The suffix of a mesh format that a file name ends in, in lower case; None when it is of none that we take."""
    suffix = posixpath.splitext(path)[1].lower()
    return suffix if suffix in FORMATS else None


def read_meshes(parts: Iterable[Part], opener: Opener) -> dict[str, MeshFile]:
    """Every mesh on the disk that the parts name, by its path as in ``PartMesh.file``. What is wrong with one is kept with it."""
    found: dict[str, MeshFile] = {}
    for part in parts:
        for mesh in part.meshes:
            if mesh.file not in found and not mesh.file.startswith("package://"):
                found[mesh.file] = _read(mesh.file, opener)
        for path in part.description.meshes.values() if part.description is not None else ():
            if path not in found:
                found[path] = _read(path, opener)
    return found


def _read(path: str, opener: Opener) -> MeshFile:
    suffix = mesh_suffix(path)
    if suffix is None or "://" in path:  # not opened at all: a layout may come from anywhere
        return MeshFile(path=path, fault=f"is not named as a mesh ({', '.join(FORMATS)})")
    try:
        data = opener(path)
    except (OSError, ValueError) as error:
        return MeshFile(path=path, fault=reason_of(error))
    wrong = fault_of(data, suffix)
    if wrong:
        return MeshFile(path=path, fault=f"is no {FORMATS[suffix]} file: {wrong}")
    return MeshFile(path=path, data=data, suffix=suffix)


# ------------------------------------------------------------------------------------------------------------ signatures
def fault_of(data: bytes, suffix: str) -> str | None:
    """Why these bytes are no mesh of the format of that suffix (of :data:`FORMATS`); None where they may be."""
    return _CHECKS[suffix](data)


def _stl(data: bytes) -> str | None:
    """Binary: 80 bytes, a count, 50 bytes a triangle; else text that begins with ``solid``."""
    if len(data) >= 84 and len(data) == 84 + 50 * int.from_bytes(data[80:84], "little"):
        return None if len(data) > 84 else "it has no triangles"
    if data.lstrip()[:5].lower() != b"solid":
        return "it neither begins with `solid` nor is as long as its count of triangles says"
    return None if re.search(rb"\bfacet\s+normal\b", data) and b"vertex" in data else "it has no facets"


def _obj(data: bytes) -> str | None:
    """Lines that each begin with a word of the format, with vertices and faces among them."""
    lines = [line.rstrip() for line in data.split(b"\n")]
    # A line that ends in a backslash goes on in the next.
    begins = [line.split(None, 1)[0] for before, line in zip([b"", *lines], lines) if line and not before.endswith(b"\\")]
    words = {word for word in begins if not word.startswith(b"#")}
    if words - _OBJ_WORDS:
        return "lines in it begin with other words than those of the format"
    return None if {b"v", b"f"} <= words else "it has no vertices or no faces"


def _collada(data: bytes) -> str | None:
    return None if _COLLADA.match(data[:65536]) else "its root is not <COLLADA>"


def _glb(data: bytes) -> str | None:
    """glTF 2.0, 4.4.2: the magic `glTF`, version 2, the length of the whole."""
    header = data[:4], int.from_bytes(data[4:8], "little"), int.from_bytes(data[8:12], "little")
    return None if header == (b"glTF", 2, len(data)) else "its header is not that of glTF 2.0"


def _gltf(data: bytes) -> str | None:
    try:
        content = json.loads(data)
    except (ValueError, RecursionError):
        return "it is not JSON"
    asset = content.get("asset") if isinstance(content, dict) else None
    if not isinstance(asset, dict) or not str(asset.get("version", "")).startswith("2."):
        return "it has no asset of version 2"
    uses = [item for key in ("buffers", "images") for item in (content.get(key) or [])]
    if any(not isinstance(item, dict) or not str(item.get("uri", "data:")).startswith("data:") for item in uses):
        return "it needs other files beside it; save it as one file, `.glb`"
    return None


_CHECKS: Mapping[str, Callable[[bytes], str | None]] = {".stl": _stl, ".obj": _obj, ".dae": _collada, ".glb": _glb, ".gltf": _gltf}
