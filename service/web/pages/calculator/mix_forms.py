"""The forms of the calculations that say what goes into a mix, what it costs and when it is due."""

from service.web.pages.calculator.parts import Field, Part, Rows, Sheet, Way, sheet

BASES = (("dry soil", "of the dry soil"), ("dry mix", "of the dry mix"))
COMPONENTS = Rows(
    "components",
    "Soils and sands",
    (
        Field("name", "Name", "words"),
        Field("share", "Share of the dry soil", "share"),
        Field("moisture", "Water content now", "moisture"),
    ),
    shown=3,
    hint="Shares add up to 100 %. A quarter sand in the blend is 25 % here.",
)
WATER = (
    Field("moisture", "Target moisture", "moisture", hint="All water in the mix, that of the damp soil too."),
    Field("moisture_basis", "Water is a share", "choice", options=BASES, value="dry mix", required=False),
)


def _stabilisers(*, required: bool) -> Rows:
    columns = (
        Field("name", "Name", "words"),
        Field("share", "Share", "share"),
        Field("basis", "Of what", "choice", options=BASES),
    )
    return Rows("stabilisers", "Cement, lime", columns, shown=2, required=required)


SCALE = Field("scale_graduation_kg", "Graduation of the scale", "small_mass", unit="g", required=False)
RECIPE: tuple[Part, ...] = (COMPONENTS, _stabilisers(required=False), *WATER, SCALE)
PARTS = (
    Field("name", "Name", "words"),
    Field("parts", "Parts by volume", "plain"),
    Field("bulk_density_kg_l", "Bulk density, damp", "density", stored="kg/L"),
)
BY_PARTS: tuple[Part, ...] = (
    Rows(
        "components",
        "Soils and sands",
        (*PARTS, Field("moisture", "Water content now", "moisture")),
        shown=3,
        hint="Fill a bucket without tamping and weigh it: a bulk density that nobody measured is a guess.",
    ),
    Rows("stabilisers", "Cement, lime", PARTS, shown=2, required=False),
    *WATER,
    SCALE,
)
BLOCKS_WANTED: tuple[Part, ...] = (
    Field("blocks", "Blocks", "whole"),
    Field("dry_mass_per_block_kg", "Dry mass of a block, all in", "mass", unit="kg"),
    Field("waste", "Waste", "share", required=False),
)

BATCH = Sheet(
    "Batch to weigh",
    "What to weigh of each soil and stabiliser, how much water to add, and the shares that gives.",
    (
        Way(
            "",
            "From blocks wanted",
            (*BLOCKS_WANTED, *RECIPE),
        ),
        Way("soil", "From soil in hand", (Field("dry_soil_kg", "Dry soil", "mass", unit="kg"), *RECIPE)),
        Way("parts", "From blocks wanted, in buckets", (*BLOCKS_WANTED, *BY_PARTS)),
    ),
    large=("weigh_kg", "water_kg"),
    cautions=("binder",),
    notes=("6 % of the dry soil is 5.7 % of the dry mix: every share says of what.",),
)

SITE = sheet(
    "Site mixing sheet",
    "One bag of cement or lime and what goes with it: buckets of damp soil, water, blocks.",
    COMPONENTS,
    _stabilisers(required=True),
    *WATER,
    Field("bag_kg", "Bag of the first stabiliser", "mass", unit="kg"),
    Field("bucket_l", "Bucket", "volume", unit="L"),
    Rows(
        "bulk",
        "Bulk density, damp",
        (Field("name", "Name", "words"), Field("bulk_density_kg_l", "Loose and damp", "density", stored="kg/L")),
        shown=3,
        by_name=True,
        hint="Fill a bucket without tamping and weigh it. The same names as above.",
    ),
    Field("dry_mass_per_block_kg", "Dry mass of a block, all in", "mass", unit="kg"),
    Field("waste", "Waste", "share", required=False),
    Field("blocks", "Blocks wanted", "whole"),
    large=("bags",),
    cautions=("binder",),
    notes=("Damp sand is looser than dry sand, so a bucket holds less. Weigh a bucket of each delivery.",),
)

COST = sheet(
    "Cost and carbon",
    "Money and carbon (CO2e) for a block and for a square of wall.",
    Rows(
        "materials",
        "What is in one block, waste included",
        (
            Field("name", "Material", "words"),
            Field("dry_kg", "Dry mass", "mass", unit="kg"),
            Field("prices_per_kg", "Price", "price", unit="kg"),
            Field("carbon_per_kg", "CO2e, kg for a kg", "carbon", required=False),
        ),
        shown=4,
        by_name=True,
    ),
    Field("blocks_per_m2", "Blocks in a square metre, m²", "plain", required=False),
    large=("cost_per_block", "carbon_kg_per_block"),
    notes=("Published carbon factors of one material differ by a third and more: keep the source with the number.",),
)

AGE = sheet(
    "When to crush",
    "When a block is due, the window in which the age still counts, and when its soak begins and ends.",
    Field("pressed_at", "Pressed", "moment"),
    Field("age_days", "Age", "days"),
    Field("tolerance_hours", "Early or late by", "hours"),
    Field("soak_hours", "Soak, at least", "hours", required=False),
    Field("soak_hours_max", "Soak, at most", "hours", required=False),
    large=("due_at",),
)

MIXES = {"batch": BATCH, "site": SITE, "cost": COST, "age": AGE}
