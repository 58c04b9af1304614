"""The page in a headless Chromium: the offline file with the network off, the keyboard alone, a save, a broken save."""
from __future__ import annotations

import struct
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import main
from chassis_describe.placing import places, question
from tests.page.browser import ALT, CTRL, Page, browser, program

pytestmark = [pytest.mark.judge, pytest.mark.skipif(program() is None, reason="no Chromium here")]
CONFIG = Path(__file__).resolve().parents[2] / "config"


@pytest.fixture(scope="module")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    with browser(tmp_path_factory.mktemp("profile")) as page:
        yield page


@pytest.fixture
def tab(chromium: Page, serve: Callable[..., Any]) -> Iterator[Page]:
    """Every test ends with a clean console, and leaves before its server goes. What a browser says of its own drawing is not ours."""
    chromium.console.clear()
    chromium.requests.clear()
    yield chromium
    said_there = [m for m in chromium.console if "GL Driver Message" not in m]
    chromium.call("Page.navigate", url="about:blank")
    assert said_there == []


def said(tab: Page) -> str:
    return str(tab.value("document.getElementById('live').textContent")).replace("\xa0", "")


def focus(tab: Page) -> str:
    return str(tab.value("document.activeElement.id"))


def colours(png: bytes) -> set[bytes]:
    """The colours of an RGB or RGBA picture (PNG, ISO/IEC 15948: filters 0 to 4)."""
    width, height, _, kind = struct.unpack(">IIBB", png[16:26])
    size = {2: 3, 6: 4}[kind]
    data, place = b"", 8
    while place < len(png):
        length, name = struct.unpack(">I4s", png[place:place + 8])
        data += png[place + 8:place + 8 + length] if name == b"IDAT" else b""
        place += 12 + length
    raw, row, found = zlib.decompress(data), bytearray(width * size), set()
    for y in range(height):
        line = bytearray(raw[y * (width * size + 1):(y + 1) * (width * size + 1)])
        method, line = line[0], line[1:]
        for k in range(len(line)):
            a, b, c = line[k - size] if k >= size else 0, row[k], row[k - size] if k >= size else 0
            paeth = min((abs(b - c), 0, a), (abs(a - c), 1, b), (abs(a + b - 2 * c), 2, c))[2]
            line[k] = (line[k] + (0, a, b, (a + b) // 2, paeth)[method]) & 255
        row = line
        found |= {bytes(line[k:k + 3]) for k in range(0, len(line), size)}
    return found


def test_the_offline_page_with_the_network_off(tab: Page, tmp_path: Path) -> None:
    out = tmp_path / "cart.html"
    assert main(["draw", str(CONFIG / "seedling_cart.yaml"), "-o", str(out)]) == 0
    data = out.read_bytes()
    assert main(["draw", str(CONFIG / "seedling_cart.yaml"), "-o", str(out)]) == 0
    assert out.read_bytes() == data  # same input, same bytes
    tab.open(out.as_uri(), offline=True, size=(900, 640))
    assert tab.requests == [out.as_uri()]
    assert tab.value("document.querySelectorAll('#plan .holes circle').length") == 54  # nine by six, as the file says
    assert tab.value("document.querySelectorAll('#parts li').length") == 11
    assert tab.value("document.getElementById('canvas').getContext('webgl') !== null")
    tab.until("document.getElementById('canvas').width > 200")
    assert tab.until("document.getElementById('seen').naturalWidth") > 100  # what its ranger sees, as a picture
    shot = tmp_path / "shot.png"
    tab.call("Emulation.setDeviceMetricsOverride", width=240, height=160, deviceScaleFactor=1, mobile=False)
    tab.value("document.body.replaceChildren(document.getElementById('model')); Object.assign(document.getElementById('model').style, "
              "{position: 'fixed', inset: '0', height: '160px'}); new Promise(r => setTimeout(r, 400))")
    tab.picture(shot)
    assert len(colours(shot.read_bytes())) > 30  # the robot is drawn, not an empty field


def test_the_keyboard_alone(tab: Page, serve: Callable[..., Any], cart: Path) -> None:
    before = cart.read_bytes()
    served = serve(cart)
    tab.open(served.viewer.address)
    tab.until("document.getElementById('findings-title').textContent !== 'the check'")
    assert all(r.startswith(served.viewer.address) for r in tab.requests)
    for _ in range(40):
        tab.key("Tab")
        if focus(tab) == "parts":
            break
    assert focus(tab) == "parts"
    tab.key("Home")
    while tab.value("document.querySelector('#parts [aria-selected=true]')?.dataset.name") != "wheel_left":
        tab.key("ArrowDown")
    tab.key("Enter")
    assert said(tab) == "wheel_left is on a shaft: it stands where motor_left puts it"
    while tab.value("document.querySelector('#parts [aria-selected=true]').dataset.name") != "driver":
        tab.key("ArrowDown")
    tab.key("Enter")
    tab.until("document.querySelectorAll('#plan .fits > *').length > 3 && document.activeElement.id === 'plan'")
    for key in ("ArrowUp", "ArrowLeft", "ArrowDown", "ArrowDown", "ArrowRight", "ArrowUp", "ArrowUp", "ArrowUp", "ArrowDown", "ArrowUp"):
        tab.key(key)
    assert "driver at [4, -0.5]" in said(tab)  # up is forward, left is left: in the end two forward
    tab.until("document.querySelector('#move pre') !== null")
    assert "move driver: 2 holes forward" in tab.value("document.getElementById('move-words').textContent")
    assert cart.read_bytes() == before
    tab.key("Escape")
    assert "nothing was written" in said(tab)
    assert cart.read_bytes() == before
    tab.key("ArrowDown")  # picks it up again
    tab.until("document.querySelector('#plan .ghost') !== null")
    tab.key("r")
    tab.until("document.getElementById('live').textContent.includes('turn 90°')")
    tab.key("Escape")
    tab.key("ArrowDown", ALT)
    tab.until("document.querySelector('#plan .ghost') !== null && document.getElementById('live').textContent.includes('fit here')")
    tab.key("Enter")
    tab.until("!document.getElementById('undo').disabled")
    written = cart.read_bytes()
    assert written != before
    assert sum(a != b for a, b in zip(before.split(b"\n"), written.split(b"\n"))) == 1
    tab.key("z", CTRL)
    tab.until("!document.getElementById('redo').disabled")
    assert cart.read_bytes() == before
    tab.key("y", CTRL)
    tab.until("document.getElementById('redo').disabled")
    assert cart.read_bytes() == written
    tab.value("document.getElementById('canvas').focus()")
    tab.key("ArrowUp")
    tab.key("r")
    assert tab.value("document.querySelector('#plan .ghost')") is None  # keys move parts from plan and list alone
    cart.write_bytes(before + b"# saved by an editor\n")
    tab.until("document.getElementById('status').textContent.includes('another program')")
    assert tab.value("document.getElementById('undo').disabled && document.getElementById('redo').disabled")


def test_the_plan_is_coloured_by_where_the_part_could_go(tab: Page, serve: Callable[..., Any], cart: Path) -> None:
    """As many squares and crosses as `places` has places; B leads to its first place, and a save by another ends it all."""
    robot = cd.assemble(cd.read(str(cart)))
    found = places(robot, question(robot, "driver"), workers=1)
    served = serve(cart)
    tab.open(served.viewer.address)
    tab.until("document.querySelector('#parts li') !== null")
    tab.value("document.getElementById('parts').focus()")
    while tab.value("document.querySelector('#parts [aria-selected=true]')?.dataset.name") != "driver":
        tab.key("ArrowDown")
    before = tab.value("JSON.stringify(document.getElementById('plan').getBoundingClientRect())")
    tab.key("Enter")
    tab.until(f"document.querySelectorAll('#plan .spot').length === {found.tried}")  # they come a few at a time
    assert tab.value("JSON.stringify(document.getElementById('plan').getBoundingClientRect())") == before  # nothing slips from under a click
    assert tab.value("document.querySelectorAll('#plan rect.spot').length") == found.fits
    assert tab.value("document.querySelectorAll('#plan path.spot.refused').length") == found.tried - found.fits
    tab.until(f"document.getElementById('live').textContent.includes('{found.fits} of {found.tried} places')")
    assert tab.value("document.querySelectorAll('#plan-spots svg').length") == 4
    tab.key("b")
    assert "no place is better by shift of the centre of mass, then footprint" in said(tab)
    while "this is the last place" not in said(tab):
        tab.key("b")
    tab.key("r")
    tab.until("document.getElementById('plan-spots').hidden || document.querySelectorAll('#plan .spot').length !== "
              f"{found.tried}")  # of another turn
    cart.write_bytes(cart.read_bytes() + b"# saved by an editor\n")
    tab.until("document.getElementById('plan-spots').hidden && document.querySelectorAll('#plan .spot').length === 0")


def test_saves_and_a_broken_save(tab: Page, serve: Callable[..., Any], cart: Path) -> None:
    served = serve(cart, edit=False)
    tab.open(served.viewer.address)
    text = cart.read_text()
    hole = "[...document.querySelectorAll('#parts li')].find(l => l.dataset.name === 'driver').textContent"
    assert "[2, -0.5]" in tab.value(hole)
    cart.write_text(text.replace("at: [2, -0.5], lift: 5", "at: [3, -0.5], lift: 5"))
    tab.until(f"{hole}.includes('[3, -0.5]')")
    drawn = tab.value("document.querySelectorAll('#plan .part').length")
    cart.write_text(text.replace("lift: 5}", "lyft: 5}", 1))
    line = next(k for k, row in enumerate(text.splitlines(), 1) if "lift: 5}" in row)
    tab.until(f"document.getElementById('trouble').textContent.includes(':{line}:')")
    assert "last good one" in tab.value("document.getElementById('trouble').textContent")
    assert "[3, -0.5]" in tab.value(hole)
    assert tab.value("document.querySelectorAll('#plan .part').length") == drawn
    cart.write_text(text)
    tab.until(f"document.getElementById('trouble').hidden && {hole}.includes('[2, -0.5]')")


def test_clicks_move_the_ghost_and_a_click_in_the_round_only_chooses(tab: Page, serve: Callable[..., Any], cart: Path) -> None:
    before = cart.read_bytes()
    served = serve(cart)
    tab.open(served.viewer.address)
    tab.value("[...document.querySelectorAll('#parts li')].find(l => l.dataset.name === 'driver').click()")
    tab.value("document.getElementById('plan').focus()")
    tab.key("ArrowUp")
    tab.until("document.querySelectorAll('#plan rect.spot').length > 3")
    x, y = tab.value("(() => {const b = [...document.querySelectorAll('#plan rect.spot')].pop().getBoundingClientRect(); "
                     "return [b.x + b.width / 2, b.y + b.height / 2]})()")
    tab.click(x, y)
    tab.until("document.getElementById('live').textContent.includes('fit here')")
    assert cart.read_bytes() == before
    tab.key("Escape")
    box = tab.value("(() => {const b = document.getElementById('canvas').getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2]})()")
    tab.click(*box)
    tab.until("document.querySelector('#parts [aria-selected=true]') !== null")
    assert tab.value("document.querySelector('#plan .ghost')") is None
    assert cart.read_bytes() == before
    name = "!document.getElementById('tip').hidden && document.querySelector('#tip b').textContent"
    chosen = tab.value("document.querySelector('#parts [aria-selected=true]').dataset.name")
    assert tab.until(name) == chosen  # its name is under the pointer
    x, y = tab.value("(() => {const b = [...document.querySelectorAll('#plan [data-part=caster]')].pop().getBoundingClientRect(); "
                     "return [b.x + b.width / 2, b.y + 0.8 * b.height]})()")
    tab.call("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y)
    tab.until(f"({name}) === 'caster'")
