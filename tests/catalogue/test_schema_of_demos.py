"""What an editor is told agrees with the files: jsonschema, draft as the schema names it, judges demos and catalogue."""
from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

import chassis_describe as cd
from chassis_describe.layout.language.schema import catalogue_schema, schema

ROOT = Path(__file__).parents[2]
DEMOS = sorted((ROOT / "config").glob("*.yaml"))
FILES = sorted((Path(cd.__file__).parent / "catalogue").glob("*.yaml"))


class Loader(yaml.SafeLoader):
    """PyYAML reads `on` as true, as YAML 1.1 had it; editors follow YAML 1.2, where it is text."""


Loader.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in resolvers if tag != "tag:yaml.org,2002:bool" or first in "tTfF"]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()}


def document_of(path: Path) -> Any:
    return yaml.load(path.read_text(encoding="utf-8"), Loader)


def faults(document: Any, of: dict[str, Any]) -> list[str]:
    kind = jsonschema.validators.validator_for(of)
    kind.check_schema(of)
    return [f"{list(e.absolute_path)}: {e.message}" for e in kind(of).iter_errors(document)]


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_schema_accepts_the_demos(path: Path) -> None:
    assert faults(document_of(path), schema()) == []


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_schema_accepts_the_catalogue(path: Path) -> None:
    assert faults(document_of(path), catalogue_schema()) == []


@pytest.mark.parametrize("change", [
    lambda d: d["placements"]["lidar"].update({"pionts": "back"}),
    lambda d: d["placements"]["lidar"].update({"points": "backwards"}),
    lambda d: d["decks"]["upper"].pop("outline"),
    lambda d: d["drive"].update({"kind": "differental"}),
    lambda d: d["decks"]["lower"].update({"thickness": [4]}),
])
def test_schema_sees_slips(change: Any) -> None:
    document = document_of(ROOT / "config" / "draught_scout.yaml")
    change(document)
    assert faults(document, schema())


def nodes(node: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if isinstance(node, dict):
        yield path, node
        for key, value in node.items():
            yield from nodes(value, f"{path}/{key}")
    elif isinstance(node, list):
        for k, value in enumerate(node):
            yield from nodes(value, f"{path}/{k}")


@pytest.mark.parametrize("of", [schema(), catalogue_schema()], ids=["layout", "catalogue"])
def test_an_editor_has_a_description_for_every_key(of: dict[str, Any]) -> None:
    bare = []
    for path, node in nodes(of):
        if path.endswith("/properties") and "/if/" not in path:  # a condition is no place to write in
            bare += [f"{path}/{key}" for key, value in node.items()
                     if isinstance(value, dict) and not value.get("description")]
    assert bare == []


def test_an_editor_offers_the_words() -> None:
    text = str(schema())
    for word in ("differential", "skid_steer", "mecanum", "jazzy", "lyrical", "adhesive", "ultrasound", "under"):
        assert f"'{word}'" in text
