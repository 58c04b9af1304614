"""``chassis_describe.json``: by which version, from which inputs, and what every file of the package hashed to.

No dates and no places on the machine: the same input gives the same bytes. The hashes tell what the user changed since.
"""
from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping

from chassis_describe.artifact import Artifact

RECORD = "chassis_describe.json"
_SAYS = "Written by chassis_describe; it tells by these hashes what was changed by hand. Please leave it as it is."


def record(artifacts: Iterable[Artifact], *, version: str, robot: str, inputs: Mapping[str, bytes]) -> Artifact:
    """The record of these files. ``inputs``: name → bytes as they were read."""
    content = {
        "about": _SAYS,
        "chassis_describe": version,
        "robot": robot,
        "inputs": {name: _sha256(data) for name, data in sorted(inputs.items())},
        "files": {a.path: _sha256(a.data) for a in sorted(artifacts, key=lambda a: a.path)},
    }
    text = json.dumps({**content, "sha256": _seal(content)}, indent=2, ensure_ascii=True) + "\n"
    return Artifact(path=RECORD, data=text.encode("ascii"))


def recorded_files(data: bytes | None) -> dict[str, str] | None:
    """Path → sha256 from a record's bytes; None when it is no record of ours, empty when ours was edited."""
    if data is None:
        return None
    try:
        content = json.loads(data)
    except (ValueError, RecursionError):
        return None
    if not isinstance(content, dict) or "chassis_describe" not in content:
        return None
    seal = content.pop("sha256", None)
    files = content.get("files")
    if seal != _seal(content) or not isinstance(files, dict):
        return {}
    return {str(path): str(value) for path, value in files.items()}


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _seal(content: Mapping[str, object]) -> str:
    """Hash of the content itself, so that an edited record is not trusted."""
    return _sha256(json.dumps(content, sort_keys=True, ensure_ascii=True).encode("ascii"))
