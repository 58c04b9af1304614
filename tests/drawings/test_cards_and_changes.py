"""Cards of parts, before and after, and the papers in a compiled package."""
from __future__ import annotations

from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import main
from chassis_describe.drawings.before_after import before_after
from chassis_describe.drawings.part_card import part_card
from chassis_describe.drawings.svg import svg
from chassis_describe.layout.part_files import all_parts
from tests.drawings.reading import decks, of_class, overlapping, page_shift, root_of, text_boxes, to_deck

CONFIG = Path(__file__).resolve().parents[2] / "config"
pytest.importorskip("reportlab")  # its font metrics judge the labels


def test_cards_of_the_whole_catalogue() -> None:
    """No words overlap; every bolt is where the part has it: page-up is x, page-left is y."""
    for name, part in all_parts().items():
        data = svg(part_card(part), name)
        for _, boxes in text_boxes(data):
            assert not overlapping(boxes), name
        view = next(g for g in of_class(root_of(data), "view") if g.get("data-side") == "top")
        ox, oy = map(float, view.get("data-origin").split())
        scale = float(view.get("data-scale").split(":")[1])
        found = [((oy - float(c.get("cy"))) * scale, (ox - float(c.get("cx"))) * scale) for c in of_class(view, "bolt")]
        wanted = [(x * 1e3, y * 1e3) for x, y in part.bolts]
        assert len(found) == len(wanted)
        assert all(one == pytest.approx(other, abs=0.002) for one, other in zip(found, wanted)), name


def test_before_and_after(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A lidar two holes forward: both outlines are there, 40 mm apart, and nothing else is marked."""
    text = (CONFIG / "draught_scout.yaml").read_text(encoding="utf-8")
    moved = text.replace("{part: lidar_d70, on: upper, at: [0, 0]", "{part: lidar_d70, on: upper, at: [2, 0]")
    assert moved != text
    old, new = (cd.assemble(cd.read("a.yaml", text=t)) for t in (text, moved))
    data = svg(before_after(old, new), "change")
    marked = {kind: [g.get("data-name") for g in of_class(root_of(data), kind)] for kind in ("before", "after")}
    assert marked == {"before": ["lidar"], "after": ["lidar"]}
    upper = decks(data)["upper"]
    dy = page_shift(upper)
    line = of_class(upper, "moved")[0].get("d").replace("M", "").replace("L", "").split()
    a, b = (to_deck(upper, (float(line[k]), float(line[k + 1])), dy) for k in (0, 2))
    assert (b[0] - a[0], b[1] - a[1]) == pytest.approx((40, 0), abs=0.01)
    for _, boxes in text_boxes(data):
        assert not overlapping(boxes)
    for name, content in (("a.yaml", text), ("b.yaml", moved)):
        (tmp_path / name).write_text(content)
    out = tmp_path / "change.svg"
    main(["compare", str(tmp_path / "a.yaml"), str(tmp_path / "b.yaml"), "--draw", str(out)])
    assert out.exists()
    assert main(["parts", "lidar_d70", "--draw", str(tmp_path / "card.svg")]) == 0
    assert main(["parts", "--draw", str(tmp_path / "all.svg")]) == 2
    assert main(["parts", "lidar_d70", "--draw", str(tmp_path / "card.stl")]) == 2
    capsys.readouterr()


def test_the_package_holds_sheet_and_steps(tmp_path: Path) -> None:
    out = tmp_path / "pkg"
    cd.compile(CONFIG / "seedling_cart.yaml", out)
    page = (out / "docs" / "steps.md").read_text(encoding="utf-8")
    assert set(decks((out / "docs" / "sheet.svg").read_bytes())) == {"plate"}
    figures = sorted(p.name for p in (out / "docs" / "steps_figures").iterdir())
    assert figures and all(f"(steps_figures/{name})" in page for name in figures)
