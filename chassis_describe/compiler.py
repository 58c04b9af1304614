"""The line itself: a layout file to an assembly, to findings, to a package on disk."""
from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from chassis_describe.errors import UsageError
from chassis_describe.findings import Finding, Severity
from chassis_describe.values import dataclass

if TYPE_CHECKING:
    from chassis_describe.assembly.model import Assembly
    from chassis_describe.disk.package import WriteResult
    from chassis_describe.layout.model import Layout


def read(path: str | Path, *, text: str | bytes | None = None, overlays: Sequence[str | Path] = (),
         opener: Callable[[str], bytes] | None = None) -> Layout:
    """Read a layout file.

    ``text`` stands in for the file's content (``path`` then only names it), ``overlays`` are laid over it in order,
    ``opener`` reads files from elsewhere than the disk. Raises LayoutError with every fault of the files, UsageError
    where a file can't be read.
    """
    from chassis_describe.layout.read import read as read_layout

    return read_layout(str(path), text=text, overlays=overlays, opener=opener)


def files_read(assembly: Assembly) -> tuple[str, ...]:
    """The paths of all files that a robot was made from: layout, overlays, part files, meshes, the world."""
    meshes = (m.file for placed in assembly.parts.values() for m in placed.part.meshes)
    world = assembly.layout.world
    return tuple(dict.fromkeys((*(f.path for f in assembly.layout.files), *meshes, *([world.path] if world else []))))


def assemble(layout: Layout, *, prefix: str | None = None) -> Assembly:
    """Put the robot together; ``prefix`` instead of the layout's own, "" for none. Raises LayoutError where it can't be.

    Raises UsageError for a prefix that the layout would not be let have either.
    """
    from chassis_describe.assembly.place import assemble as put_together
    from chassis_describe.layout.names import PREFIX_PATTERN, PREFIX_WORDS, better_prefix

    if prefix and not re.fullmatch(PREFIX_PATTERN, prefix):
        raise UsageError(f"the prefix `{prefix}` is not accepted; write `{better_prefix(prefix)}`: {PREFIX_WORDS}")
    return put_together(layout, prefix=prefix)


def check(assembly: Assembly) -> list[Finding]:
    """Everything that is to be said about the build, worst first."""
    from chassis_describe.fit import check as check_fit

    return check_fit(assembly)


def urdf(assembly: Assembly, *, visual: str = "boxes") -> str:
    """The URDF as text, drawn by primitives, or (``mesh``) as in the compiled package, whose meshes it names."""
    from chassis_describe.targets.description.urdf_file import urdf as write_urdf

    if visual == "boxes":
        return write_urdf(assembly)
    if assembly.layout.ros.visual == "boxes":
        raise UsageError("the layout says `ros: {visual: boxes}`, so its package has no meshes to draw the robot by")
    from chassis_describe.targets.description.meshes import mesh_address

    return write_urdf(assembly, visual="mesh", mesh_address=mesh_address(assembly))


@dataclass(frozen=True, kw_only=True)
class Compiled:
    """What ``compile`` found and did; ``written`` is None when errors kept it from writing. ``warnings``: of the files."""

    assembly: Assembly
    findings: tuple[Finding, ...]
    written: WriteResult | None
    warnings: tuple[str, ...] = ()


def compile(path: str | Path, out: str | Path, *, text: str | bytes | None = None,  # noqa: A001 - the command's own word
            overlays: Sequence[str | Path] = (), prefix: str | None = None, despite_errors: bool = False,
            replace: bool = False) -> Compiled:
    """Read, check and write the description package into ``out``, which becomes the package.

    Nothing is written when the check has errors, unless ``despite_errors``. Raises LayoutError, UsageError, and
    TargetError where the package can't be written whole, would lose files of the user (unless ``replace``, which keeps
    copies), or names a frame, joint or topic that does not exist.
    """
    from chassis_describe.disk.package import write_package

    assembly = assemble(read(path, text=text, overlays=overlays), prefix=prefix)
    findings = tuple(check(assembly))
    if not despite_errors and any(f.severity is Severity.ERROR for f in findings):
        return Compiled(assembly=assembly, findings=findings, written=None)
    from chassis_describe.documents import documents
    from chassis_describe.targets import package_artifacts, warnings

    files = package_artifacts(assembly, documents(assembly, findings))
    return Compiled(assembly=assembly, findings=findings, warnings=warnings(assembly),
                    written=write_package(Path(out), files, replace=replace))
