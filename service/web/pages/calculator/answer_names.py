"""What the keys of an answer are called on the page, and which of their numbers are shares, names or moments."""

# Keyed by the dotted place where a key means two things, else by the key alone. What is not here is called by its key.
LABELS = {
    "wet": "wet", "moistures": "each can", "range": "highest less lowest", "moisture": "water content",
    "dry_kg": "dry mass", "weigh_kg": "weigh out", "water_kg": "water to add", "total_dry_kg": "all together, dry",
    "total_wet_kg": "all together, wet", "stabiliser_shares": "stabilisers, on either basis", "achieved": "achieved",
    "components": "soils and sands", "achieved.moisture": "water", "dry soil": "of dry soil", "dry mix": "of dry mix",
    "gauge_mpa": "gauge", "stop_gauge_mpa": "stop at", "press.remark": "where to stop", "force_kn": "force",
    "stress_mpa": "stress on the face",
    "load_rate_kn_s": "rate of force", "stress_rate_mpa_s": "rate of stress", "gauge_rate_mpa_s": "gauge climbs",
    "gauge_per_stress": "gauge over stress", "calibrated": "from a calibration", "scale_uncertainty": "uncertainty",
    "slope_kn_per_mpa": "slope, kN per MPa", "intercept_kn": "intercept", "residual_sd_kn": "scatter of the points",
    "in_range": "between the points", "passing": "shares finer", "loss_share": "lost in sieving",
    "d10_mm": "D10", "d30_mm": "D30", "d60_mm": "D60", "cu": "Cu", "cc": "Cc", "gravel_share": "gravel",
    "sand_share": "sand", "silt_share": "silt", "clay_share": "clay", "fines_share": "fines", "share": "finer",
    "recipes.share": "share", "strength_mpa": "strength", "size_mm": "size", "points": "each reading",
    "minutes": "minutes", "left_out": "readings left out", "capped": "shares above 100 % cut",
    "a_line_index": "A-line there",
    "u_line_index": "U-line there", "above_a_line": "on or above the A-line", "above_u_line": "above the U-line",
    "flow_r2": "R² of the line", "plastic_range": "threads, highest less lowest",
    "reported": "as reported, whole percent", "steps": "decisions", "shares": "shares of the blend",
    "worst_excess": "farthest outside", "feasible": "inside the envelope", "blend.range": "shares may lie between",
    "about": "measure", "inside": "inside", "drives": "drives the verdict", "says": "what it says",
    "not_measured": "not measured", "soil_parts": "parts of soil to one", "press_low_mpa": "press from",
    "press_high_mpa": "press up to", "envelopes": "distance from envelopes",
    "scatter": "scatter between blocks, in ln", "groups": "strength, with 90 % intervals", "held": "held",
    "fell_apart": "fell apart", "median_mpa": "strength", "low_mpa": "low", "high_mpa": "high",
    "characteristic_low_mpa": "characteristic, lower", "p_more": "more", "p_less": "less", "p_same": "the same",
    "p_cheapest": "cheapest that passes", "a": "recipe", "b": "against", "pairs": "recipes against each other",
    "order": "which pass", "foot_stress_mpa": "stress at the foot", "unit_strength_ratio": "block over foot stress",
    "cost_per_block": "cost of a block", "cost_per_m2": "cost of a m²", "carbon_kg_per_block": "CO2e of a block",
    "carbon_kg_per_m2": "CO2e of a m²", "carbon_missing": "without a carbon factor", "per_bag": "with one bag",
    "dry_soil_kg": "dry soil", "kg": "damp", "buckets": "buckets", "buckets_quarter": "to the quarter",
    "water_l": "water", "blocks": "blocks", "bags": "bags for all blocks", "due_at": "due",
    "window": "counts from and until", "soak_from": "soak not before", "soak_until": "soak not after",
    "volume_m3": "volume", "wet_density_kg_m3": "wet density", "dry_density_kg_m3": "dry density",
    "against_others": "against the others", "stands_out": "more than 3 % off",
    "modulus_of_rupture_mpa": "modulus of rupture", "height_over_thickness": "height over thickness",
    "height_over_diameter": "height over diameter", "heathcote_jankulovski": "Heathcote and Jankulovski",
    "en_772_1": "EN 772-1", "astm_d1633": "ASTM D1633", "krefeld": "Krefeld", "value_mpa": "characteristic value",
    "factor": "factor", "factor_from": "factor from", "mean_mpa": "mean",
    "sd_mpa": "standard deviation", "variation": "coefficient of variation", "lowest_mpa": "lowest",
    "lower_mpa": "lower value", "farthest": "reading farthest out", "place": "number in the list",
    "distance": "standard deviations out", "critical": "critical", "strays": "strays", "limits.name": "limit",
    "other_ratio": "other ratio", "content.at": "strength at the shares asked for", "at.share": "share",
    "least.share": "share", "least": "the least that passes", "why": "why no share is given",
    "content.slope": "slope of strength on share, in ln", "next_low_mpa": "next block from", "next_high_mpa": "up to",
    "least.kind": "tested?", "at.kind": "tested?", "tested": "tested",
    "best": "settles it soonest", "plans": "likeliest for so many blocks", "plans.shares": "shares",
    "best.shares": "shares",
    "plans.blocks": "blocks of each", "best.blocks": "blocks of each, in every condition", "mixes": "batches",
    "blocks_in_all": "blocks in all", "settled": "chance that it is settled", "passes": "chance that one passes",
    "fails": "chance that all fail", "chance": "next block survives", "at_least": "at least, 95 % sure",
    "amend": "blend it first", "between": "not tested", "outside": "not tested, outside the range",
}  # fmt: skip

