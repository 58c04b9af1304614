"""Findings as SARIF 2.1.0 (OASIS Standard, 27 March 2020), which code hosts show on the lines of a pull request."""
from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

from chassis_describe.findings import CODES, Finding, Severity
from chassis_describe.source import Mark, is_built_in
from chassis_describe.version import VERSION

_SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
#: Our severities are SARIF's levels (3.27.10).
_LEVEL = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "note"}


def sarif(findings: Sequence[Finding], *, finished: bool) -> str:
    """The log of one run. ``finished``: whether the layout could be read and put together at all."""
    rules = list(dict.fromkeys(f.code for f in findings))
    run = {
        "tool": {"driver": {"name": "chassis_describe", "version": VERSION, "rules": [_rule(code) for code in rules]}},
        "invocations": [{"executionSuccessful": finished}],
        "columnKind": "unicodeCodePoints",  # our columns count characters
        "results": [_result(f, rules.index(f.code)) for f in findings],
    }
    return json.dumps({"$schema": _SCHEMA, "version": "2.1.0", "runs": [run]}, indent=2, ensure_ascii=False) + "\n"


def _rule(code: str) -> dict[str, Any]:
    known = CODES[code]
    return {"id": code, "shortDescription": {"text": known.says[:1].upper() + known.says[1:] + "."},
            "defaultConfiguration": {"level": _LEVEL[known.severity]}}


def _result(item: Finding, rule: int) -> dict[str, Any]:
    text = item.message if not item.hint else f"{item.message}. What to do: {item.hint}"
    out: dict[str, Any] = {"ruleId": item.code, "ruleIndex": rule, "level": _LEVEL[item.severity],
                           "message": {"text": text}}
    places = [place for mark in item.where if (place := _location(mark)) is not None]
    if places:
        out["locations"] = places[:1]
    if len(places) > 1:
        # 3.27.22: related locations carry a message of their own and a number
        out["relatedLocations"] = [{"id": k, **place, "message": {"text": "see also"}}
                                   for k, place in enumerate(places[1:], start=1)]
    # 3.27.17: what stays the same when lines above it come and go, so that an alert is not opened twice
    out["partialFingerprints"] = {"codeAndNames/v1": ":".join([item.code, *item.of])}
    if item.accepted is not None:
        out["suppressions"] = [{"kind": "inSource", "justification": item.accepted}]
    return out


def _location(mark: Mark) -> dict[str, Any] | None:
    """None for a place that no file of the user's has: the built-in catalogue, standard input."""
    uri = _uri(mark.file)
    if uri is None:
        return None
    place: dict[str, Any] = {"physicalLocation": {
        "artifactLocation": {"uri": uri}, "region": {"startLine": mark.line, "startColumn": mark.column}}}
    if mark.path:
        place["logicalLocations"] = [{"fullyQualifiedName": mark.where}]
    return place


def _uri(file: str) -> str | None:
    """A file as a URI reference from the working folder, where the repository is checked out (3.4.3)."""
    if file == "-" or is_built_in(file):
        return None
    relative = os.path.relpath(file)
    if relative.split(os.sep, 1)[0] == os.pardir:
        return Path(file).resolve().as_uri()
    return quote(relative.replace(os.sep, "/"))
