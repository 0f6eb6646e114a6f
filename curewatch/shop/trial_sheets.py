"""How each trial on a test board is done at a bench: a sheet for every quality.

Common practice unless a line says otherwise; what is said of open standards is from memory, and
the standard itself decides.
"""

from __future__ import annotations

from dataclasses import dataclass

from curewatch.shop.trial import Quality

BOARDS = (
    (
        "Make all boards of one wood, one plank if you can, sealed, filled and sanded alike; three"
        " of each finish, and note the film laid. Lay, level and buff them alike."
    ),
    (
        "Give each board a tag that does not say what is on it, shuffle them, and let somebody "
        "judge who did not spray them. Two or three judges, none hearing the others."
    ),
    (
        "Judge at the same effective age, not on the same day: a board from the cold room is "
        "younger than its date."
    ),
)
SAFETY = (
    (
        "A film is no safe film because it is hard: its vapour, and the dust of a two-part film "
        "above all, harm for longer. Ventilate, wear the mask the safety data sheet names."
    ),
    (
        "Keep solvents and oily rags away from lamps and heaters; spread oily rags flat outdoors "
        "or drown them in a lidded metal can, as the local rule says."
    ),
    "The label, the safety data sheet and the local code come before this sheet.",
)


@dataclass(frozen=True, slots=True)
class Sheet:
    """How one trial is done.

    Attributes
    ----------
    title: what it looks for.
    steps: in order.
    standards: open standards that do the same with more care, from memory.
    caution: what spoils it or can hurt.
    """

    title: str
    steps: tuple[str, ...]
    standards: str
    caution: str


SHEETS = {
    Quality.HAZE: Sheet(
        "Haze: a veil of milk over the colour or around a reflection",
        (
            (
                "Over black or dark wood, in a dark room, hold one small bright lamp so that you "
                "see its reflection. Look beside the reflection, not into it: a glow there is "
                "haze."
            ),
            (
                "Then lay a straight strip of black card half over the board: what is lighter "
                "under the film than the card is haze."
            ),
            (
                "Set the scale before you begin, such as 0 none, 10 a fog: higher is then worse, "
                "so say --worst 10 --best 0."
            ),
            (
                "Score at once after buffing, after a week, and after a month: haze that comes "
                "late is water or solvent that left late."
            ),
        ),
        "ISO 13803 and ASTM E430 measure reflection haze with a meter (from memory).",
        "Wax, oil and fingerprints look like haze: wipe every board alike, once, before.",
    ),
    Quality.GLOSS: Sheet(
        "Gloss: how much light comes back as from a mirror",
        (
            (
                "Without a meter: hold the boards side by side under one window and score them on "
                "the shop's scale."
            ),
            (
                "With a meter: set it on its tile first. 60 degrees for most films, 20 for high "
                "gloss (above 70 at 60 degrees), 85 for matt (below 10)."
            ),
            (
                "Read five places along the grain, none at an edge; enter each with --unit GU "
                "--angle 60, or their middle with --how '5 places'."
            ),
            (
                "Read the same places again after 1, 4 and 12 weeks without touching the film: "
                "what is retained is told as a share of the first reading."
            ),
        ),
        "ISO 2813 and ASTM D523 describe the meter, its angles and its tile (from memory).",
        "Readings at two angles are two measures: they are never compared. A curved body cannot "
        "be read with a flat meter.",
    ),
    Quality.IMAGE: Sheet(
        "Distinctness of image: how sharp a reflection is, whatever the gloss",
        (
            (
                "Print lines that get finer by steps, or a page of letters from large to small. "
                "Hold it upright on the board, 30 cm from your eye, under a lamp from behind."
            ),
            (
                "Note the finest step you read in the reflection: that is the score. Turn the "
                "board a quarter and do it again; enter both."
            ),
            (
                "Then look along the board at a straight edge, such as a window bar: waves are "
                "orange peel, a fading edge is haze."
            ),
        ),
        "ASTM D5767 and ISO 10215 measure image clarity; the shop's page of lines is not the same "
        "scale (from memory).",
        "Keep page, lamp and distance the same for all boards; a second pair of glasses is "
        "another judge.",
    ),
    Quality.MAR: Sheet(
        "Mar: fine scratches from cloth, sleeve and case",
        (
            (
                "Fold a new white cotton cloth over a flat block of about 1 kg. Draw it ten double"
                " strokes along one line, the cloth dry, without pressing."
            ),
            (
                "Wipe, and look as for haze: score the scratches on the shop's scale. Measured "
                "gloss before and after says the same in numbers."
            ),
            "Take a fresh piece of cloth for every board, and a place nobody has touched.",
        ),
        "ASTM D6279 and D5178 do this with machines; the shop's block is not the same trial "
        "(from memory).",
        "The same person draws all boards of one day: the hand is half of this trial.",
    ),
    Quality.HARDNESS: Sheet(
        "Pencil hardness: the hardest pencil that does not cut the film",
        (
            (
                "Take one maker's set of drawing pencils. Bare 5 mm of lead, square the tip on "
                "fine paper so that its edge is sharp."
            ),
            (
                "Hold it at 45 degrees, press as hard as the lead bears, push away from you for 7 "
                "mm. A trolley of about 750 g takes the hand out of it."
            ),
            (
                "Begin hard and go softer: the first that leaves the film whole is the score, such"
                " as 2H. Wipe the graphite off before you look."
            ),
            "Two runs at two places; where they differ by more than one pencil, do a third.",
        ),
        "ISO 15184 and ASTM D3363 say angle, load and order of the pencils (from memory).",
        "One pencil is the step of this scale and often its error: a difference of one says "
        "little. A film over soft wood dents before it cuts: note which.",
    ),
    Quality.RUBS: Sheet(
        "Rubs: how many double strokes with a wet cloth until the film gives",
        (
            (
                "Fold a cotton cloth over a finger in a glove the safety data sheet allows, wet it"
                " with the liquid you ask about: water, spirit, or the finish's own solvent."
            ),
            (
                "Rub one double stroke a second over the same 10 cm, pressing as if to wipe a "
                "stain. Wet again every 25 strokes."
            ),
            (
                "Count until the film softens, dulls or comes off, or stop at 200; enter what you "
                "saw with --how."
            ),
            (
                "A one-pack lacquer melts in its own solvent however old it is: that is no fault, "
                "and the count says nothing about its cure."
            ),
        ),
        "ASTM D5402 and D4752 count solvent rubs (from memory).",
        "Solvent burns and its vapour harms: open window, no flame or sparking motor, gloves and "
        "mask by the safety data sheet, the cloth out of the shop afterwards.",
    ),
}
