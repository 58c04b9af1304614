"""Every inertia is possible as written: read back from the text of the URDF, down to the thinnest plates and lightest boards.

Conditions: positive principal moments that obey the triangle rule, on eigenvalues (Traversaro et al., arXiv:1610.08703).
Thin plates are the hard case: they are nearly laminae, which reach equality, and rounding to few digits breaks them.
"""
from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from lxml import etree

import chassis_describe as cd
from tests.demos import NAMES


def written_inertias(text: str) -> dict[str, tuple[float, np.ndarray]]:
    """Link name → mass and tensor, from the text alone."""
    out = {}
    for link in etree.fromstring(text.encode()).iter("link"):
        inertial = link.find("inertial")
        if inertial is not None:
            v = {k: float(x) for k, x in inertial.find("inertia").attrib.items()}
            out[link.get("name")] = (float(inertial.find("mass").get("value")), np.array(
                [[v["ixx"], v["ixy"], v["ixz"]], [v["ixy"], v["iyy"], v["iyz"]], [v["ixz"], v["iyz"], v["izz"]]]))
    return out


def slack(tensor: np.ndarray) -> float:
    """How far the triangle rule holds, as a share of the largest moment; negative where it is broken."""
    low, middle, high = np.linalg.eigvalsh(tensor)
    assert low > 0
    return float((low + middle - high) / high)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.3, 6), st.floats(50, 2000), st.floats(50, 2000), st.floats(0.5, 60), st.floats(0.5, 60), st.floats(0.5, 8),
       st.floats(-180, 180), st.floats(-90, 90))
def test_thin_decks_and_light_boards(thickness: float, x: float, y: float, a: float, b: float, c: float, yaw: float,
                                     pitch: float) -> None:
    text = f"""
layout: 1
robot: leaf
parts:
  board: {{mass: 1, bodies: [{{box: [{a!r}, {b!r}, {c!r}], rpy: [10, {pitch!r}, {yaw!r}]}}]}}
decks:
  sheet: {{outline: {{rectangle: [{x!r}, {y!r}]}}, thickness: {thickness!r}, material: acrylic,
           cutouts: [{{circle: 20, centre: [10, 5]}}]}}
placements:
  imu: {{part: board, on: sheet}}
"""
    robot = cd.assemble(cd.read("leaf.yaml", text=text))
    links = written_inertias(cd.urdf(robot))
    assert set(links) == {"sheet_link", "imu_link"}
    for mass, tensor in links.values():
        assert mass > 0
        assert slack(tensor) > 0


def test_rounding_to_few_digits_would_break_them() -> None:
    # Why 12 digits are written: the same plates with 3 significant digits. If none broke, the test above would prove nothing.
    broken = 0
    for x in range(60, 400, 23):
        text = (f"layout: 1\nrobot: leaf\ndecks:\n  sheet: {{outline: {{rectangle: [{x}, 227]}}, thickness: 0.3, "
                "material: acrylic}\n")
        _, tensor = written_inertias(cd.urdf(cd.assemble(cd.read("leaf.yaml", text=text))))["sheet_link"]
        assert slack(tensor) > 0
        broken += slack(np.vectorize(lambda v: float(f"{v:.3g}"))(tensor)) < 0
    assert broken > 0


@pytest.mark.parametrize("name", NAMES)
def test_demos(name: str) -> None:
    from pathlib import Path

    path = Path(__file__).resolve().parents[2] / "config" / f"{name}.yaml"
    for mass, tensor in written_inertias(cd.urdf(cd.assemble(cd.read(path)))).values():
        assert mass > 0
        assert slack(tensor) > 0
