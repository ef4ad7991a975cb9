"""What the charts of a soil show: its curves, an envelope, its place on the plasticity chart."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Curve:
    """A grading curve: size in mm and share passing, coarse to fine or the other way round."""

    name: str
    passing: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Envelope:
    """The band a grading should lie in: size in mm, least and greatest share passing."""

    name: str
    edges: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True)
class LimitsPoint:
    """A soil on the plasticity chart, both numbers as fractions of dry mass."""

    name: str
    liquid_limit: float
    plasticity_index: float
