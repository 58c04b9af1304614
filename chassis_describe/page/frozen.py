"""A robot's page as one file that opens without a server."""
from __future__ import annotations

from collections.abc import Sequence

from chassis_describe.assembly.model import Assembly
from chassis_describe.findings import Finding
from chassis_describe.page.document import document
from chassis_describe.page.picture import picture, verdict


def frozen_page(assembly: Assembly, findings: Sequence[Finding], *, deck: str | None = None, under: bool = False) -> bytes:
    """The file. ``deck``: whose plan is shown first; ``under``: turned over left to right."""
    shown = {**picture(assembly), "revision": "", "edit": False, "live": False}
    data = {"picture": shown, "verdict": {**verdict(assembly, findings), "revision": ""}, "start": {"deck": deck, "under": under}}
    page, _ = document(assembly.robot, data, live=False)
    return page
