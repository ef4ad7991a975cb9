"""How a soil of the demo is tested: sieves, limits, box, signs, hydrometer, jar, vessel, and the moisture trial."""

from typing import Any
from uuid import UUID

from service.demo.invented_days import Teller, typed
from service.desk.intake import sedimentation, soil_tests
from service.desk.plan import moisture

VESSEL, VESSEL_HOLDS = "1.2 kg", "10 L"


def test_soil(teller: Teller, material_id: UUID, about: soil_tests.About, told: dict[str, Any]) -> None:
    """Test a soil or sand in every way that the story tells."""
    tess = teller.technician
    if "sieves" in told:
        sieving = told["sieves"]
        soil_tests.record_sieves(
            tess,
            material_id=material_id,
            sieves=[
                soil_tests.SieveGiven(typed(size, "opening"), typed(kept, "sieve_mass"))
                for size, kept in sieving["rows"]
            ],
            dry_mass_g=typed(sieving["dry"], "sieve_mass"),
            washed_dry_mass_g=typed(sieving["washed"], "sieve_mass"),
            pan_g=typed(sieving["pan"], "sieve_mass"),
            about=about,
        )
    if "cups" in told:
        cups = [
            soil_tests.CupGiven(blows, *(typed(text, "sieve_mass") for text in (wet, dry, can)))
            for blows, can, wet, dry in told["cups"]
        ]
        soil_tests.record_flow(teller.technician, material_id=material_id, flow=cups, about=about)
    if "threads" in told:
        threads = [
            soil_tests.ThreadGiven(*(typed(text, "sieve_mass") for text in (wet, dry, can)))
            for can, wet, dry in told["threads"]
        ]
        soil_tests.record_threads(teller.technician, material_id=material_id, threads=threads, about=about)
    if "shrinkage" in told:
        length, width, depth = (typed(text, "length") for text in told["shrinkage"]["box"])
        soil_tests.record_shrinkage(
            teller.technician,
            material_id=material_id,
            box_length_mm=length,
            box_width_mm=width,
            box_depth_mm=depth,
            shrinkage_mm=typed(told["shrinkage"]["shrinkage"], "length"),
            about=about,
        )
    for kind, positive, sign in told.get("signs", []):
        soil_tests.record_sign(
            teller.technician, material_id=material_id, kind=kind, positive=positive, sign=sign, about=about
        )
    _settle(teller, material_id, about, told)
    for filled, state in told.get("bulk", []):
        _fill_vessel(teller, material_id, about, filled, damp=state == "damp")


def _settle(teller: Teller, material_id: UUID, about: soil_tests.About, told: dict[str, Any]) -> None:
    if "hydrometer" in told:
        one = told["hydrometer"]
        suspension = sedimentation.SuspensionGiven(
            dry_mass_g=typed(one["dry"], "sieve_mass"),
            specific_gravity=typed(one["gravity"], "plain"),
            separation_mm=typed(one["below"], "opening"),
            dispersant=one["dispersant"],
            meniscus=typed(one["meniscus"], "plain"),
        )
        sedimentation.record_hydrometer(
            teller.technician,
            material_id=material_id,
            suspension=suspension,
            blanks=[
                sedimentation.ReadingGiven(typed(read, "plain"), typed(warm, "temperature"))
                for read, warm in one["blanks"]
            ],
            readings=[
                sedimentation.ReadingGiven(typed(read, "plain"), typed(warm, "temperature"), typed(after, "minutes"))
                for after, read, warm in one["readings"]
            ],
            about=about,
        )
    if "jar" in told:
        layers = {f"{layer}_mm": typed(thick, "length") for layer, thick in told["jar"].items()}
        sedimentation.record_jar(teller.technician, material_id=material_id, about=about, **layers)


def _fill_vessel(teller: Teller, material_id: UUID, about: soil_tests.About, filled: str, *, damp: bool) -> None:
    sedimentation.record_bulk(
        teller.technician,
        material_id=material_id,
        filled_kg=typed(filled, "mass"),
        volume_l=typed(VESSEL_HOLDS, "volume"),
        vessel_kg=typed(VESSEL, "mass"),
        damp=damp,
        about=about,
    )


def try_moistures(teller: Teller, job_id: UUID, told: dict[str, Any]) -> None:
    """Press a block at each moisture of the story."""
    length, width = (typed(side, "length") for side in told["face"])
    for water, mass, height in told["blocks"]:
        moisture.try_moisture(
            teller.technician,
            job_id=job_id,
            moisture=typed(water, "moisture"),
            wet_mass_kg=typed(mass, "mass"),
            length_mm=length,
            width_mm=width,
            height_mm=typed(height, "length"),
        )
