"""The target: the same way round, to scale, and every label clear."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitwright.errors import InputError
from kitwright.pictures.foot import scale_bar
from kitwright.pictures.palette import DAY, NIGHT, PAGE, PRINT
from kitwright.pictures.target import CENTRE, LABELLED, RIM, Mark, Region, Ring, limit_words, target

LIMIT = 0.127  # 5 thou


def bore(x: float, y: float, **more: Any) -> Mark:
    return Mark(x_mm=x, y_mm=y, label="bore centre", **more)


def disc_of(drawn: Any, index: int = 0) -> tuple[float, float, float]:
    """Centre and radius of a mark: marks are the groups that carry a title."""
    groups = [g for g in drawn.all("g") if g.find("{*}title") is not None]
    circle = groups[index].find("{*}circle")
    return float(circle.get("cx")), float(circle.get("cy")), float(circle.get("r"))


def limit_radius(drawn: Any) -> float:
    (circle,) = (c for c in drawn.all("circle") if c.get("stroke-width") == "1.8"
                 and (float(c.get("cx")), float(c.get("cy"))) == CENTRE)  # fmt: skip
    return float(circle.get("r"))


def bar_of(drawn: Any) -> tuple[float, str]:
    """Length of the scale bar and its words: the last path and the last text."""
    first, last = drawn.all("path")[-1].get("d").split("M")[1].split("L")
    return float(last.split()[0]) - float(first.split()[0]), drawn.words()[-1]


def arrow_of(drawn: Any, palette: Any = DAY) -> tuple[complex, complex]:
    """Tail and tip of the brass arrow."""
    shaft = next(e for e in drawn.all("line") if e.get("stroke") == palette.brass)
    head = next(e for e in drawn.all("polygon") if e.get("fill") == palette.brass)
    x, y = head.get("points").split()[0].split(",")
    return complex(float(shaft.get("x1")), float(shaft.get("y1"))), complex(float(x), float(y))


# Clock angles run clockwise from 12 as seen from behind the engine; +x right, +y up: the axes
# of docs/conventions.md. 12, 3, 6 and 9 o'clock lie up, right, down and left on the page.
@pytest.mark.parametrize(
    ("clock", "way"), [(0, (0, -1)), (90, (1, 0)), (180, (0, 1)), (270, (-1, 0))]
)
def test_a_clock_angle_lies_where_the_clock_has_it(
    read_back: Any, clock: int, way: tuple[int, int]
) -> None:
    x, y = 0.05 * math.sin(math.radians(clock)), 0.05 * math.cos(math.radians(clock))
    drawn = read_back(target(limit_tir_mm=LIMIT, marks=[bore(x, y)], palette=DAY, title="t"))
    cx, cy, _ = disc_of(drawn)
    away = math.hypot(cx - CENTRE[0], cy - CENTRE[1])
    assert away > 20
    assert (cx - CENTRE[0]) / away == pytest.approx(way[0], abs=1e-3)
    assert (cy - CENTRE[1]) / away == pytest.approx(way[1], abs=1e-3)
    hours = {"12": (0, -1), "3": (1, 0), "6": (0, 1), "9": (-1, 0)}
    for label in drawn.labels:
        if label.words in hours:
            left, top, right, bottom = label.box
            at = ((left + right) / 2 - CENTRE[0], (top + bottom) / 2 - CENTRE[1])
            along = at[0] * hours[label.words][0] + at[1] * hours[label.words][1]
            assert along > RIM
            assert math.hypot(*at) - along < 2


# The limit's radius is half its TIR: a bore off by e reads 2e round the clock (common practice,
# no source).
@pytest.mark.parametrize("lead", ["mm", "in"])
@pytest.mark.parametrize("limit", [0.05, 0.127, 0.2, 1.3])
@pytest.mark.parametrize("off", [0.0, 0.3, 3.0])
def test_the_limit_is_to_scale(read_back: Any, lead: Any, limit: float, off: float) -> None:
    svg = target(
        limit_tir_mm=limit, marks=[bore(off * limit, 0)], lead=lead, palette=DAY, title="t"
    )
    drawn = read_back(svg)
    length, words = bar_of(drawn)
    size, unit = words.split()
    bar_mm = float(size) * {"mm": 1, "thou": 0.0254, "in": 25.4}[unit]
    assert unit in (("thou", "in") if lead == "in" else ("mm",))
    assert limit_radius(drawn) / length == pytest.approx(limit / 2 / bar_mm, rel=3e-3)
    assert 20 <= length <= 76.1
    assert limit_radius(drawn) >= 16 - 0.01
    assert any(label.startswith("limit") for label in drawn.words())


@given(per_mm=st.floats(1e-4, 1e7), lead=st.sampled_from(["mm", "in"]))
def test_a_scale_bar_is_a_round_length_that_fits(per_mm: float, lead: Any) -> None:
    bar = scale_bar(per_mm, lead)
    size, unit = bar.words.split()
    mm = float(size) * {"mm": 1, "thou": 0.0254, "in": 25.4}[unit]
    assert mm * per_mm == pytest.approx(bar.length)
    assert 76 / 2.5 - 1e-6 <= bar.length <= 76 * (1 + 1e-9)
    assert f"{float(size):e}"[0] in "125"


@pytest.mark.parametrize(
    ("x", "y"), [(0.12, 0.03), (-0.1108, -0.0445), (0, 0.2), (0.01, -0.05), (0.004, 0.003)]
)
def test_the_arrow_points_where_the_bell_must_go(read_back: Any, x: float, y: float) -> None:
    svg = target(
        limit_tir_mm=LIMIT, marks=[bore(x, y)], move=(-x, -y), lead="in", palette=DAY, title="t"
    )
    drawn = read_back(svg)
    tail, tip = arrow_of(drawn)
    assert abs(tip - complex(*CENTRE)) < 0.02  # the crank axis
    cx, cy, radius = disc_of(drawn)
    whole = complex(*CENTRE) - complex(cx, cy)
    assert abs((tip - tail) / whole - abs((tip - tail) / whole)) < 2e-2  # along the move
    assert abs(tail - complex(cx, cy)) < radius + 5
    thou = f"{math.hypot(x, y) / 0.0254:.1f}".removesuffix(".0") + " thou"
    assert [word for word in drawn.words() if thou in word]
    assert "Move the bell" in drawn.root.findtext("{*}desc")


def test_a_move_that_is_not_to_the_axis_is_drawn_to_scale(read_back: Any) -> None:
    svg = target(
        limit_tir_mm=LIMIT, marks=[bore(-0.1, 0.02)], move=(0.07, 0.05), palette=DAY, title="t"
    )
    drawn = read_back(svg)
    _, tip = arrow_of(drawn)
    per_mm = limit_radius(drawn) / (LIMIT / 2)
    assert (tip.real - CENTRE[0]) / per_mm == pytest.approx(-0.03, abs=2e-4)
    assert (CENTRE[1] - tip.imag) / per_mm == pytest.approx(0.07, abs=2e-4)


def test_uncertainty_is_a_circle_to_scale(read_back: Any) -> None:
    svg = target(limit_tir_mm=LIMIT, marks=[bore(0.05, 0, u95_mm=0.02)], palette=DAY, title="t")
    drawn = read_back(svg)
    cx, cy, _ = disc_of(drawn)
    around = [
        float(c.get("r"))
        for c in drawn.all("circle")
        if (float(c.get("cx")), float(c.get("cy"))) == (cx, cy) and c.get("stroke-width") == "0.9"
    ]
    assert around == [pytest.approx(limit_radius(drawn) * 0.02 / (LIMIT / 2), abs=0.02)]


def test_a_bore_far_away_is_shown_at_the_rim(read_back: Any) -> None:
    far = 100 * LIMIT / 2
    svg = target(
        limit_tir_mm=LIMIT,
        marks=[bore(far * 0.6, far * 0.8, verdict="outside")],
        move=(-far * 0.6, -far * 0.8),
        palette=DAY,
        title="t",
    )
    drawn = read_back(svg)
    assert limit_radius(drawn) >= 16 - 0.01
    assert "bore centre, 6.35 mm off" in drawn.words()
    tail, tip = arrow_of(drawn)
    assert abs(tip - complex(*CENTRE)) < 0.02
    assert RIM - 30 < abs(tail - complex(*CENTRE)) < RIM
    drawn.check_clear()
    near = target(limit_tir_mm=LIMIT, marks=[bore(0.1, 0.1)], palette=DAY, title="t")
    assert "off" not in " ".join(read_back(near).words())


def test_a_region_is_the_ellipse_of_its_covariance() -> None:
    """On its outline the Mahalanobis distance is constant: 5.991 for 95 % in two directions
    (chi square with 2 degrees of freedom, -2 ln 0.05)."""
    xx, xy, yy = 0.0009, 0.0003, 0.0004
    region = Region(x_mm=0.01, y_mm=-0.02, covariance_mm2=(xx, xy, yy))
    for x, y in region.outline_mm():
        a, b = x - 0.01, y + 0.02
        square = (yy * a * a - 2 * xy * a * b + xx * b * b) / (xx * yy - xy * xy)
        assert square == pytest.approx(5.991, abs=5e-4)


def test_verdicts_have_shapes_and_words(read_back: Any) -> None:
    marks = [
        Mark(x_mm=0.01 * n, y_mm=0, label=f"K{n}", verdict=verdict)
        for n, verdict in enumerate(("within", "outside", "too close to call"))
    ]
    drawn = read_back(target(limit_tir_mm=LIMIT, marks=marks, palette=PRINT, title="t"))
    shapes = {}
    for group in drawn.all("g"):
        title = group.findtext("{*}title")
        if title:
            circle, hatch = group.find("{*}circle"), group.find("{*}path")
            shapes[title.rpartition(", ")[2]] = (circle.get("fill"), hatch is not None)
    assert shapes == {
        "within": ("#000000", False),
        "outside": ("#ffffff", False),
        "too close to call": ("#ffffff", True),
    }
    assert {"within", "outside", "too close to call"} <= set(drawn.words())


def test_a_batch_shows_serials_on_demand(read_back: Any) -> None:
    marks = [
        Mark(x_mm=0.002 * n, y_mm=0.001 * n, label=f"K{n:04d}", verdict="within") for n in range(20)
    ]
    drawn = read_back(target(limit_tir_mm=LIMIT, marks=marks, palette=DAY, title="t"))
    titles = [group.findtext("{*}title") for group in drawn.all("g")]
    assert [title for title in titles if title and title.startswith("K0007: ")]
    assert not [word for word in drawn.words() if word.startswith("K0")]
    assert "within: 20" in drawn.words()


def test_marks_in_one_place_tell_all_their_serials(read_back: Any) -> None:
    marks = [Mark(x_mm=0.01, y_mm=0.01, label=name) for name in ("K1", "K2", "K3")]
    drawn = read_back(target(limit_tir_mm=LIMIT, marks=marks, palette=DAY, title="t"))
    top = [group.findtext("{*}title") for group in drawn.all("g")][-1]
    assert [line.partition(":")[0] for line in top.splitlines()] == ["K1", "K2", "K3"]
    assert sorted(set(drawn.words()) & {"K1", "K2", "K3"}) == ["K1", "K2", "K3"]
    drawn.check_clear()


def test_rings_are_named_and_the_note_is_written_once(read_back: Any) -> None:
    rings = [Ring(chance=c, radius_mm=r) for c, r in ((0.5, 0.03), (0.9, 0.055), (0.99, 0.078))]
    svg = target(
        limit_tir_mm=LIMIT, rings=rings, note="3.9 % outside the limit", palette=DAY, title="t"
    )
    drawn = read_back(svg)
    words = drawn.words()
    assert [words.count(w) for w in ("50 %", "90 %", "99 %", "3.9 % outside the limit")] == [1] * 4
    drawn.check_clear()


places = st.tuples(
    st.floats(0, 2 * math.pi), st.sampled_from([0.0, 0.02, 0.3, 0.8, 1.0, 1.2, 3, 9, 40, 100])
)
names = st.sampled_from(
    ["", "bore centre", "as it is", "after", "K0142", "A bell with a long name"]
)
verdicts = st.sampled_from([None, "within", "outside", "too close to call"])


@st.composite
def targets(draw: st.DrawFn) -> dict[str, Any]:
    limit = draw(st.sampled_from([None, 0.05, 0.127, 0.3]))
    unit = (limit or 0.1) / 2
    count = draw(st.sampled_from([0, 1, 1, 1, 2, 3, 4, 12, 40]))
    marks = []
    for _ in range(count):
        angle, away = draw(places)
        known = draw(st.sampled_from([None, 0.05, 0.3, 2.0]))
        marks.append(
            Mark(
                x_mm=unit * away * math.sin(angle),
                y_mm=unit * away * math.cos(angle),
                u95_mm=None if known is None or count > LABELLED else unit * known,
                label=draw(names),
                verdict=draw(verdicts),
            )
        )
    move = None
    if marks and draw(st.booleans()):
        move = (-marks[0].x_mm, -marks[0].y_mm)
        if draw(st.booleans()):
            move = (0.7 * move[0] + unit * 0.3, 0.8 * move[1])
    radii = draw(st.lists(st.floats(0.01, 12), max_size=3))
    rings = [
        Ring(chance=chance, radius_mm=unit * radius)
        for chance, radius in zip((0.5, 0.9, 0.99), sorted(radii), strict=False)
    ]
    regions = []
    if draw(st.booleans()):
        a, b, c = draw(st.floats(0.01, 2)), draw(st.floats(0.01, 2)), draw(st.floats(-0.9, 0.9))
        covariance = ((a * unit) ** 2, c * a * b * unit**2, (b * unit) ** 2)
        regions = [Region(x_mm=0, y_mm=0.2 * unit, covariance_mm2=covariance, label="95 %, all")]
    return {
        "limit_tir_mm": limit,
        "marks": marks,
        "move": move,
        "rings": rings,
        "regions": regions,
        "note": draw(st.sampled_from(["", "2.1 % outside", "A long note. " * 12])),
        "lead": draw(st.sampled_from(["mm", "in"])),
    }


@settings(max_examples=300)
@given(asked=targets())
def test_labels_stand_clear_of_everything(read_back: Any, asked: dict[str, Any]) -> None:
    drawn = read_back(target(**asked, palette=DAY, title="t"))
    drawn.check_clear()
    words = " ".join(drawn.words())
    if asked["limit_tir_mm"] is not None:
        assert words.count(limit_words(asked["limit_tir_mm"], asked["lead"])) == 1
    for ring in asked["rings"]:
        assert drawn.words().count(f"{100 * ring.chance:g} %") == 1


def test_five_hundred_marks(read_back: Any) -> None:
    marks = [
        Mark(
            x_mm=0.0011 * n * math.sin(2.4 * n) / 3,
            y_mm=0.0011 * n * math.cos(2.4 * n) / 3,
            label=f"K{n:04d}",
            verdict=("within", "outside", "too close to call")[n % 3],  # type: ignore[arg-type]
        )
        for n in range(500)
    ]
    drawn = read_back(target(limit_tir_mm=LIMIT, marks=marks, palette=DAY, title="t"))
    drawn.check_clear()
    assert len([g for g in drawn.all("g") if g.find("{*}title") is not None]) == 500
    assert "limit 0.127 mm TIR" in drawn.words()


def test_the_check_of_clearance_sees_a_breach(read_back: Any) -> None:
    svg = target(limit_tir_mm=LIMIT, marks=[bore(0, 0)], palette=DAY, title="t")
    at = f'x="{CENTRE[0]:g}" y="{CENTRE[1]:g}"'
    with pytest.raises(AssertionError):
        read_back(
            svg.replace("</svg>", f'<text {at} font-size="14">over</text></svg>')
        ).check_clear()


HOSTILE = "</title><script>alert(1)</script>&\"'\x00\x1b]0;\ud800 <b>\u202e"


def test_hostile_text_stays_text(read_back: Any) -> None:
    svg = target(
        limit_tir_mm=LIMIT,
        marks=[Mark(x_mm=0.02, y_mm=0.01, label=HOSTILE)],
        regions=[Region(x_mm=0, y_mm=0, covariance_mm2=(1e-3, 0, 1e-3), label=HOSTILE)],
        note=HOSTILE,
        palette=DAY,
        title=HOSTILE,
    )
    drawn = read_back(svg)
    assert not drawn.all("script")
    assert not drawn.all("b")
    assert drawn.root.findtext("{*}title").startswith("</title><script>alert(1)</script>&\"'")
    assert not set(svg) & {"\x00", "\x1b", "\ud800"}


def test_the_same_input_gives_the_same_bytes() -> None:
    asked: dict[str, Any] = {
        "limit_tir_mm": LIMIT,
        "marks": [bore(0.1, 0.03, u95_mm=0.01)],
        "move": (-0.1, -0.03),
        "title": "t",
    }
    assert target(**asked) == target(**asked)
    # A palette changes colours and nothing else.
    drawn = target(**asked, palette=DAY)
    for field in DAY.__dataclass_fields__:
        drawn = drawn.replace(f'"{getattr(DAY, field)}"', f'"{getattr(NIGHT, field)}"')
    assert drawn == target(**asked, palette=NIGHT)


@pytest.mark.parametrize("palette", [DAY, NIGHT, PRINT])
def test_the_pdf_maker_gets_plain_colours(palette: Any) -> None:
    svg = target(
        limit_tir_mm=LIMIT, marks=[bore(0.1, 0)], move=(-0.1, 0), palette=palette, title="t"
    )
    assert not [
        word for word in ("var(", "currentColor", "<style", " style=", " id=") if word in svg
    ]
    assert "var(--brass)" in target(
        limit_tir_mm=LIMIT, marks=[bore(0.1, 0)], move=(-0.1, 0), palette=PAGE, title="t"
    )


def test_it_says_what_it_shows(read_back: Any) -> None:
    svg = target(
        limit_tir_mm=LIMIT,
        marks=[bore(-0.1108, -0.0445, verdict="outside")],
        move=(0.1108, 0.0445),
        lead="in",
        title="Bell K0142",
    )
    root = read_back(svg).root
    assert root.get("role") == "img"
    assert root[0].text == "Bell K0142"
    assert root[1].text == (
        "Seen from behind the engine, 12 o'clock up; the crank axis is the cross at the centre. "
        "The circle is the limit 5 thou TIR. "
        "bore centre: 4.7 thou off at half past 8, outside. "
        "Move the bell 4.7 thou toward half past 2."
    )


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"limit_tir_mm": math.nan}, "limit"),
        ({"limit_tir_mm": -1.0}, "limit: -1 is negative"),
        ({"limit_tir_mm": 1.0, "marks": [bore(math.inf, 0)]}, r"marks\[0\]"),
        ({"limit_tir_mm": 1.0, "marks": [bore(0, 0, u95_mm=-1)]}, r"marks\[0\].u95"),
        ({"limit_tir_mm": 1.0, "move": (1.0, 0.0)}, "move: there is no mark"),
        ({"limit_tir_mm": 1.0, "rings": [Ring(chance=0.5, radius_mm=-1)]}, r"rings\[0\]"),
        (
            {
                "limit_tir_mm": 1.0,
                "regions": [Region(x_mm=0, y_mm=0, covariance_mm2=(1, 0, 1), chance=1)],
            },
            "chance 1",
        ),
    ],
)
def test_what_cannot_be_drawn_is_refused(asked: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        target(**asked, title="t")
