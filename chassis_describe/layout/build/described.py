"""Parts with a description of their own: what was read of them, and the description itself for those that are placed."""
from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING

from chassis_describe.errors import UsageError
from chassis_describe.layout.described.model import Description, DescriptionSource
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.values import replace

if TYPE_CHECKING:
    from chassis_describe.layout.build.part_taken import PartTaken
    from chassis_describe.layout.files import Opener
    from chassis_describe.layout.model import Part, Seat, Sensor

#: Why no description can be expanded.
NO_XACRO = "a part with a description needs the Python package xacro, which is not installed"
#: What a description says itself, and what only our own bodies can have.
_EXCLUDED = ("bodies", "mass", "com", "inertia", "shafts", "motor", "wheel", "caster")


def resolved(file: str, beside: str) -> str:
    """The path of a file that another names: as it is when absolute or an address, else beside the one that names it."""
    if re.match(r"[a-z]+://", file) or posixpath.isabs(file):
        return file
    return posixpath.normpath(posixpath.join(posixpath.dirname(beside), file))


def described_source(p: PartTaken, r: Reading) -> DescriptionSource | None:
    """``description`` of a part, and what it excludes."""
    t: Taken | None = p.get("description")
    if t is None:
        return None
    for key in _EXCLUDED:
        if p.has(key):
            r.fault("meaningless-key", f"`{key}` means nothing for a part with a `description`, which says all of that itself",
                    p.mark(key), hint=f"leave `{key}` out, or the description", also=[p.mark("description")])
    for name, seat in (p.get("seats") or {}).items():
        if seat is not None and seat.get("adjust"):
            r.fault("meaningless-key", f"the seat `{name}` can't have adjustments: the joints of the description move it",
                    seat.keys["adjust"], seat.within("adjust"), hint="give the seat a `link`, and set its joints with `set`")
    file = t.get("file")
    if file is None:
        return None
    if re.match(r"[a-z]+://", file) and not re.fullmatch(r"package://[^/]+/.+", file):
        r.fault("bad-value", f"`{file}` is neither a path nor a `package://` address", t.at("file"), t.within("file"),
                hint="write a path beside this file, or `package://NAME/urdf/arm.xacro`")
        return None
    if t.has("macro") and t.faulty("macro"):
        return None
    arguments = {k: v for k, v in (t.get("arguments") or {}).items() if v is not None}
    return DescriptionSource(file=resolved(file, t.at("file").file), macro=t.get("macro"), arguments=arguments, root=t.get("root"),
                             mark=t.mark(), marks=t.marks())


def alone(part: Part, packages: Mapping[str, str]) -> Part:
    """A part outside of a robot, with what its description says. Raises UsageError where that can't be expanded."""
    from chassis_describe.layout.described.describe import NotDescribed, describe
    from chassis_describe.layout.described.packages import Packages
    from chassis_describe.layout.files import from_disk

    if part.described is None or part.description is not None:
        return part
    try:
        return replace(part, description=describe(part.described, from_disk, Packages(packages)))
    except NotDescribed as error:
        raise UsageError(f"{part.name}: {error}" + (f"; {error.hint}" if error.hint else "")) from None
    except ImportError:
        raise UsageError(f"{part.name}: {NO_XACRO}; `pip install xacro`, or source ROS") from None


class Descriptions:
    """Expands what is placed, each part once. ``packages``: of the layout, name → folder."""

    def __init__(self, r: Reading, opener: Opener, packages: Mapping[str, str]) -> None:
        self.r, self.opener, self.given = r, opener, packages
        self.done: dict[int, Part | None] = {}

    def of(self, part: Part | None) -> Part | None:
        """The part with its description expanded; None after a report."""
        if part is None or part.described is None:
            return part
        if id(part) not in self.done:
            self.done[id(part)] = self._expanded(part, part.described)
        return self.done[id(part)]

    def _expanded(self, part: Part, source: DescriptionSource) -> Part | None:
        from chassis_describe.layout.described.describe import NotDescribed, describe
        from chassis_describe.layout.described.packages import Packages

        try:
            found = describe(source, self.opener, Packages(self.given))
        except NotDescribed as error:
            self.r.fault("bad-value", str(error), source.marks.get(error.key, source.mark), hint=error.hint)
            return None
        except ImportError:
            self.r.fault("bad-value", NO_XACRO, source.mark, hint="`pip install xacro`, or source ROS")
            return None
        if not self._links_there(part, found):
            return None
        return replace(part, description=found, seats=self._seats(part, found))

    def _links_there(self, part: Part, found: Description) -> bool:
        good = True
        things: list[Seat | Sensor] = [*part.seats.values(), *part.sensors]
        for thing in things:
            if thing.link is not None and thing.link not in found.links:
                self.r.unknown("unknown-name", f"a link of the description of `{part.name}`", thing.link, found.links, thing.mark)
                good = False
        return good

    def _seats(self, part: Part, found: Description) -> dict[str, Seat]:
        from chassis_describe.layout.model import Seat

        bare = {n: Seat(name=n, link=n, bare=True, mark=part.mark) for n in found.links if n not in part.seats}
        return {**part.seats, **bare}
