"""A description held against the layout: the line for ``match``."""
from __future__ import annotations

from chassis_describe import compiler
from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.described import described
from chassis_describe.changes.match import Difference, match
from chassis_describe.errors import UsageError
from chassis_describe.facts.play import play_of
from chassis_describe.inputs import MESH_BYTES, open_input


def match_file(assembly: Assembly, file: str, *, exact: bool = False) -> tuple[Difference, ...]:
    """What a URDF file says otherwise than the layout. Raises UsageError where it can't be read."""
    try:
        data = open_input(file, most=MESH_BYTES)
    except OSError as error:
        raise UsageError(f"{file} can't be read: {error.strerror or error}") from error
    return match_text(assembly, data, file, exact=exact)


def match_text(assembly: Assembly, text: str | bytes, name: str, *, exact: bool = False) -> tuple[Difference, ...]:
    """The same of a URDF that is at hand; ``name`` is what errors call it."""
    # Both sides go through one reader, so both are what is written, not what was meant.
    expected = described(compiler.urdf(assembly), "this layout's URDF")
    return match(expected, described(text, name), assembly.base, play_of(assembly), exact=exact)
