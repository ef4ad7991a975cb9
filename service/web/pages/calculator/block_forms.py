"""The forms of the calculations on presses, pressed blocks and walls."""

from functools import partial

from service.web.pages.calculator.parts import Field, Part, Rows, Sheet, Tree, Way, sheet

FULL_SIZE = "Make full-size units on the machine that will be used before anyone relies on a figure of a code."
DISTRIBUTIONS = (("normal", "normal"), ("lognormal", "lognormal"))
AIMS = (("least", "how little will do"), ("passes", "whether one passes"))
STATISTICS = (("mean", "mean"), ("characteristic", "characteristic"), ("each", "each block"))

ON_THE_FACE: tuple[Part, ...] = (
    Field("face_length_mm", "Length of the face", "length", unit="mm"),
    Field("face_width_mm", "Width of the face", "length", unit="mm"),
    Field("gauge_mpa", "Gauge shows", "pressure", required=False, hint="Either this or the stress."),
    Field("stress_mpa", "Stress wanted", "pressure", required=False, hint="Gives the gauge for it."),
    Field(
        "working_limit_kn",
        "Working limit of the press",
        "force",
        required=False,
        hint="Nothing above it is answered. Read it off the press's plate.",
    ),
    Field(
        "stress_rate_mpa_s",
        "Rate of stress",
        "stress_rate",
        required=False,
        hint="Gives how fast the gauge climbs.",
        folded=True,
    ),
    Field("load_rate_kn_s", "Or rate of force", "load_rate", required=False, folded=True),
)

PRESS = Sheet(
    "Gauge and stress",
    "From the gauge to force and stress on the face, or from the stress wanted to the gauge.",
    (
        Way(
            "",
            "From a calibration",
            (
                Rows(
                    "points",
                    "Calibration points",
                    (Field("gauge_mpa", "Gauge", "pressure"), Field("force_kn", "Force", "force")),
                    shown=6,
                    hint="Three or more, at two gauges at the least.",
                ),
                *ON_THE_FACE,
            ),
        ),
        Way(
            "geometry",
            "From the ram size",
            (
                Field("ram_diameter_mm", "Diameter of the ram", "length", unit="mm"),
                Field("rams", "Rams", "whole", required=False, value="1"),
                Field("efficiency", "Efficiency", "share", hint="Share of the force that reaches the block."),
                Field("zero_mpa", "Gauge at rest", "gauge_zero", required=False),
                *ON_THE_FACE,
            ),
        ),
    ),
    large=("stress_mpa", "gauge_mpa", "stop_gauge_mpa", "force_kn", "gauge_rate_mpa_s"),
    cautions=("crushing",),
    charts=("line",),
)


def _pack_readings(read: Tree, rows: str) -> Tree:
    given = dict(read)
    graduation = given.pop("graduation_mpa", None)
    if graduation is not None:
        for group in given[rows]:
            for one in group.get("readings", []):
                if "broke_mpa" in one:
                    one["graduation_mpa"] = graduation
    return given


def _spread_readings(given: Tree, rows: str) -> Tree:
    marks = [one["graduation_mpa"] for group in given[rows] for one in group["readings"] if "graduation_mpa" in one]
    return given | ({"graduation_mpa": marks[0]} if marks else {})


READINGS_TYPED = "Readings with spaces between: 9.9 broke, >10.6 did not break, fell = fell apart in the water."
GRADUATION = Field(
    "graduation_mpa",
    "Graduation of the gauge, as stress on the block",
    "pressure",
    required=False,
    hint="The step between two marks. Half of it either side belongs to each reading.",
)
LIMITS_OF_STRENGTH = Rows(
    "limits",
    "Limits",
    (
        Field("name", "Name", "words"),
        Field("condition", "State, soak and age", "words"),
        Field("statistic", "Of what", "choice", options=STATISTICS),
        Field("limit_mpa", "Limit", "pressure"),
        Field("blocks", "Blocks", "whole"),
    ),
    shown=2,
    required=False,
    hint="The condition is written exactly as above.",
)

