"""The page's data and document: equal to the drawings' and the standards' own rules; what others may put into names stays text."""
from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import main
from chassis_describe.drawings.style import INKS
from chassis_describe.page.document import ASSETS, MODULES, document, joined
from chassis_describe.page.picture import picture
from chassis_describe.page.solids import hull_faces
from chassis_describe.space.solids import Hull

CONFIG = Path(__file__).resolve().parents[2] / "config"


def turned(pose: list[float], point: tuple[float, float, float]) -> list[float]:
    return [sum(pose[3 * r + k] * point[k] for k in range(3)) + pose[9 + r] for r in range(3)]


@pytest.mark.parametrize("name", ["draught_scout", "prop_barrow"])
def test_solids_and_plates_are_where_the_frames_are(name: str) -> None:
    """Every frame, solid and deck of the page against the assembly's own poses, in the axes of base_footprint."""
    assembly = cd.assemble(cd.read(CONFIG / f"{name}.yaml"))
    shown = picture(assembly)
    ground = assembly.poses["base_footprint"].inverse()
    frames = {n: pose for n, _, pose in shown["frames"]}
    assert frames.keys() == assembly.poses.keys()
    for frame, pose in assembly.poses.items():
        assert turned(frames[frame], (10.0, 20.0, 30.0)) == pytest.approx([v * 1e3 for v in (ground @ pose).point((0.01, 0.02, 0.03))], abs=1e-3)
    bodies = [(b.owner, ground @ assembly.poses[link.name] @ b.pose) for link in assembly.links for b in link.bodies if b.visible]
    assert [s[0] for s in shown["solids"]] == [owner for owner, _ in bodies]
    for (_, _, _, _, at), (_, pose) in zip(shown["solids"], bodies):
        assert at[9:] == pytest.approx([v * 1e3 for v in pose.t], abs=1e-3)
    for deck in shown["decks"]:
        loops, triangles = deck["face"]["loops"], deck["face"]["triangles"]
        corners = [tuple(loop[k:k + 2]) for loop in loops for k in range(0, len(loop), 2)]
        area = sum((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
                   for a, b, c in (tuple(corners[n] for n in triangles[k:k + 3]) for k in range(0, len(triangles), 3))) / 2
        assert area == pytest.approx(assembly.decks[deck["name"]].plate.area * 1e6, rel=2e-3)  # chords of its holes and corners
        assert len(deck["holes"]) == len(assembly.decks[deck["name"]].plate.holes)


def test_faces_of_a_hull_look_outward() -> None:
    """A pyramid of 2 by 2 by 1 (worked by hand): four triangles and a square, volume by the divergence theorem 4/3."""
    corners = ((1.0, 1.0, -0.5), (-1.0, 1.0, -0.5), (-1.0, -1.0, -0.5), (1.0, -1.0, -0.5), (0.0, 0.0, 0.5))
    s = math.sqrt(0.5)
    planes = ((0.0, 0.0, -1.0, 0.5), (s, 0.0, s, s / 2), (-s, 0.0, s, s / 2), (0.0, s, s, s / 2), (0.0, -s, s, s / 2))
    faces = hull_faces(Hull((2.0, 2.0, 1.0), corners, planes))
    assert sorted(len(f) for f in faces) == [3, 3, 3, 3, 4]
    volume = 0.0
    for a, *rest in faces:
        for b, c in zip(rest, rest[1:]):
            volume += (a[0] * (b[1] * c[2] - b[2] * c[1]) + a[1] * (b[2] * c[0] - b[0] * c[2]) + a[2] * (b[0] * c[1] - b[1] * c[0])) / 6
    assert volume == pytest.approx(4 / 3)


def test_a_document_holds_everything_and_lets_nothing_out() -> None:
    text = "</script><script>alert(1)</script><!-- \u2028 {{style}} \ud800"
    page, policy = document(text, {"picture": {"robot": text}}, live=False)
    words = page.decode("utf-8")
    assert words.count("<script") == 2  # the data and the program (HTML Living Standard, 4.12.1)
    data = re.search(r'<script type="application/json" id="data">(.*?)</script>', words, re.DOTALL)
    assert data is not None
    assert json.loads(data[1])["picture"]["robot"].startswith("</script><script>alert(1)</script><!-- \u2028 {{style}}")
    assert "connect-src 'none'" in policy
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", words)  # a name of XML, not an address to fetch
    assert "http-equiv=\"Content-Security-Policy\"" in words


def test_modules_join_into_one() -> None:
    """Every module is listed, imports only what comes before it, and no name stands twice (one script has one scope)."""
    assert {p.stem for p in ASSETS.glob("*.js")} == set(MODULES)
    texts = {name: (ASSETS / f"{name}.js").read_text(encoding="utf-8") for name in MODULES}
    for number, (name, text) in enumerate(texts.items()):
        used = re.findall(r"^import \{[^}]*\} from '\./(\w+)\.js';$", text, re.MULTILINE)
        assert set(used) <= set(MODULES[:number]), name
        assert len(used) == text.count("import "), name
    script = joined(list(texts.values()))
    assert not re.search(r"^(import|export) ", script, re.MULTILINE)
    declared = re.findall(r"^(?:async )?(?:const|let|function|class) (\w+)", script, re.MULTILINE)
    assert len(declared) == len(set(declared))


def test_inks_of_the_page_are_those_of_the_drawings() -> None:
    """Three inks and grey: no green in the style sheet, whose colours come from the drawings but for transparent blue."""
    style = (ASSETS / "look.css").read_text(encoding="utf-8")
    assert set(re.findall(r"var\(--(\w+)\)", style)) <= {*INKS, "font", "px"}
    assert not re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[;, )])", style)
    red, green, blue = (int(INKS["blue"][k:k + 2], 16) for k in (1, 3, 5))
    assert set(re.findall(r"rgba\((\d+, \d+, \d+),", style)) == {f"{red}, {green}, {blue}"}


def test_a_frozen_page_is_drawn_and_refuses_what_means_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "cart.html"
    assert main(["draw", str(CONFIG / "seedling_cart.yaml"), "-o", str(out), "--deck", "plate", "--under"]) == 0
    assert '"start":{"deck":"plate","under":true}' in out.read_text(encoding="utf-8")
    assert main(["draw", str(CONFIG / "seedling_cart.yaml"), "-o", str(out), "--template"]) == 2
    assert main(["draw", str(CONFIG / "seedling_cart.yaml"), "-o", str(out), "--deck", "plat"]) == 2
    out.write_text("mine")
    assert main(["draw", str(CONFIG / "seedling_cart.yaml"), "-o", str(out)]) == 2
    assert out.read_text() == "mine"
    assert main(["view", "-"]) == 2
    assert "standard input" in capsys.readouterr().err


def test_urdf_and_check_import_none_of_it() -> None:
    program = ("import sys\nfrom chassis_describe.cli.main import main\n"
               f"main(['urdf', {str(CONFIG / 'seedling_cart.yaml')!r}])\nmain(['check', {str(CONFIG / 'seedling_cart.yaml')!r}])\n"
               "sys.exit(any(m.startswith(('chassis_describe.page', 'chassis_describe.drawings', 'http.server')) for m in sys.modules))")
    assert subprocess.run([sys.executable, "-c", program], stdout=subprocess.DEVNULL, check=False).returncode == 0
