"""The build sheet: counts equal the model's, words are true on both faces, and files of others stay."""
from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import main
from chassis_describe.documents import steps_markdown
from chassis_describe.facts.screws import screws_of
from chassis_describe.layout.model import Stacked
from chassis_describe.reports.build_sheet import TURN_OVER, as_csv, parts_list
from tests.demos import NAMES

CONFIG = Path(__file__).resolve().parents[2] / "config"


@pytest.mark.parametrize("name", NAMES)
def test_the_list_equals_the_model(name: str) -> None:
    assembly = cd.assemble(cd.read(CONFIG / f"{name}.yaml"))
    items = parts_list(assembly)
    count = {group: sum(i.number for i in items if i.group == group) for group in {i.group for i in items}}
    assert count["part"] == len(assembly.parts)
    assert count["plate"] == len(assembly.decks)
    assert count["screw"] == len(screws_of(assembly))
    assert count.get("standoff", 0) == sum(len(g.holes) for d in assembly.layout.decks.values() if isinstance(d.placing, Stacked)
                                           for g in d.placing.standoffs)
    # Spacers of the list against the bodies of the model.
    assert count.get("spacer", 0) == sum(b.role == "spacer" for link in assembly.links for b in link.bodies)
    known = [i.grams for i in items if i.grams is not None]
    spacers = sum(b.mass * 1e3 for link in assembly.links for b in link.bodies if b.role == "spacer")
    assert assembly.inertial is not None
    assert sum(known) + spacers == pytest.approx(assembly.inertial.mass * 1e3, rel=1e-6)
    rows = list(csv.DictReader(io.StringIO(as_csv(assembly))))
    assert [int(r["number"]) for r in rows] == [i.number for i in items]


@pytest.mark.parametrize("name", NAMES)
def test_what_the_page_holds(name: str) -> None:
    text = steps_markdown(cd.assemble(cd.read(CONFIG / f"{name}.yaml")), "figures")
    assert text.index("## Tools") < text.index("## Steps") < text.index("## The whole list")
    numbers = [int(n) for n in re.findall(r"^- \[ \] (\d+)\.", text, re.MULTILINE)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert TURN_OVER in text
    last = [line for line in text.splitlines() if re.match(r"- \[ \] \d+\.", line)]
    assert "weigh" in last[-1] and "connected last" in last[-2]
    assert "not a safety function" in text


def test_rows_and_columns_by_hand() -> None:
    """Deck 240 x 160, holes -5 … 5 by -3 … 3: [0, 2] is in row 6; column 2 from the left on top, 6 when turned over."""
    text = steps_markdown(cd.assemble(cd.read(CONFIG / "draught_scout.yaml")), "figures")
    assert "[0, 2] (row 6, column 6 as now seen, 2 from above)" in text
    assert "[-2, 3] (row 8, column 1)" in text


def test_notes_words_and_locker() -> None:
    text = ("layout: 1\nrobot: noted\ndecks:\n  plate: {outline: {circle: 160}, thickness: 3, material: acrylic}\n"
            "placements:\n  imu: {part: imu_board, on: plate, note: 'mind the | *arrow* <b>'}\n")
    page = steps_markdown(cd.assemble(cd.read("noted.yaml", text=text)), "figures")
    assert r"note: mind the | \*arrow\* \<b\>" in page
    assert "no thread locker here: it cracks acrylic" in page


def test_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    layout, page, table = str(CONFIG / "draught_scout.yaml"), tmp_path / "build.md", tmp_path / "list.csv"
    assert main(["steps", layout, "-o", str(page), "--csv", str(table)]) == 0
    text = page.read_text(encoding="utf-8")
    figures = re.findall(r"\]\((build_figures/[^)]+)\)", text)
    assert figures and all((tmp_path / f).exists() for f in figures)
    assert len(list((tmp_path / "build_figures").iterdir())) == len(figures)
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    assert main(["steps", layout, "-o", str(page), "--csv", str(table)]) == 0
    assert before == {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    page.write_text("my own notes")
    assert main(["steps", layout, "-o", str(page)]) == 2
    assert page.read_text() == "my own notes"
    assert main(["steps", layout, "-o", str(tmp_path / "x.doc")]) == 2
    html = tmp_path / "build.html"
    assert main(["steps", layout, "-o", str(html)]) == 0
    said = html.read_text(encoding="utf-8")
    assert said.count("<svg") == len(figures) and "http://www.w3.org/2000/svg" in said
    assert not re.search(r"(?:src|href)=", said)
    capsys.readouterr()


@pytest.mark.judge
def test_pdf_pages(tmp_path: Path) -> None:
    pytest.importorskip("reportlab")
    pdfium = pytest.importorskip("pypdfium2")
    out = tmp_path / "build.pdf"
    assert main(["steps", str(CONFIG / "seedling_cart.yaml"), "-o", str(out)]) == 0
    document = pdfium.PdfDocument(out.read_bytes())
    words = " ".join(page.get_textpage().get_text_range() for page in document)
    assert "The whole list" in words and "weigh the robot" in words
