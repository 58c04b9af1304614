"""Words of the bring-up page on the ros2_control blocks that descriptions of others bring."""
from __future__ import annotations

from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.layout.described.names import real
from chassis_describe.words import listing

_DESCRIBED = """\
## The hardware of {placement}

Its description brings a `<ros2_control>` of its own, for {plugin}, which stays as it is. Install the
package of that plugin, and take controllers that come with it for {joints}: none are written here.
"""


def described_hardware(assembly: Assembly) -> Iterator[str]:
    """What parts that others describe bring for ros2_control."""
    for name, placed in assembly.parts.items():
        for block in placed.part.description.others if placed.part.description is not None else ():
            if block.tag == "ros2_control":
                joints = [f"`{real(j.get('name', ''), assembly.prefix, name)}`" for j in block.iterfind("joint")]
                plugin = block.findtext("hardware/plugin")
                yield _DESCRIBED.format(placement=name, joints=listing(joints, most=8), plugin=f"`{plugin.strip()}`" if plugin else
                                        "hardware that it does not name")
