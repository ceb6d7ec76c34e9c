"""The stages of a fit-up once the bell sits right: clutch, release gap, pilot, gearbox, result."""

from __future__ import annotations

from typing import Final

from kitwright.shop.fitup_stage import DUST, FIGURE, NO_DRAWING, NO_HANGING, PASSES, Field, Stage
from kitwright.worksheets.centring.cautions import BY_HAND, MAKERS, STANDS
from kitwright.worksheets.depth.release_gap_said import BOTH_WAYS, FLUID

ASSEMBLY: Final = (
    Stage(
        name="clutch",
        title="Clutch",
        needed=(
            "flywheel bolts, clutch and its bolts, all as their makers say",
            "an alignment tool that fits disc and pilot bearing",
        ),
        why="A disc off the middle keeps the shaft out, and a cocked cover shudders for good.",
        do=(
            "Flywheel and pilot bearing in, bolts to the maker's figure.",
            "Wipe flywheel and cover free of oil. Disc the right way round: read its mark.",
            "Tool through disc and pilot bearing.",
            "Cover bolts crosswise, a turn at a time, to the maker's figure.",
            "Draw the tool: it must slide by hand. The finger tips stand level.",
        ),
        stop_and_call=(
            "the hub of the disc touches the flywheel's bolts",
            "the finger tips do not stand level",
            "the tool is stuck",
        ),
        cautions=(DUST, BY_HAND),
        fields=(
            Field(
                name="disc",
                label="Disc the right way round, its hub clear of the bolts",
                kind="check",
                needed=True,
            ),
            Field(
                name="slides",
                label="The alignment tool slides by hand",
                kind="check",
                needed=True,
            ),
            FIGURE,
        ),
    ),
    Stage(
        name="gap",
        title="Release gap",
        shows="gap",
        needed=(
            "a depth gauge and a straightedge whose thickness you know",
            "the release bearing on the gearbox, pushed fully back, not yet bled",
            "shims for behind the bearing",
        ),
        why=(
            "Too little gap and the clutch slips when it wears. Too much and the bearing runs past "
            "its stroke."
        ),
        do=(
            "From the bell's gearbox face forward to the finger tips: measure at three fingers.",
            "From the gearbox's face to the bearing's face: measure at three places.",
            "Both square to the face. Say how thick the straightedge was and what lay over it.",
        ),
        stop_and_call=(
            "the gap is outside with every shim at hand",
            "readings at one finger differ by more than the dial of your gauge shows",
        ),
        cautions=(BOTH_WAYS, FLUID),
        fields=(
            Field(
                name="face_to_fingers",
                label="Bell's face to finger tips",
                kind="lengths",
                needed=True,
                most=3,
            ),
            Field(
                name="face_to_bearing",
                label="Gearbox face to bearing's face",
                kind="lengths",
                needed=True,
                most=3,
            ),
            Field(
                name="straightedge",
                label="Thickness of the straightedge",
                kind="length",
                help="Left empty: none was used.",
            ),
            Field(
                name="over",
                label="Measured over it, so too short by its thickness",
                kind="choice",
                options=(
                    ("face_to_fingers", "to the fingers"),
                    ("face_to_bearing", "to the bearing"),
                    ("both", "both"),
                ),
            ),
            Field(
                name="shims",
                label="Shims at hand",
                kind="lengths",
                most=3,
                help="The thickness of each.",
            ),
        ),
    ),
    Stage(
        name="pilot",
        title="Pilot engagement",
        shows="pilot",
        needed=("a depth gauge", "the figure of the gearbox's or the bearing's maker"),
        why="The shaft's tip must run in the pilot bearing, and must not touch behind it.",
        do=(
            "From the bell's gearbox face forward to the rear of the pilot bearing.",
            "From the same face forward to the bottom of the hole in the crank.",
            "From the gearbox's face to the tip of its shaft.",
        ),
        stop_and_call=(
            "the tip does not reach into the bearing, or touches the bottom",
            "the bearing was made for another shaft",
        ),
        cautions=(MAKERS,),
        fields=(
            Field(
                name="face_to_pilot",
                label="Bell's face to pilot bearing",
                kind="length",
                needed=True,
            ),
            Field(
                name="face_to_bottom",
                label="Bell's face to the bottom of the hole",
                kind="length",
                needed=True,
            ),
            Field(
                name="face_to_tip",
                label="Gearbox face to the shaft's tip",
                kind="length",
                needed=True,
            ),
            Field(
                name="least",
                label="Least engagement, by the maker",
                kind="length",
                help="Left empty: it is only seen whether the tip reaches in.",
            ),
        ),
    ),
    Stage(
        name="gearbox-on",
        title="Gearbox on",
        bolts="gearbox",
        needed=("the jack made for gearboxes", "the gearbox's bolts, in by hand first"),
        why="A gearbox that goes home by hand is in line. One that is drawn in is not.",
        do=(
            "Raise it level and in line; engage a gear and turn the output to find the splines.",
            "Slide it home by hand until the faces meet all round.",
            "Every bolt in by hand, then snug in the order drawn. Mount and crossmember in.",
            "Out of gear again. Turn the crank by hand, two full turns.",
        ),
        stop_and_call=(
            "it stops short of the face and does not go by hand",
            "the crank turns harder than before",
        ),
        cautions=(NO_HANGING, NO_DRAWING, BY_HAND),
        fields=(
            Field(
                name="by_hand",
                label="It went home by hand, faces met all round",
                kind="check",
                needed=True,
            ),
            Field(
                name="turns",
                label="The crank turns by hand as freely as before",
                kind="check",
                needed=True,
            ),
        ),
    ),
    Stage(
        name="final",
        title="Final torque",
        bolts="gearbox",
        needed=("a torque wrench, and the makers' figures",),
        why="Last, in order, all of them: what was snug on the stands works loose on the road.",
        do=(
            "Gearbox to bell in the order drawn, by the maker's passes to the maker's figure.",
            "Mount, crossmember and propshaft by their makers' figures.",
            "Out of gear, turn the crank by hand again.",
            "In gear and pedal down, the output turns free of the crank.",
            "Nobody is under the car while somebody gets in or out of it.",
        ),
        stop_and_call=(
            "a bolt keeps turning, or its thread gives",
            "the crank no longer turns freely",
        ),
        cautions=(STANDS,),
        fields=(
            PASSES,
            FIGURE,
            Field(
                name="free",
                label="Crank free out of gear; in gear and pedal down, the output turns free",
                kind="check",
                needed=True,
            ),
        ),
    ),
    Stage(
        name="result",
        title="Result",
        works="result",
        needed=("the car off its stands only when all is bolted",),
        why="The shop learns from every fit-up, most of all from one that failed.",
        do=(
            "Say how it ended. This closes the fit-up; nothing can be added after it.",
            "Succeeded: the gearbox is in, the crank turns freely, the clutch frees.",
            "Failed: say what went wrong. Nobody is blamed; the next bell gets better by it.",
        ),
        stop_and_call=("you are not sure how to call it",),
        cautions=(STANDS,),
        fields=(
            Field(
                name="outcome",
                label="How it ended",
                kind="choice",
                needed=True,
                options=(("succeeded", "succeeded"), ("failed", "failed")),
            ),
            Field(
                name="why",
                label="What happened",
                kind="text",
                help="Needed where it failed, or where a verdict is not within.",
            ),
        ),
    ),
)
