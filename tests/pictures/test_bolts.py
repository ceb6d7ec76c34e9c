"""The bolts of a face: to one scale, each with its number in the order of tightening."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from kitwright.calc.centring.crosswise import crosswise
from kitwright.demo.workshop import BLOCK_PATTERN
from kitwright.errors import InputError
from kitwright.pictures.bolts import Bolt, bolt_order
from kitwright.pictures.palette import DAY

BLOCK = [
    Bolt(x_mm=hole.x_mm, y_mm=hole.y_mm, dowel=hole.name.startswith("dowel"))
    for hole in BLOCK_PATTERN
]


def test_bolts_lie_to_scale_and_are_numbered_in_order(read_back: Any) -> None:
    drawn = read_back(bolt_order(BLOCK, title="t", palette=DAY))
    rings = [each for each in drawn.all("circle") if each.get("stroke-width") == "1.8"]
    bolts = [(bolt.x_mm, bolt.y_mm) for bolt in BLOCK if not bolt.dowel]
    order = crosswise(bolts)
    places = np.array([[float(ring.get("cx")), float(ring.get("cy"))] for ring in rings])
    wanted = np.array([bolts[index] for index in order]) * [1, -1]
    # a single scale and no turning: the drawing is the pattern, moved and made larger or smaller
    scale = np.ptp(places[:, 0]) / np.ptp(wanted[:, 0])
    np.testing.assert_allclose(
        places - places.mean(axis=0), (wanted - wanted.mean(axis=0)) * scale, atol=0.05
    )
    assert drawn.words()[: len(bolts)] == [str(number + 1) for number in range(len(bolts))]
    for ring in rings:  # all of it inside the drawing
        assert float(ring.get("cx")) - float(ring.get("r")) > 0
        assert float(ring.get("cx")) + float(ring.get("r")) < 400


def test_close_bolts_do_not_cover_each_other(read_back: Any) -> None:
    close = [Bolt(x_mm=x, y_mm=y) for x in (-100.0, -80.0, 80.0, 100.0) for y in (-90.0, 90.0)]
    drawn = read_back(bolt_order(close, title="t", palette=DAY))
    rings = [each for each in drawn.all("circle") if each.get("stroke-width") == "1.8"]
    places = np.array([[float(ring.get("cx")), float(ring.get("cy"))] for ring in rings])
    apart = np.hypot(*(places[:, None] - places[None]).T)
    assert np.min(apart[apart > 0]) > 2 * float(rings[0].get("r"))


def test_a_face_without_bolts_is_refused() -> None:
    with pytest.raises(InputError, match="no bolt among them"):
        bolt_order([bolt for bolt in BLOCK if bolt.dowel], title="t")
