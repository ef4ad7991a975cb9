"""The forms of the calculations that say what a soil is."""

from service.web.pages.calculator.parts import Field, Rows, Sheet, Tree, Way, sheet

SIEVE_FROM_MEMORY = (
    "A loss above 0.5 % of the mass put on the sieves is too much (ASTM D6913, from memory): sieve again."
)


def _curve(*, label: str = "The curve", required: bool = True, folded: bool = False) -> Rows:
    columns = (Field("size_mm", "Size", "opening"), Field("share", "Finer, by dry mass", "share"))
    return Rows("passing", label, columns, shown=8, required=required, folded=folded)


MOISTURE = sheet(
    "Water content by cans",
    "Water over dry mass, of one can or as the mean of several.",
    Rows(
        "cans",
        "Cans",
        (
            Field("wet_kg", "Can and wet soil", "small_mass", unit="g"),
            Field("dry_kg", "Can and dry soil", "small_mass", unit="g"),
            Field("can_kg", "Empty can", "small_mass", unit="g", required=False),
        ),
        shown=3,
    ),
    large=("moisture",),
    cautions=("microwave",),
    notes=("Dry at 105 to 115 °C until the mass no longer changes. Use 60 °C with gypsum or much organic matter.",),
)

GRADING = Sheet(
    "Grading curve",
    "The share finer than each size, the sizes and coefficients, and gravel, sand and fines.",
    (
        Way(
            "",
            "From sieves",
            (
                Rows(
                    "sieves",
                    "Sieves",
                    (Field("size_mm", "Opening", "opening"), Field("retained_g", "Kept", "sieve_mass", unit="g")),
                    shown=10,
                ),
                Field("pan_g", "In the pan", "sieve_mass", unit="g"),
                Field("dry_mass_g", "Dry mass before washing", "sieve_mass", unit="g"),
                Field(
                    "washed_dry_mass_g",
                    "Dry mass after washing",
                    "sieve_mass",
                    unit="g",
                    required=False,
                    hint="Left on the finest sieve after washing. Empty when nothing was washed out.",
                ),
            ),
        ),
        Way("shares", "From percentages of sand, silt and clay", (_curve(label="Shares finer than a size"),)),
    ),
    large=("fines_share", "sand_share", "gravel_share"),
    cautions=("dust",),
    notes=(SIEVE_FROM_MEMORY,),
    charts=("curve",),
)


def _depth(key: str, label: str) -> Field:
    return Field(f"hydrometer.{key}", label, "length", unit="mm", required=False, folded=True)


HYDROMETER = sheet(
    "Hydrometer",
    "Sizes of silt and clay from how fast they settle, joined to the sieve curve if given.",
    Rows(
        "readings",
        "Readings in the suspension",
        (
            Field("minutes", "After", "minutes"),
            Field("reading", "Reading", "plain"),
            Field("temperature_c", "Temperature", "temperature"),
        ),
        shown=7,
    ),
    Rows(
        "blanks",
        "Readings in water with dispersant",
        (Field("reading", "Reading", "plain"), Field("temperature_c", "Temperature", "temperature")),
        shown=2,
        hint="Two temperatures let the correction follow the water.",
    ),
    Field("dry_mass_g", "Dry mass in the cylinder", "sieve_mass", unit="g"),
    Field("specific_gravity", "Specific gravity of the grains", "plain", hint="Measured; 2.65 to 2.75 is usual."),
    Field("meniscus", "Meniscus correction", "plain", required=False, unit="divisions"),
    Field("volume_ml", "Volume of suspension", "plain", required=False, unit="mL", hint="1000 when left empty."),
    _curve(label="The sieves' curve, to join", required=False, folded=True),
    Field("separation_mm", "Size of separation", "opening", unit="mm", required=False, folded=True),
    _depth("depth_at_0_mm", "Depth of the bulb's middle at 0"),
    _depth("depth_at_50_mm", "Depth of the bulb's middle at 50"),
    _depth("bulb_length_mm", "Length of the bulb"),
    Field("hydrometer.bulb_volume_ml", "Volume of the bulb", "plain", unit="mL", required=False, folded=True),
    Field("hydrometer.cylinder_area_cm2", "Area of the cylinder", "plain", unit="cm²", required=False, folded=True),
    large=("clay_share",),
    cautions=("dust",),
    charts=("curve",),
)

JAR = sheet(
    "Settling jar",
    "Rough shares from the layers in a jar of shaken soil.",
    Field("gravel_mm", "Gravel layer", "length", unit="mm", required=False),
    Field("sand_mm", "Sand layer", "length", unit="mm"),
    Field("silt_mm", "Silt layer", "length", unit="mm"),
    Field("clay_mm", "Clay layer", "length", unit="mm", hint="Read it when the water above is clear."),
    large=("clay_share", "silt_share", "sand_share"),
    charts=("curve",),
)

LIMITS = sheet(
    "Liquid and plastic limit",
    "The limits, the index, and the soil's place on the plasticity chart.",
    Rows(
        "flow",
        "Closings of the groove",
        (Field("blows", "Blows", "whole"), Field("water", "Water content", "moisture")),
        shown=4,
        hint="Three or more between 5 and 60 blows, or one between 20 and 30.",
    ),
    Field("plastic", "Water contents of the threads", "moisture", many=True, required=False),
    Field("non_plastic", "No thread can be rolled", "tick", required=False),
    large=("liquid_limit", "plastic_limit", "plasticity_index"),
    charts=("plasticity",),
)

