"""The bare plate as a closed solid in millimetres, for printing (binary STL)."""
from __future__ import annotations

import numpy as np

from chassis_describe.drawings.paper import MARK
from chassis_describe.drawings.plate_view import PlateView
from chassis_describe.space.plate.mesh import stl as write_stl
from chassis_describe.space.plate.sunk_mesh import sunk_mesh


def stl(view: PlateView, under: bool) -> bytes:
    """x to the right, y to the deck's front, z up from the print bed; ``under``: turned over left to right, top face down."""
    metres = sunk_mesh(view.plate, view.cone)
    x, y, z = metres[..., 0], metres[..., 1], metres[..., 2]
    turned = (y, x, -z) if under else (-y, x, z + float(np.float32(view.plate.thickness)))
    return write_stl(np.stack(turned, axis=-1) * 1e3, f"{MARK}, millimetres")
