"""Start-up and large files: what is imported, and how memory grows (time: the benchmark)."""
from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_reading_imports_nothing_heavy() -> None:
    """numpy, shapely and lxml each take longer to import than a small layout takes to be described."""
    code = ("import sys; from chassis_describe.layout.read import read; from chassis_describe.layout import catalogue; "
            f"read({str(ROOT / 'config' / 'draught_scout.yaml')!r}); "
            "print(sorted(m for m in ('numpy', 'shapely', 'lxml', 'jsonschema') if m in sys.modules))")
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert out.stdout.strip() == "[]"


def large(count: int) -> str:
    lines = ["layout: 1", "robot: big", "parts: {p: {mass: 10, bodies: [{box: [10, 10, 10]}], bolts: [[0, 0], [20, 0]]}}",
             "decks: {plate: {outline: {rectangle: [2000, 2000]}, thickness: 3, material: acrylic}}", "placements:"]
    lines += [f"  p{k}: {{part: p, on: plate, at: [{k % 90 - 45}, {k // 90 - 45}], turn: {k % 4 * 90}, lift: 5}}"
              for k in range(count)]
    return "\n".join(lines)


def test_memory_of_ten_thousand_placements() -> None:
    """The peak of a process that reads them, over that of one that reads ten."""
    code = ("import resource, sys; sys.path.insert(0, 'tests/layout'); from test_reader_is_quick import large; "
            "from chassis_describe.layout.read import read; read('b', text=large({n})); "
            "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)")
    peak = [int(subprocess.run([sys.executable, "-c", code.format(n=n)], capture_output=True, text=True, cwd=ROOT,
                               check=True).stdout) for n in (10, 10_000)]
    assert (peak[1] - peak[0]) / 1024 < 150  # MiB; ru_maxrss counts KiB on Linux
