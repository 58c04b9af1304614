"""The world to simulate in: read through the opener like every other input, and told apart by its root element."""
from __future__ import annotations

import re
from typing import Literal

from chassis_describe.layout.files import Opener, beside, reason_of
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.model import WorldFile

#: Suffixes of worlds; a layout may come from anywhere, so nothing else is opened at all.
_SUFFIXES = (".sdf", ".world", ".xml", ".mjcf")
#: The root element behind byte order mark, declaration, document type and comments.
_ROOT = re.compile(rb"(?:\xef\xbb\xbf)?\s*(?:<\?.*?\?>\s*|<!--.*?-->\s*|<!DOCTYPE[^>\[]*>\s*)*<([A-Za-z]+)[\s>/]", re.DOTALL)
_FORMS: dict[bytes, Literal["sdf", "mjcf"]] = {b"sdf": "sdf", b"mujoco": "mjcf"}


def read_world(taken: Taken | None, opener: Opener) -> WorldFile | None:
    """The file that ``simulation: world:`` names; what is wrong with it is kept with it. None where none is named."""
    written: str | None = taken.get("world") if taken is not None else None
    if taken is None or written is None:
        return None
    path, mark = beside(written, taken.at("world").file), taken.mark("world")
    if not path.lower().endswith(_SUFFIXES) or "://" in path:
        return WorldFile(path=path, fault=f"is not named as a world ({', '.join(_SUFFIXES)})", mark=mark)
    try:
        data = opener(path)
    except (OSError, ValueError) as error:
        return WorldFile(path=path, fault=reason_of(error), mark=mark)
    root = _ROOT.match(data[:65536])
    form = _FORMS.get(root.group(1)) if root is not None else None
    if form is None:
        return WorldFile(path=path, fault="is neither SDF nor MJCF: its root is not <sdf> or <mujoco>", mark=mark)
    return WorldFile(path=path, data=data, form=form, mark=mark)
