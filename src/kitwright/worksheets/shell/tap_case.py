"""What the tap worksheet takes and what it answers."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kitwright.worksheets.fields import Answer, AnswerPart, Case, Recording, shown
from kitwright.worksheets.shell.modes_case import ModesCase

Pitch = Annotated[float, Field(ge=10, le=100_000, allow_inf_nan=False)]
"""A frequency in Hz."""

Wanted = Literal["Young's modulus", "thickness"]


class TapCase(Case):
    """A recording of a bell that was struck, and what to lay beside it."""

    file: Recording = Field(description="Recording of the taps, WAV")
    against: Recording | None = Field(
        default=None, description="A second recording to compare it with"
    )
    lowest_hz: Annotated[float, Field(ge=10, le=20_000, allow_inf_nan=False)] = Field(
        default=60, description="Look for modes from"
    )
    highest_hz: Pitch | None = Field(default=None, description="Look for modes up to")
    computed: Annotated[list[Pitch], Field(min_length=1, max_length=200)] | None = Field(
        default=None, description="Computed frequencies of this bell, Hz"
    )
    computed_modulus_gpa: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = (
        Field(default=None, description="Young's modulus they were computed with")
    )
    bell: ModesCase | None = Field(
        default=None,
        description="Or this bell's design, a case of the worksheet modes",
        json_schema_extra={"as_text": True},
    )
    find: Wanted = Field(default="Young's modulus", description="Of the wall, find")


class TapMode(AnswerPart):
    """One mode of the bell."""

    frequency_hz: float = shown("Frequency", u95="frequency_u95_hz")
    frequency_u95_hz: float
    decay_s: float = shown("Falls 60 dB in", u95="decay_u95_s")
    decay_u95_s: float
    loss_factor: float = Field(description="Loss factor")
    level_db: float = Field(description="Level")
    """Against the loudest mode, at the strike."""
    computed_hz: float | None = Field(default=None, description="Computed")
    off_percent: float | None = Field(default=None, description="Heard over computed, %")


class ComparedMode(AnswerPart):
    """A mode in both recordings, or in one of them."""

    frequency_hz: float | None = Field(default=None, description="Here")
    against_hz: float | None = Field(default=None, description="There")
    pitch: str = Field(description="Pitch")
    """What is told of the two, with the uncertainty of both."""
    decay_s: float | None = Field(default=None, description="Falls 60 dB in")
    against_decay_s: float | None = Field(default=None, description="There in")
    decay: str = Field(description="Decay")


class AgainstAnswer(AnswerPart):
    """The second recording as a whole."""

    ring_s: float = shown("whole ring falls 60 dB in", u95="ring_u95_s")
    ring_u95_s: float
    ring_weighted_s: float = shown("as the ear hears it", u95="ring_weighted_u95_s")
    ring_weighted_u95_s: float
    taps: int = Field(description="taps used")
    pitch_percent: float | None = Field(default=None, description="pitch of this one over it, %")
    """Mean over the modes in both."""


class WallAnswer(AnswerPart):
    """The figure of the wall with which the computed modes fit the heard ones best."""

    changed: Wanted = Field(description="changed")
    ratio: float = shown("over what was computed with", u95="ratio_u95")
    ratio_u95: float | None = None
    modulus_gpa: float | None = shown("modulus", u95="modulus_u95_gpa", optional=True, default=None)
    modulus_u95_gpa: float | None = None
    wall_mm: float | None = shown("thickness", u95="wall_u95_mm", optional=True, default=None)
    wall_u95_mm: float | None = None
    pairs: int = Field(description="modes paired")
    rms_before_percent: float = Field(description="computed pitches off by, %")
    rms_after_percent: float = Field(description="with this, %")


class SpectrogramAnswer(AnswerPart):
    """Loudness over time and pitch, for the picture."""

    rows: list[str]
    """From the lowest band up; a digit a column, 9 loudest, each less by `step_db`."""
    step_db: float
    lowest_hz: float
    highest_hz: float
    seconds: float


class TapAnswer(Answer):
    """The modes of the bell that was struck."""

    ring_s: float = shown("Whole ring falls 60 dB in", u95="ring_u95_s")
    ring_u95_s: float
    ring_weighted_s: float = shown("As the ear hears it", u95="ring_weighted_u95_s")
    ring_weighted_u95_s: float
    ring_followed_db: float = Field(description="Of 60 dB, followed in the recording")
    taps: int = Field(description="Taps used")
    lowest_mode_hz: float = Field(description="Lowest mode")
    loudest_mode_hz: float = Field(description="Loudest mode")
    recorded_s: float = Field(description="Recording lasts")
    sample_rate: int = Field(description="Samples a second")
    noise_db: float = Field(description="Noise beneath the loudest mode")
    modes: list[TapMode] = Field(description="Modes")
    wall: WallAnswer | None = shown("Wall", optional=True, default=None)
    against: AgainstAnswer | None = shown("Second recording", optional=True, default=None)
    compared: list[ComparedMode] = shown("Both recordings", optional=True)
    notes: list[str] = shown("Notes", optional=True)
    strikes_s: list[float] = Field(description="Struck at")
    spectrogram: SpectrogramAnswer = shown("Spectrogram", hidden=True)