CLASSIFY = sheet(
    "Soil class",
    "Group symbol and name by ASTM D2487, with every decision.",
    _curve(),
    Field("liquid_limit", "Liquid limit", "moisture", required=False),
    Field("plastic_limit", "Plastic limit", "moisture", required=False),
    Field("non_plastic", "No thread can be rolled", "tick", required=False),
    Field(
        "liquid_limit_oven_dried",
        "Liquid limit after oven drying",
        "moisture",
        required=False,
        hint="Below three quarters of the other one the soil is organic.",
    ),
    large=("symbol", "name"),
    notes=("The part above 75 mm is left out before the shares are calculated.",),
    charts=("curve", "plasticity"),
)

SOILS_BLENDED = ("first", "second", "third")


def _pack_blend(read: Tree) -> Tree:
    rows = read.get("sizes", [])
    soils = [
        {
            "name": read[f"{soil}_name"],
            "passing": [{"size_mm": row["size_mm"], "share": row[soil]} for row in rows if soil in row],
        }
        for soil in SOILS_BLENDED
        if f"{soil}_name" in read
    ]
    bounds = [row for row in rows if "low" in row or "high" in row]
    envelope = [{key: row[key] for key in ("size_mm", "low", "high") if key in row} for row in bounds]
    return {"soils": soils, "envelope": envelope}


def _spread_blend(given: Tree) -> Tree:
    names = {f"{soil}_name": one["name"] for soil, one in zip(SOILS_BLENDED, given["soils"], strict=False)}
    rows: dict[float, Tree] = {}
    for soil, one in zip(SOILS_BLENDED, given["soils"], strict=False):
        for point in one["passing"]:
            rows.setdefault(point["size_mm"], {})[soil] = point["share"]
    for bound in given["envelope"]:
        rows.setdefault(bound["size_mm"], {}).update(low=bound["low"], high=bound["high"])
    return names | {"sizes": [{"size_mm": size, **rows[size]} for size in sorted(rows, reverse=True)]}


BLEND = sheet(
    "Blend of soils",
    "The shares of two or three soils that come nearest to an envelope.",
    Field("first_name", "First soil, the preferred one", "words"),
    Field("second_name", "Second soil", "words"),
    Field("third_name", "Third soil", "words", required=False),
    Rows(
        "sizes",
        "Shares finer than each size",
        (
            Field("size_mm", "Size", "opening"),
            Field("first", "First soil", "share", required=False),
            Field("second", "Second soil", "share", required=False),
            Field("third", "Third soil", "share", required=False),
            Field("low", "Envelope, least", "share", required=False),
            Field("high", "Envelope, most", "share", required=False),
        ),
        shown=8,
        hint="A soil may leave a size out; sizes without least and most are no part of the envelope.",
    ),
    large=("shares",),
    charts=("curve",),
    wide=True,
    pack=_pack_blend,
    spread=_spread_blend,
    moved={
        **{f"soils.{place}.name": f"{soil}_name" for place, soil in enumerate(SOILS_BLENDED)},
        "soils": "sizes",
        "envelope": "sizes",
    },
)


def _share(key: str, label: str) -> Field:
    return Field(key, label, "share", required=False, folded=True)


def _without_an_empty_box(read: Tree) -> Tree:
    return read if "shrinkage_mm" in read.get("box", {}) else {key: read[key] for key in read if key != "box"}


SUITABILITY = sheet(
    "Is this soil fit for blocks?",
    "Use as it is, blend it first, or not for blocks: reasons with number, threshold and source, and where to start.",
    Field("box.shrinkage_mm", "Shrinkage in the box", "length", unit="mm", required=False),
    Field("box.length_mm", "Length of the box", "length", unit="mm", value="600", required=False),
    Field("box.width_mm", "Width of the box", "length", unit="mm", value="40", required=False),
    Field("box.depth_mm", "Depth of the box", "length", unit="mm", value="40", required=False),
    Field("plasticity_index", "Plasticity index", "share", required=False),
    _curve(required=False),
    Field(
        "signs",
        "Signs seen or smelt",
        "ticks",
        required=False,
        options=(
            ("organics", "roots, dark colour, a smell of rot"),
            ("sulfates", "white crusts, gypsum"),
            ("pollution", "sewage, fuel, pesticide, rubbish"),
            ("black cotton", "black clay with deep cracks"),
        ),
    ),
    _share("clay_share", "Clay, when there is no curve"),
    _share("silt_share", "Silt"),
    _share("sand_share", "Sand"),
    _share("gravel_share", "Gravel"),
    _share("fines_share", "Clay and silt together"),
    Field("bulk_density_kg_l.cement", "Loose cement weighs", "density", stored="kg/L", required=False, folded=True),
    Field("bulk_density_kg_l.soil", "Loose soil weighs", "density", stored="kg/L", required=False, folded=True),
    large=("verdict",),
    cautions=("binder",),
    notes=("A value from memory is shown and decides nothing.",),
    charts=("curve",),
    wide=True,
    pack=_without_an_empty_box,
)

SHRINKAGE = sheet(
    "Shrinkage box",
    "Linear shrinkage of wet soil that dried in a long box.",
    Field("box_length_mm", "Length of the box", "length", unit="mm", value="600"),
    Field(
        "shrinkage_mm", "Gaps and cracks together", "length", unit="mm", hint="Push the soil to one end and measure."
    ),
    large=("shrinkage",),
)

SOILS = {
    "moisture": MOISTURE,
    "grading": GRADING,
    "hydrometer": HYDROMETER,
    "jar": JAR,
    "limits": LIMITS,
    "classify": CLASSIFY,
    "blend": BLEND,
    "suitability": SUITABILITY,
    "shrinkage": SHRINKAGE,
}
