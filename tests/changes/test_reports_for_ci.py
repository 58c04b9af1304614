"""Reports for code hosts and CI services, and the hooks for repositories of layouts."""
from __future__ import annotations

import json
import os
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
import yaml

from chassis_describe.cli.main import COMMANDS, main, parser_of
from chassis_describe.errors import UsageError
from chassis_describe.findings import CODES

TOP = Path(__file__).resolve().parents[2]
SCOUT = (TOP / "config" / "draught_scout.yaml").read_text()
CLEAN = SCOUT
SPOILT = re.sub(r"(lidar: .*at: )\[[^\]]*\]", r"\g<1>[0.2, 0]", SCOUT)
MANY = re.sub(r"length: 60", "length: 40", SPOILT)
UNREADABLE = SCOUT.replace("thickness: 4", "thicknes: 4")


@pytest.fixture(params=[("clean", CLEAN, 0), ("spoilt", SPOILT, 1), ("many", MANY, 1), ("unreadable", UNREADABLE, 2)],
                ids=lambda p: p[0])
def reported(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
             capsys: pytest.CaptureFixture[str]) -> tuple[dict, ElementTree.Element, dict, int]:
    _, text, code = request.param
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my robots").mkdir()
    (tmp_path / "my robots" / "scout ü.yaml").write_text(text)
    layout = "my robots/scout ü.yaml"
    assert main(["check", layout, "--sarif", "a.sarif", "--junit", "a.xml", "--json"]) == code
    said = json.loads(capsys.readouterr().out)
    return json.loads((tmp_path / "a.sarif").read_text()), ElementTree.parse(tmp_path / "a.xml").getroot(), said, code


def test_sarif_has_what_the_standard_requires(reported: tuple[dict, ElementTree.Element, dict, int]) -> None:
    # SARIF 2.1.0: 3.13 sarifLog (version, runs), 3.14 run (tool), 3.18 tool (driver), 3.19 toolComponent (name),
    # 3.20 invocation (executionSuccessful), 3.27 result (message), 3.49 reportingDescriptor (id), 3.11 message (text)
    log, _, said, code = reported
    assert log["version"] == "2.1.0"
    assert log["$schema"].endswith("sarif-schema-2.1.0.json")
    (run,) = log["runs"]
    driver = run["tool"]["driver"]
    assert driver["name"] == "chassis_describe"
    assert [i["executionSuccessful"] for i in run["invocations"]] == [code != 2]
    assert run["columnKind"] in ("utf16CodeUnits", "unicodeCodePoints")
    ids = [r["id"] for r in driver["rules"]]
    assert len(set(ids)) == len(ids)
    assert len(run["results"]) == len(said["findings"])
    for result, finding in zip(run["results"], said["findings"]):
        assert ids[result["ruleIndex"]] == result["ruleId"] == finding["code"]
        assert result["level"] == finding["severity"] in ("error", "warning", "note")  # 3.27.10
        assert finding["message"] in result["message"]["text"]
        for place in [*result.get("locations", []), *result.get("relatedLocations", [])]:
            physical = place["physicalLocation"]
            # 3.4.3: a URI reference (RFC 3986): no blanks, ASCII
            assert re.fullmatch(r"[A-Za-z0-9._~/%-]+", physical["artifactLocation"]["uri"])
            assert physical["region"]["startLine"] >= 1
            assert physical["region"]["startColumn"] >= 1
        if result.get("locations"):
            first = result["locations"][0]["physicalLocation"]
            assert first["artifactLocation"]["uri"] == "my%20robots/scout%20%C3%BC.yaml"
            assert first["region"]["startLine"] == finding["where"][0]["line"]
        for place in result.get("relatedLocations", []):
            assert place["message"]["text"]


def test_places_in_the_built_in_catalogue_are_left_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                                       capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(tmp_path)
    Path("r.yaml").write_text(MANY)
    main(["check", "r.yaml", "--sarif", "r.sarif"])
    text = Path("r.sarif").read_text()
    assert "catalogue/" not in text
    assert "file:" not in text


def test_a_waiver_is_a_suppression(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # SARIF 3.27.23, 3.35: kind inSource, justification in words
    monkeypatch.chdir(tmp_path)
    Path("r.yaml").write_text(SPOILT + "\nchecks: {accept: [{finding: bolt-off-hole, of: [lidar], because: a slotted adapter}]}\n")
    assert main(["check", "r.yaml", "--sarif", "r.sarif", "--junit", "r.xml"]) == 0
    results = json.loads(Path("r.sarif").read_text())["runs"][0]["results"]
    assert [r["suppressions"] for r in results] == [[{"kind": "inSource", "justification": "a slotted adapter"}]]


def test_junit_counts_and_fails_by_severity(reported: tuple[dict, ElementTree.Element, dict, int]) -> None:
    _, root, said, code = reported
    assert root.tag == "testsuites"
    (suite,) = root
    cases = suite.findall("testcase")
    assert [c.get("name") for c in cases] == list(CODES)
    failed = {c.get("name") for c in cases if c.find("failure") is not None}
    assert failed == {f["code"] for f in said["findings"] if f["severity"] == "error"}
    assert suite.get("failures") == root.get("failures") == str(len(failed))
    assert int(suite.get("tests", "")) == len(cases)
    assert bool(failed) == (code != 0)
    text = "".join("".join(c.itertext()) for c in cases)
    for finding in said["findings"]:
        assert finding["message"] in text


def test_strict_makes_warnings_fail(tmp_path: Path) -> None:
    (tmp_path / "r.yaml").write_text(SCOUT.replace("at: [1.5, 2]", "at: [0.5, 2]"))  # the axle under the centre of mass
    assert main(["check", str(tmp_path / "r.yaml"), "--strict", "--junit", str(tmp_path / "r.xml"), "--json"]) == 1
    names = {c.get("name") for c in ElementTree.parse(tmp_path / "r.xml").getroot().iter("testcase") if c.find("failure") is not None}
    assert "tips-early" in names


def test_a_report_that_can_not_be_written_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "r.yaml").write_text(CLEAN)
    assert main(["check", str(tmp_path / "r.yaml"), "--sarif", str(tmp_path / "no" / "r.sarif")]) == 2
    assert "can't be written" in capsys.readouterr().err
    assert issubclass(UsageError, Exception)
    assert not os.path.exists(tmp_path / "no")


def test_hooks_name_commands_that_exist() -> None:
    # keys: pre-commit's manifest (id, name, entry, language are required; pre-commit.com, "Creating new hooks")
    hooks = yaml.safe_load((TOP / ".pre-commit-hooks.yaml").read_text())
    assert [h["id"] for h in hooks] == ["chassis-check", "chassis-compare"]
    for hook in hooks:
        assert {"id", "name", "entry", "language"} <= set(hook)
        assert hook["language"] == "python"
        program, *arguments = hook["entry"].split()
        assert program == "chassis_describe"
        command = next(c for c in COMMANDS if c.name == arguments[0])
        assert parser_of(command)[0].parse_args([*arguments[1:], "robot.yaml"]).layout