STRENGTH = sheet(
    "Strength of recipes, from crushed blocks",
    "What a few crushed blocks say of each recipe: strength with its interval, limits, pairs and order.",
    Rows(
        "groups",
        "Blocks of one recipe in one condition",
        (
            Field("recipe", "Recipe", "words"),
            Field("condition", "State, soak and age", "words"),
            Field("batches", "Mixes", "whole", required=False),
            Field("readings", "Readings", "readings"),
        ),
        shown=6,
        hint=READINGS_TYPED,
    ),
    GRADUATION,
    LIMITS_OF_STRENGTH,
    Rows(
        "priced",
        "Cost of a block",
        (Field("name", "Recipe", "words"), Field("costs", "Cost", "money")),
        shown=3,
        by_name=True,
        required=False,
        folded=True,
    ),
    Field("assurance", "Sure enough at", "share", required=False, folded=True, hint="95 % when left empty."),
    Field("margin", "Equal within", "share", required=False, folded=True, hint="10 % when left empty."),
    Field("scale_uncertainty", "Uncertainty of the press", "share", required=False, folded=True),
    Field(
        "batch_sd", "Scatter between batches", "share", required=False, folded=True, hint="5 %: no published source."
    ),
    Field("prior.median_mpa", "Strength believed before", "pressure", required=False, folded=True, hint="3 MPa."),
    Field("prior.log_sd", "Spread of that belief, in ln", "plain", required=False, folded=True, hint="1."),
    Field("prior.scatter", "Scatter believed before, in ln", "plain", required=False, folded=True, hint="0.15."),
    Field("prior.scatter_log_sd", "Spread of that belief, in ln", "plain", required=False, folded=True, hint="0.5."),
    Field("prior.spread", "Difference of recipes believed before", "plain", required=False, folded=True, hint="0.30."),
    Field("prior.spread_log_sd", "Spread of that belief, in ln", "plain", required=False, folded=True, hint="0.5."),
    notes=("A block that did not break counts as at least the stress it reached.", FULL_SIZE),
    charts=("readings",),
    wide=True,
    pack=partial(_pack_readings, rows="groups"),
    spread=partial(_spread_readings, rows="groups"),
    defers=True,
)

CONTENT = sheet(
    "Least stabiliser needed",
    "Strength at any share between the tested ones, and the least share that meets every limit.",
    Rows(
        "rows",
        "Blocks of one share in one condition",
        (
            Field("share", "Share of dry soil", "share"),
            Field("condition", "State, soak and age", "words"),
            Field("mix", "Mix", "words", required=False),
            Field("readings", "Readings", "readings"),
        ),
        shown=6,
        hint=READINGS_TYPED,
    ),
    GRADUATION,
    LIMITS_OF_STRENGTH,
    Field("at", "Shares asked for", "share", many=True, required=False, hint="For example 5 5.5 7."),
    Field("assurance", "Sure enough at", "share", required=False, folded=True, hint="95 % when left empty."),
    Field("prior.slope", "Slope believed before", "plain", required=False, folded=True, hint="1.1."),
    Field("prior.slope_sd", "Spread of that belief", "plain", required=False, folded=True, hint="0.4."),
    Field("prior.scatter", "Scatter believed before, in ln", "plain", required=False, folded=True, hint="0.15."),
    notes=(
        "One soil and one stabiliser. A share between two tested ones is an estimate. Press it before you use it.",
        FULL_SIZE,
    ),
    charts=("content",),
    wide=True,
    pack=partial(_pack_readings, rows="rows"),
    spread=partial(_spread_readings, rows="rows"),
    defers=True,
)

SHARES = sheet(
    "Which stabiliser percentages to press",
    "Two or three shares of stabiliser, and how many blocks, that settle the question soonest.",
    Field("shares", "Shares you could press", "share", many=True, hint="2 to 8, such as 4 6 8 10."),
    LIMITS_OF_STRENGTH,
    Field(
        "blocks",
        "Blocks of one share in one condition",
        "plain",
        many=True,
        required=False,
        hint="3 5 10 when left empty.",
    ),
    Field("mixes", "Batches of each share", "whole", required=False, hint="2 when left empty."),
    Field("aim", "The question", "choice", options=AIMS),
    Field("soil.fines", "Finer than 0.075 mm", "share", required=False),
    Field("soil.liquid_limit", "Liquid limit", "moisture", required=False),
    Field("assurance", "Sure enough at", "share", required=False, folded=True, hint="95 % when left empty."),
    Field(
        "prior.median_mpa",
        "Strength believed before",
        "pressure",
        required=False,
        folded=True,
        hint="At the middle of the shares.",
    ),
    Field("prior.log_sd", "Spread of that belief, in ln", "plain", required=False, folded=True),
    Field("prior.scatter", "Scatter believed before, in ln", "plain", required=False, folded=True, hint="0.15."),
    notes=(
        "Worked out before a block is pressed, from other soils. It says what to press, not what will pass.",
        FULL_SIZE,
    ),
    large=("best.shares", "best.blocks"),
    defers=True,
    wide=True,
)

SURVIVAL = sheet(
    "Chance that blocks survive in water",
    "The chance that the next block survives, from those that survived and those that fell apart.",
    Rows(
        "recipes",
        "Blocks of one recipe in the water",
        (
            Field("recipe", "Recipe", "words"),
            Field("share", "Share of dry soil", "share"),
            Field("survived", "Survived", "whole"),
            Field("fell_apart", "Fell apart", "whole"),
        ),
        shown=3,
        hint="One soil and one stabiliser, soaked alike.",
    ),
    notes=("More of the same stabiliser is taken to be never worse. The strength expected before is our own.",),
    defers=True,
)

