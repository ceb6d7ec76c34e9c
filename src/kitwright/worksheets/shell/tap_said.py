"""The tap worksheet in words: its sentence, its notes, how to do it, its example."""

from __future__ import annotations

from typing import Final

from kitwright.units import Lead, plain, say_length
from kitwright.worksheets.declaration import Caution
from kitwright.worksheets.shell.tap_case import TapAnswer, WallAnswer

CAUTIONS: Final = (
    Caution(
        "WARNING",
        "A bell is heavy and its edges are sharp. Hang it from something that carries it several "
        "times over, low over a bench, and keep hands and feet from under it.",
    ),
    Caution(
        "CAUTION",
        "A ring says nothing of strength. A clear one does not prove a bell sound; look for cracks "
        "as the maker and the rule book say.",
    ),
)

STEPS: Final = (
    (
        "Hang the bell by two or three thin cords through bolt holes spread round the block face, "
        "that face up, so that it touches nothing else. What touches it damps it."
    ),
    (
        "Strike it on the wall, half way up and away from ribs, with something small and hard "
        "held loosely: a socket on its extension, the ball of a small hammer. One clean tap; let "
        "it bounce off."
    ),
    (
        "Hold the phone a hand's length from the wall, not where you strike. Wait until you hear "
        "nothing before you tap again: three to six taps, some of them a quarter of the way round."
    ),
    (
        "Keep it quiet, and not so loud that the recording clips. Record WAV, uncompressed: what "
        "phones make by themselves (M4A, MP3) leaves out what a decay is read from."
    ),
)

HOW: Final = (
    "From each strike to the next, damped tones are fitted to the spectrum of the record, all "
    "together; a matrix pencil in narrow bands finds them, so that near pairs come apart. "
    "Frequency and decay are shared by all taps, loudness is not. Uncertainties (k = 2) come from "
    "what the fit leaves, and from how much the taps differ where that is more. The whole ring is "
    "the sum of the modes' energies; its ± holds too how much the taps' own times differ. Where it "
    "sinks into the noise, their decays carry on."
)

SOURCES: Final = (
    (
        "Matrix pencil: Y. Hua, T. K. Sarkar, IEEE Trans. Acoust. Speech Signal Process. 38 (1990) "
        "814-824"
    ),
    (
        "Least error of a damped tone: Y.-X. Yao, S. M. Pandit, IEEE Trans. Signal Process. 43 "
        "(1995) 878-885"
    ),
    "Variable projection: G. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432",
    "A-weighting: IEC 61672-1:2013 (from memory)",
    (
        "Loss factor = 2.2 / (frequency x time to fall 60 dB): L. Cremer, M. Heckl, E. E. Ungar, "
        "Structure-Borne Sound (from memory)"
    ),
)

EXAMPLE: Final = """
# What did this bell do when it was struck?
# A WAV file, named from where this case lies. On the page you choose it or record it there.
# "example" is a recording that Kitwright makes: three taps of an invented aluminium bell.
file = "example"
# against = "after-machining.wav"   # a second recording, to compare

lowest_hz = 100                     # look for modes from here
highest_hz = 8000                   # to here

# What was computed for this bell, in Hz, and with which Young's modulus: the answer says with
# which modulus the computed modes would fit those heard.
computed = [326.0, 327.4, 577, 903, 905.5, 1320, 1742, 2790]
computed_modulus_gpa = 72.4
"""


def say(answer: TapAnswer, lead: Lead) -> str:
    """What someone who listened would say."""
    lowest, loudest = hertz(answer.lowest_mode_hz), hertz(answer.loudest_mode_hz)
    where = f"at {lowest}" if lowest == loudest else f"from {lowest} up, loudest at {loudest}"
    said = f"It rings {where}; the whole ring falls 60 dB in {seconds(answer.ring_s)}"
    if abs(answer.ring_weighted_s / answer.ring_s - 1) > 0.1:
        said += f", to the ear in {seconds(answer.ring_weighted_s)}"
    said += "."
    if answer.wall is not None:
        said += f" {say_wall(answer.wall, lead)}"
    if answer.against is not None:
        ratio = answer.ring_s / answer.against.ring_s
        length = "as long as" if 0.97 < ratio < 1.03 else f"{ratio:.2g} times as long as"
        said += f" It rings {length} the second recording"
        if answer.against.pitch_percent is not None:
            said += f" and {_pitch(answer.against.pitch_percent)}"
        said += "."
    return said


def _pitch(percent: float) -> str:
    if abs(percent) < 0.05:
        return "at the same pitch"
    return f"{abs(percent):.2g} % {'higher' if percent > 0 else 'lower'}"


def say_wall(wall: WallAnswer, lead: Lead) -> str:
    """With which figure of the wall the computed modes fit."""
    if wall.wall_mm is not None:
        value = f"a wall {say_length(wall.wall_mm, lead=lead)} thick"
    elif wall.modulus_gpa is not None:
        value = f"a Young's modulus of {wall.modulus_gpa:.3g} GPa"
    else:
        value = f"{wall.ratio:.3g} times the Young's modulus"
    return f"The computed modes fit best with {value}."


def hertz(value: float) -> str:
    """A pitch as it is said.

    >>> hertz(142.53), hertz(1704.6)
    ('143 Hz', '1705 Hz')
    """
    return f"{round(value)} Hz"


def seconds(value: float) -> str:
    """A time as it is said.

    >>> seconds(0.0834), seconds(2.345)
    ('0.083 s', '2.3 s')
    """
    return f"{plain(value, 1 if value >= 1 else 2 if value >= 0.1 else 3)} s"
