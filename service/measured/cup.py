"""What the closings of a cup come to: points of blows and water."""

from service.records.soil_tests import FlowReading, ThreadReading, WholeTest
from service.trade.soil.moisture import moisture_of_can
from service.trade.soil.plasticity import FlowPoint

GRAMS_PER_KG = 1000.0


def flow_points(cup: WholeTest | None) -> list[FlowPoint]:
    """Return the closings of a cup; none without one."""
    return [FlowPoint(one.blows, water_of(one)) for one in cup.flows] if cup is not None else []


def water_of(can: FlowReading | ThreadReading) -> float:
    """Return the water of a can over its dry mass."""
    wet, dry, empty = (mass / GRAMS_PER_KG for mass in (can.wet_g, can.dry_g, can.can_g))
    return moisture_of_can(wet_kg=wet, dry_kg=dry, can_kg=empty)
