"""Findings as JUnit XML, which CI services list as tests: each code of the check is one, and fails by what it found.

There is no standard of this format; elements and attributes are those that the common readers share (Apache Ant's
junitreport schema, as CI services take it): ``testsuites``, ``testsuite``, ``testcase``, ``failure``, ``system-out``.
"""
from __future__ import annotations

import re
from collections.abc import Sequence

from lxml import etree

from chassis_describe.findings import CODES, Finding, Severity

#: What XML 1.0 has no place for (2.2, Char).
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def junit(findings: Sequence[Finding], *, name: str, strict: bool = False) -> bytes:
    """The test report of one check. Errors fail, warnings too when ``strict``; the rest is text beside a passed test."""
    by_code: dict[str, list[Finding]] = {code: [] for code in CODES}
    for item in findings:
        by_code[item.code].append(item)
    failing = {Severity.ERROR, Severity.WARNING} if strict else {Severity.ERROR}
    cases = []
    failed = 0
    for code, items in by_code.items():
        case = etree.Element("testcase", {"classname": f"chassis_describe.{_clean(name)}", "name": code, "time": "0"})
        bad = [f for f in items if f.severity in failing]
        if bad:
            failed += 1
            more = f" (and {len(bad) - 1} more)" if len(bad) > 1 else ""
            failure = etree.SubElement(case, "failure", {"message": _clean(bad[0].message + more), "type": code})
            failure.text = _clean("\n".join(str(f) for f in bad))
        rest = [f for f in items if f not in bad]
        if rest:
            etree.SubElement(case, "system-out").text = _clean("\n".join(str(f) for f in rest))
        cases.append(case)
    counts = {"tests": str(len(cases)), "failures": str(failed), "errors": "0", "time": "0"}
    root = etree.Element("testsuites", counts)
    suite = etree.SubElement(root, "testsuite", {"name": f"chassis_describe {_clean(name)}", **counts, "skipped": "0"})
    suite.extend(cases)
    etree.indent(root, space="  ")
    text: bytes = etree.tostring(root, encoding="UTF-8", xml_declaration=True)
    return text + b"\n"


def _clean(text: str) -> str:
    return _NO_XML.sub(" ", text)
