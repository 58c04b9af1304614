"""Whether the files are there of the parts' meshes and of the world, and meshes of a size like the solids (an STL has no unit)."""
from __future__ import annotations

from collections.abc import Iterable

from chassis_describe.assembly.model import Assembly, Link, bounds
from chassis_describe.facts.meshes import largest_extent, mesh_files
from chassis_describe.findings import Finding, finding
from chassis_describe.units import shown
from chassis_describe.words import listing, significant

#: A mesh this many times larger or smaller than the solids of its part has another unit (our choice).
UNLIKE = 8.0
#: Metres in the units that meshes are drawn in.
_UNITS = ((1e-3, "millimetres"), (1e-2, "centimetres"), (0.0254, "inches"), (1.0, "metres"))


def meshes_there(assembly: Assembly) -> Iterable[Finding]:
    """``mesh-missing``: a file that can't be copied into the package, once for each part that names it."""
    for file, mesh, owners in mesh_files(assembly):
        if file.data is None:
            yield finding("mesh-missing", f"the mesh {shown(file.path, 200)} of {listing(owners)} {file.fault}", where=[mesh.mark],
                          of=owners, hint="a mesh's path starts at the file that names it; without one, the solids are drawn")


def world_there(assembly: Assembly) -> Iterable[Finding]:
    """``world-missing``: a world to simulate in that can't be copied into the package."""
    world = assembly.layout.world
    if world is not None and world.data is None:
        yield finding("world-missing", f"the world {shown(world.path, 200)} {world.fault}", where=[world.mark],
                      of=[assembly.robot], hint="its path starts at the file that names it; without one the floor is empty")


def meshes_fit(assembly: Assembly) -> Iterable[Finding]:
    """``implausible``: a mesh whose size is nothing like that of the solids beside it."""
    for link in assembly.links:
        for mesh in link.meshes:
            drawn = largest_extent(assembly.layout.meshes.get(mesh.file))
            solid = _largest_solid(link)
            if not drawn or not solid or 1 / UNLIKE <= drawn * max(mesh.scale) / solid <= UNLIKE:
                continue
            fits = [(f, unit) for f, unit in _UNITS if 1 / UNLIKE <= drawn * f / solid <= UNLIKE]
            best = min(fits, key=lambda u: abs(drawn * u[0] / solid - 1), default=None)
            yield finding("implausible", f"the mesh of {link.owner} would be {significant(drawn * max(mesh.scale) * 1e3)} mm long, "
                          f"its solids are {significant(solid * 1e3)} mm", where=[mesh.mark], of=[link.owner],
                          hint=f"it is drawn in {best[1]}, it seems: `scale: {best[0]:g}`" if best else "check its `scale`",
                          measured=drawn * max(mesh.scale), allowed=solid, unit="m")


def _largest_solid(link: Link) -> float:
    bodies = [b for b in link.bodies if b.role != "spacer"]
    if not bodies:
        return 0.0
    low, high = bounds(bodies)
    return max(b - a for a, b in zip(low, high))