SHARES = frozenset({
    "share", "moisture", "moistures", "range", "blend.range", "liquid_limit", "plastic_limit", "plasticity_index",
    "plastic_range", "a_line_index", "u_line_index", "shrinkage", "absorption", "uptake", "against_others",
    "worst_excess", "scale_uncertainty", "variation",
    "dry soil", "dry mix", "achieved.components", "shares", "reasons.value", "reasons.low", "reasons.high",
})  # fmt: skip
CHANCES = frozenset(
    {"assurance", "settled", "passes", "fails", "chance", "at_least", "p_more", "p_less", "p_same", "p_cheapest"}
)
PLAIN = frozenset({"reported.liquid_limit", "reported.plastic_limit", "reported.plasticity_index"})
# Objects whose keys are names that somebody gave, not words of ours.
NAMED = frozenset({"dry_kg", "weigh_kg", "stabiliser_shares", "components", "stabilisers", "shares", "blend.range"})
MOMENTS = frozenset({"due_at", "window", "soak_from", "soak_until"})
MONEY = frozenset({"cost_per_block", "cost_per_m2", "cost"})
# What there is only in one case, and is left out in the other.
OFTEN_ABSENT = frozenset(
    {
        "absorption",
        "uptake",
        "factor",
        "factor_from",
        "remark",
        "flow_index",
        "flow_r2",
        "least",
        "why",
        "stop_gauge_mpa",
    }
)
# Where somebody is to stop is rounded down and never up.
FLOORS = frozenset({"stop_gauge_mpa"})
# An empty end of a range, and what the remark in the same row says instead.
ABSENT = frozenset({
    "reasons.low", "reasons.high", "press_low_mpa", "press_high_mpa", "recipes.share", "soil_parts",
})  # fmt: skip
# A list of two that is from and to.
SPANS = frozenset({"window", "blend.range"})
# Openings of sieves are named in millimetres everywhere.
SIZES = frozenset({"size_mm", "d10_mm", "d30_mm", "d60_mm"})
# Tables with more columns than can be read show these; the rest stands below, word for word.
COLUMNS = {
    "groups": (
        "recipe", "condition", "readings", "held", "fell_apart", "median_mpa", "low_mpa", "high_mpa",
        "characteristic_low_mpa",
    ),
    "reasons": ("about", "value", "low", "high", "says", "drives", "source", "standing"),
    "envelopes": ("name", "worst_excess", "source", "standing"),
    "recipes": ("stabiliser", "share", "basis", "soil_parts", "press_low_mpa", "press_high_mpa", "remark", "standing"),
}  # fmt: skip
UNITS = (
    ("volume_m3", "m3"),
    ("_kg_m3", "kg/m3"), ("_kn_per_mpa", ""), ("_kg", "kg"), ("carbon_kg_per_block", "kg"), ("carbon_kg_per_m2", "kg"),
    ("_g", "g"), ("_mm", "mm"), ("_mpa", "MPa"), ("_kn", "kN"), ("_mpa_s", "MPa/s"),
    ("_kn_s", "kN/s"), ("_l", "L"), ("per_bag.stabilisers", "kg"),
)  # fmt: skip


def _of(words: frozenset[str], path: tuple[str, ...]) -> bool:
    return path[-1] in words or ".".join(path[-2:]) in words


def label(path: tuple[str, ...]) -> str:
    """Return what the thing at a place of the answer is called."""
    word = LABELS.get(".".join(path[-2:])) or LABELS.get(path[-1]) or path[-1].replace("_", " ")
    return word[:1].upper() + word[1:]


def is_named(path: tuple[str, ...]) -> bool:
    """Return whether the keys of the object at this place are names that somebody gave."""
    return _of(NAMED, path)


def is_absent(path: tuple[str, ...]) -> bool:
    """Return whether nothing at this place means that there is none, and not that it is unknown."""
    return _of(ABSENT, path)


def is_span(path: tuple[str, ...]) -> bool:
    """Return whether the two at this place are from and to."""
    return _of(SPANS, path)


def unit(path: tuple[str, ...]) -> str:
    """Return what the number at this place is: a unit, "%", "chance", "when", "money" or nothing in particular."""
    if _of(PLAIN, path):
        return ""
    if _of(SHARES, path) or path[-1].endswith("_share"):
        return "%"
    if _of(CHANCES, path):
        return "chance"
    if _of(MOMENTS, path):
        return "when"
    if _of(MONEY, path):
        return "money"
    if path[-1] == "kg":
        return "kg"
    ending = ".".join(path[-2:])
    return next((unit for end, unit in UNITS if ending.endswith(end)), "")
