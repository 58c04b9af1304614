"""A description, or a running robot, held against the layout: the line for ``match``."""
from __future__ import annotations

from collections.abc import Iterator

from chassis_describe import compiler
from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.match import Difference, match
from chassis_describe.changes.running import Heard, frame_differences
from chassis_describe.changes.urdf_tree import urdf_tree
from chassis_describe.errors import UsageError
from chassis_describe.facts.play import play_of
from chassis_describe.inputs import MESH_BYTES, open_input
from chassis_describe.words import count, listing


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
    expected = urdf_tree(compiler.urdf(assembly), "this layout's URDF")
    return match(expected, urdf_tree(text, name), assembly.base, play_of(assembly), exact=exact)


def match_running(assembly: Assembly, heard: Heard, *, exact: bool = False) -> tuple[Difference, ...]:
    """The same of what a running robot said. Raises UsageError where it said nothing at all."""
    if not heard.descriptions and not heard.frames:
        asked = "; ".join(not_heard(heard)) or "is it running, with this ROS_DOMAIN_ID and this namespace?"
        raise UsageError(f"nothing was heard of a robot: {asked} --seconds listens longer")
    found: list[Difference] = []
    if not heard.descriptions:
        found.append(Difference("missing", "robot_description", "a URDF", None, ""))
    if len(heard.descriptions) > 1:
        found.append(Difference("twice", "robot_description", 1.0, float(len(heard.descriptions)), ""))
    for text in heard.descriptions:
        try:
            found += match_text(assembly, text, "robot_description", exact=exact)
        except UsageError as error:  # whoever publishes that: it is no description
            found.append(Difference("missing", "robot_description", "a URDF", str(error), ""))
    found += frame_differences(assembly, heard.frames, {} if exact else play_of(assembly))
    once: dict[tuple[str, str, str], Difference] = {}
    for item in found:  # a part that has moved has done so in the description and in the frames
        once.setdefault((item.kind, item.of, item.unit), item)
    return tuple(once.values())


def not_heard(heard: Heard) -> Iterator[str]:
    """A sentence for each topic of whose publishers one has said nothing: what it publishes is not judged."""
    for topic, publishers, said in heard.silent:
        who = f"{count(len(publishers), 'publisher')} ({listing(publishers)})"
        yield f"{topic} has {who}, and {said or 'none'} of them {'were' if said > 1 else 'was'} heard; the rest is not judged."


def why_missing(assembly: Assembly, heard: Heard) -> str | None:
    """A sentence where frames that joints move were not heard: robot_state_publisher sends them only while joint states come."""
    there = {item.child for item in heard.frames}
    silent = [j.child for j in assembly.joints if j.type != "fixed" and j.child not in there]
    if not silent or not heard.descriptions:
        return None
    return (f"nothing places {listing(silent)}: robot_state_publisher sends what joints move only while somebody publishes joint "
            "states (a joint state broadcaster, joint_state_publisher)")
