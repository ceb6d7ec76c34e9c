"""The stages of a fit-up up to a bell that sits right: dowels, bell, sweeps, verdict."""

from __future__ import annotations

from typing import Final

from kitwright.shop.fitup_stage import FIGURE, FINGERS, NO_DRAWING, PASSES, TOGETHER, Field, Stage
from kitwright.worksheets.centring.cautions import BY_HAND, DRIVEN, MAKERS, NO_DRESSING, STANDS

_DOWEL_STATES: Final = (
    ("sound", "sound, stays in"),
    ("out", "came out, its hole is good"),
    ("hole", "its hole is scored, oval or loose"),
    ("seized", "seized, still in"),
)

_CORRECTIONS: Final = (
    TOGETHER,
    Field(
        name="sag",
        label="Sag of the dial's holder",
        kind="fine",
        help="What it shows at 6 o'clock, zeroed at 12, inside a true ring.",
    ),
    Field(
        name="bearing_clearance",
        label="Lift of the crank",
        kind="fine",
        help="How far the dial moves at 12 o'clock when the crank is lifted to its stop.",
    ),
    Field(
        name="drawer",
        label="Eccentric dowels at hand",
        kind="text",
        help="Sizes with their unit, commas between. Left empty: 7, 14 and 21 thou.",
    ),
)

_SWEPT_HOW: Final = (
    "Fix the dial to the crank, stiffly; its tip square inside the bore, clear of holes.",
    "Set it to zero at 12 o'clock. Turn the crank by hand, one way only, and read at each place.",
    "Plus is plunger pushed in. The clock is as you see it from behind the engine.",
    "End at 12 again. It must come back to what it showed at first.",
)
_SWEEP_NEEDS: Final = (
    "a dial with its holder, and a mirror for 6 o'clock",
    "somebody or a bar to turn the crank by hand",
    "a clean, dry bore without burrs",
)
_SWEEP_STOPS: Final = (
    "it does not come back at 12, twice",
    "the crank is stiff, or the tip meets something loose",
)

