"""The ``layout/`` folder of the description package: the layout, and the user's part files that it used.

The package can be compiled again from these copies. They are byte for byte what was read, unless a file points to
something by a path that means nothing inside the package (a part file in another folder, a mesh, a world): then that one value
is replaced in the text and everything else is left as it stands, comments included.
"""
from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from pathlib import PurePosixPath

from chassis_describe.artifact import Artifact
from chassis_describe.layout.described.model import Description
from chassis_describe.layout.model import InputFile, Layout
from chassis_describe.layout.paths_in_text import with_paths

FOLDER = "layout"


def layout_copy(layout: Layout, meshes: Mapping[str, str] | None = None) -> tuple[Artifact, ...]:
    """Copies of everything in ``layout.files``. ``meshes``: file on disk → path in the package."""
    if not layout.files:
        return ()
    own, parts = layout.own_files, layout.part_files
    taken: set[str] = set()
    names = [_free(_own_name(file, layout.robot), taken) for file in own]
    part_names = [_free(_part_name(written, file), taken) for written, file in zip(layout.catalogue_paths, parts)]
    moved = {written: name for written, name in zip(layout.catalogue_paths, part_names) if written != name}
    world = layout.world if layout.world is not None and layout.world.data is not None else None
    world_name = _free(PurePosixPath(world.path.replace("\\", "/")).name, taken) if world is not None else ""
    described = {**_described(layout, taken), **_plates(layout, taken)}

    def new_value(file: InputFile, name: str) -> Callable[[str, str], str | None]:
        depth = len(PurePosixPath(FOLDER, name).parent.parts)
        here = os.path.dirname(os.path.abspath(file.path))

        def value(key: str, written: str) -> str | None:
            if key == "catalogue":
                return moved.get(written)
            if key == "file":
                there = described.get(os.path.normpath(os.path.join(here, written)))
                if there is None:
                    return None
                new = os.path.relpath(there[0], os.path.dirname(name) or ".").replace(os.sep, "/")
                return None if new == os.path.normpath(written) else new
            if key == "world":
                same = world is not None and os.path.normpath(os.path.join(here, written)) == os.path.abspath(world.path)
                new = os.path.relpath(world_name, os.path.dirname(name) or ".").replace(os.sep, "/")
                return new if same and new != os.path.normpath(written) else None
            found = (meshes or {}).get(os.path.normpath(os.path.join(here, written)))
            return None if found is None else "../" * depth + found
        return value

    return (*(Artifact(path=f"{FOLDER}/{name}", data=with_paths(file.data, new_value(file, name)))
              for file, name in zip([*own, *parts], [*names, *part_names])),
            *([Artifact(path=f"{FOLDER}/{world_name}", data=world.data or b"")] if world is not None else []),
            *(Artifact(path=f"{FOLDER}/{name}", data=data) for name, data in described.values()))


def descriptions(layout: Layout) -> tuple[Description, ...]:
    """What others describe of the placed parts, each once."""
    found = {id(p.part.description): p.part.description for p in layout.placements.values() if p.part.description is not None}
    return tuple(found.values())


def inputs_by_name(layout: Layout, copies: tuple[Artifact, ...]) -> dict[str, bytes]:
    """The inputs as the package holds them, by path (a place on the user's machine is nobody's business).

    Of the copies, not of what was read: compiled again from them, the package is the same to the last byte. Files of other
    packages, which descriptions opened, by their ``package://`` addresses.
    """
    others = {path: data for one in descriptions(layout) for path, data in one.inputs if path.startswith("package://")}
    return {**{copy.path: copy.data for copy in copies}, **others}


def _described(layout: Layout, taken: set[str]) -> dict[str, tuple[str, bytes]]:
    """Every file of a description that is in no package: path on disk → its name under ``layout/``, and its bytes.

    They keep their places to one another, since they name each other: as they are beside the layout where they are below
    its folder, else below a folder of their own.
    """
    home = os.path.dirname(os.path.abspath(layout.files[0].path))
    out: dict[str, tuple[str, bytes]] = {}
    for one in descriptions(layout):
        files = {os.path.abspath(path): data for path, data in one.inputs if not path.startswith("package://")}
        if not files:
            continue
        outside = any(not path.startswith(home + os.sep) for path in files)
        base = os.path.commonpath([os.path.dirname(path) for path in files]) if outside else home
        folder = _free(f"described/{PurePosixPath(one.source.file).stem}", taken) + "/" if outside else ""
        for path, data in files.items():
            out.setdefault(path, (folder + os.path.relpath(path, base).replace(os.sep, "/"), data))
    return out


def _plates(layout: Layout, taken: set[str]) -> dict[str, tuple[str, bytes]]:
    """Every plate file: path on disk → its name under ``layout/``, and its bytes. Below the layout's folder it keeps its place."""
    home = os.path.dirname(os.path.abspath(layout.files[0].path))
    out: dict[str, tuple[str, bytes]] = {}
    for file in layout.files[len(layout.files) - len(layout.plate_paths):]:
        path = os.path.abspath(file.path)
        inside = path.startswith(home + os.sep)
        name = os.path.relpath(path, home).replace(os.sep, "/") if inside else f"plates/{os.path.basename(path)}"
        out[path] = (_free(name, taken), file.data)
    return out


def _own_name(file: InputFile, robot: str) -> str:
    name = PurePosixPath(file.path.replace("\\", "/")).name
    return name if name.endswith((".yaml", ".yml")) else f"{robot}.yaml"  # from standard input there is no name


def _part_name(written: str, file: InputFile) -> str:
    """As written where that stays inside the folder, else the bare name in a folder of its own."""
    path = PurePosixPath(written)
    inside = not path.is_absolute() and ".." not in path.parts and "\\" not in written and ":" not in written
    return str(path) if inside else f"catalogue/{PurePosixPath(file.path.replace(chr(92), '/')).name}"


def _free(name: str, taken: set[str]) -> str:
    path, number = PurePosixPath(name), 1
    candidate = name
    while candidate.casefold() in taken:
        number += 1
        candidate = str(path.with_name(f"{path.stem}_{number}{path.suffix}"))
    taken.add(candidate.casefold())
    return candidate