WALL = sheet(
    "Load at the bottom of a wall",
    "Stress at the lowest course, slenderness, and how the strength of one block compares.",
    Field("density_kg_m3", "Density of the wall", "density"),
    Field("height_m", "Height", "height", unit="m"),
    Field("thickness_mm", "Thickness", "length", unit="mm"),
    Field("line_load_kn_m", "Load on top", "line_load", required=False),
    Field("strength_mpa", "Strength of a block", "pressure", hint="Soaked, characteristic, the lower value."),
    large=("foot_stress_mpa", "slenderness", "unit_strength_ratio"),
    notes=(
        "The ratio is of one block, not of a wall, and not a safety factor; wall design is the engineer's.",
        FULL_SIZE,
    ),
    defers=True,
)

DENSITY = sheet(
    "Density of a block",
    "Volume, wet and dry density, and how the block compares with the others of its mix.",
    Field("length_mm", "Length", "length", unit="mm"),
    Field("width_mm", "Width", "length", unit="mm"),
    Field("heights_mm", "Heights", "length", unit="mm", many=True, hint="At the four corners, spaces between."),
    Field("wet_mass_kg", "Mass", "mass", unit="kg"),
    Field("moisture", "Water content", "moisture", required=False),
    Field("others_kg_m3", "Densities of the others", "density", many=True, required=False),
    large=("dry_density_kg_m3", "wet_density_kg_m3"),
)

ABSORPTION = sheet(
    "Water absorption",
    "How much water a block took up, over its mass before.",
    Field("mass_before_kg", "Mass before", "mass", unit="kg"),
    Field("mass_after_kg", "Mass after", "mass", unit="kg"),
    Field("oven_dry", "It was oven-dry before", "tick", hint="Over any other mass it is an uptake, not an absorption."),
    large=("absorption", "uptake"),
)

FLEXURE = sheet(
    "Bending strength (modulus of rupture)",
    "Bending strength of a block broken over two supports by a load at the middle.",
    Field("force_kn", "Force at the break", "force"),
    Field("span_mm", "Distance of the supports", "length", unit="mm"),
    Field("width_mm", "Width of the block", "length", unit="mm"),
    Field("thickness_mm", "Thickness of the block", "length", unit="mm"),
    large=("modulus_of_rupture_mpa",),
    cautions=("crushing",),
    defers=True,
)

SHAPE = Sheet(
    "Strength correction for block height",
    "Strength by each published shape factor, with the measured strength.",
    (
        Way(
            "",
            "Block",
            (
                Field("strength_mpa", "Strength as measured", "pressure"),
                Field("height_mm", "Height as loaded", "length", unit="mm"),
                Field("thickness_mm", "Least width of the loaded face", "length", unit="mm"),
            ),
        ),
        Way(
            "cylinder",
            "Cylinder",
            (
                Field("strength_mpa", "Strength as measured", "pressure"),
                Field("height_mm", "Height", "length", unit="mm"),
                Field("diameter_mm", "Diameter", "length", unit="mm"),
            ),
        ),
    ),
    large=("strength_mpa",),
    notes=("The tables are never mixed, and each is used only where a code asks for it.",),
    defers=True,
)

RULE = sheet(
    "Strength that nearly all blocks reach, by EN 1990 or NZS 4298",
    "The value that a published rule makes of a handful of readings, and the reading farthest out.",
    Field("rule", "Rule", "choice", options=(("EN 1990", "EN 1990, Annex D"), ("NZS 4298", "NZS 4298, five blocks"))),
    Field("values_mpa", "Readings", "pressure", many=True),
    Field("distribution", "Distribution (EN 1990)", "choice", options=DISTRIBUTIONS, required=False, folded=True),
    Field("variation", "Variation known from before (EN 1990)", "share", required=False, folded=True),
    large=("value_mpa",),
    notes=("An odd reading is named, never removed. For blocks that did not break use Strength.",),
    defers=True,
)

TOLERANCE = sheet(
    "Strength that a chosen share of blocks reach",
    "How many standard deviations below the mean cover a share of all blocks with a given confidence.",
    Field("coverage", "Share of blocks covered", "share", value="95"),
    Field("confidence", "Confidence", "share", value="75"),
    Field("values_mpa", "Readings", "pressure", many=True, required=False, hint="Or only how many there are."),
    Field("n", "Number of readings", "whole", required=False),
    Field("distribution", "Distribution", "choice", options=DISTRIBUTIONS, required=False, folded=True),
    large=("factor", "lower_mpa"),
    defers=True,
)

BLOCKS = {
    "press": PRESS,
    "strength": STRENGTH,
    "content": CONTENT,
    "shares": SHARES,
    "survival": SURVIVAL,
    "wall": WALL,
    "density": DENSITY,
    "absorption": ABSORPTION,
    "flexure": FLEXURE,
    "shape": SHAPE,
    "rule": RULE,
    "tolerance": TOLERANCE,
}