CENTRING: Final = (
    Stage(
        name="before",
        title="Before you start",
        shows="serial",
        needed=(
            "stands rated for this car, chocks, hard level ground",
            "a jack made for gearboxes, eye protection, gloves",
            "the makers' sheets for engine, bell, clutch, bearing and gearbox",
        ),
        why="A car that cannot move and an engine that cannot start let you look at the dial.",
        do=(
            "Chock the wheels, set the car on its stands, push at it before you go under.",
            "Take the battery's earth cable off, and the plugs out.",
            "Look the bell over: its serial, both faces, the bore, the dowel holes.",
            "Clean the block face and the bell's faces; take burrs off with a fine stone.",
        ),
        stop_and_call=(
            "the serial on the bell is another one",
            "the bell is cracked, or a face or its bore is dented",
        ),
        cautions=(STANDS, BY_HAND, MAKERS),
        fields=(
            Field(
                name="stands",
                label="The car is on its stands, chocked, and does not move when pushed",
                kind="check",
                needed=True,
            ),
            Field(
                name="battery",
                label="The battery's cable is off and the plugs are out",
                kind="check",
                needed=True,
            ),
            Field(
                name="serial",
                label="The bell carries the serial shown here",
                kind="check",
                needed=True,
            ),
            Field(
                name="makers",
                label="I have the makers' figures at hand",
                kind="check",
                needed=True,
            ),
        ),
    ),
    Stage(
        name="dowels-out",
        title="Block's dowels",
        needed=(
            "penetrating oil, a heat gun, a dowel puller",
            "new dowels, should one be bad",
        ),
        why=(
            "The dowels say where the bell sits, not the bolts. A bent, burred or loose one makes "
            "every reading after it worthless."
        ),
        do=(
            "Look at both: straight, round, tight in the block, no burr.",
            "Sound ones stay in until a sweep says otherwise.",
        ),
        seized=(
            "Penetrating oil round its rim, and time: an hour, better a night.",
            "A puller that grips all round and draws straight, with a small twist both ways.",
            "Oil wiped off, cleaner aired out, an extinguisher at hand.",
            "Heat on the block around it, not on the dowel itself; then the puller again.",
            "A thread cut down its middle, and a screw drawn against a plate.",
            "A punch from the other side, where its hole goes through.",
        ),
        ruins=(
            "blows from the side, or a chisel under its rim: the hole goes oval",
            "a torch on aluminium, or near fuel, oil and brake cleaner",
            "a drill that runs off its middle into the hole",
            "jaws on a dowel that is to go back in",
            "dressing the hole or the dowel to make it fit",
        ),
        stop_and_call=(
            "a hole is scored or oval, or a new dowel turns in it by hand",
            "a dowel breaks off, or will not move after all of that",
            "a crack runs from a hole",
        ),
        cautions=(DRIVEN,),
        fields=(
            Field(
                name="a",
                label="Dowel a, on the left",
                kind="choice",
                needed=True,
                options=_DOWEL_STATES,
            ),
            Field(
                name="b",
                label="Dowel b, on the right",
                kind="choice",
                needed=True,
                options=_DOWEL_STATES,
            ),
            Field(name="seen", label="What you saw or tried", kind="text"),
        ),
    ),
    Stage(
        name="bell-on",
        title="Bell on, and its bolts",
        bolts="block",
        needed=(
            "the bell's bolts and washers, clean threads",
            "a torque wrench, and the maker's figure",
        ),
        why="Bolts drawn up crosswise, little by little, seat the bell flat on the block.",
        do=(
            "Slide the bell on over both dowels by hand, until it lies flat all round.",
            "Put every bolt in by hand. Snug them all round in the order drawn.",
            "Then the same order, by the maker's passes, to the maker's figure.",
            "Try a thin feeler between bell and block all round: it must not go in.",
        ),
        stop_and_call=(
            "it does not go on over its dowels by hand",
            "a bolt binds, or its thread gives",
            "a feeler goes in after the last pass",
        ),
        cautions=(NO_DRAWING,),
        fields=(
            Field(
                name="by_hand",
                label="The bell went on by hand and lies flat",
                kind="check",
                needed=True,
            ),
            PASSES,
            FIGURE,
        ),
    ),
    Stage(
        name="bore",
        title="Sweep the bore",
        works="sweep",
        surface="bore",
        shows="tir",
        needed=_SWEEP_NEEDS,
        why="The bore centres the gearbox. Half of what the dial swings is how far it is off.",
        do=_SWEPT_HOW,
        stop_and_call=_SWEEP_STOPS,
        cautions=(FINGERS,),
        fields=_CORRECTIONS,
    ),
    Stage(
        name="face",
        title="Sweep the face",
        works="sweep",
        surface="face",
        shows="tir",
        needed=(
            "the dial with its tip on the bell's gearbox face, from behind",
            "a rule, for the distance from the crank's middle to the tip",
            "a push on the crank that does not change",
        ),
        why="A bell that is cocked carries its bore off with it, and bends the shaft as it turns.",
        do=(
            "Set the tip on the gearbox face, square to it, clear of holes.",
            "Push the crank toward the front, to one end of its float, at every reading.",
            "Zero at 12, turn by hand, read at each place, end at 12 again.",
            "Measure from the middle of the crank to the tip.",
        ),
        stop_and_call=_SWEEP_STOPS,
        cautions=(FINGERS,),
        fields=(
            TOGETHER,
            Field(
                name="sweep_radius",
                label="From the crank's middle to the dial's tip",
                kind="length",
                needed=True,
                help="A rule will do.",
            ),
            Field(
                name="plane_distance",
                label="From the gearbox face forward to the pilot bearing",
                kind="length",
                help="Left empty: the depth of the bell.",
            ),
            Field(
                name="limit",
                label="Limit of the face, TIR",
                kind="fine",
                help="The maker's. Left empty: the bore's limit.",
            ),
        ),
    ),
    Stage(
        name="verdict",
        title="Verdict",
        works="verdict",
        shows="tir",
        needed=("both sweeps, sent and answered",),
        why="Here you see whether the bell stays as it is, or what to turn.",
        do=(
            "Within: go on to the clutch.",
            "Outside: bell off, look for dirt, burrs and paint, bolt it up evenly, sweep again.",
            "If it stays outside, turn dowels.",
            "Too close to call: measure better before you decide.",
        ),
        stop_and_call=(
            "the face is outside and stays so",
            "the bore is out of round: no dowel cures that",
            "two sweeps say different things",
        ),
        cautions=(NO_DRESSING,),
    ),
    Stage(
        name="dowels",
        title="Turn the dowels",
        works="dowels",
        needed=(
            "the eccentric dowels named here, a screwdriver for their slots",
            "the dowel protractor from the shop's sheet, or the picture here",
        ),
        why="Both dowels turned the same way carry the bell, and its bore with it.",
        do=(
            "Take the bell off. Draw the dowels that are in.",
            "Put the new ones in, the slot toward you, and turn each to its hour as drawn.",
            "A slot points from the block's end to the bell's end; a maker's other mark counts.",
            "Secure them only as their maker says, and only after the second sweep.",
            "Bell on again by hand, bolts crosswise to the maker's figure.",
            "Write down what is really in. The next answer rests on it.",
        ),
        stop_and_call=(
            "a dowel is loose in its hole, or turns as the bell goes on",
            "the bell does not go on over them by hand",
        ),
        cautions=(DRIVEN, NO_DRESSING),
    ),
    Stage(
        name="bore-again",
        title="Sweep the bore again",
        works="sweep",
        surface="bore",
        shows="tir",
        needed=_SWEEP_NEEDS,
        why="Only a second sweep says where the dowels have put the bore.",
        do=_SWEPT_HOW,
        stop_and_call=("it is far from what was to be expected", *_SWEEP_STOPS),
        cautions=(FINGERS,),
        fields=_CORRECTIONS,
    ),
)
