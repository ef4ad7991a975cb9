"""What is believed of strength before the first reading: docs/model.md has every source."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Prior:
    """What is believed before the first reading; replaceable by the shop's own history."""

    median_mpa: float = 3.0
    log_sd: float = 1.0
    scatter: float = 0.15
    scatter_log_sd: float = 0.5
    spread: float = 0.30
    spread_log_sd: float = 0.5
    off_curve: float = 0.10
    off_curve_log_sd: float = 0.5
    own_way: float = 0.12
    own_way_log_sd: float = 0.5
    uneven: float = 0.25
    uneven_log_sd: float = 0.5
    mixes: float = 0.06
    mixes_log_sd: float = 0.6
    slope: float = 1.1
    slope_sd: float = 0.4
    bend: float = -0.25
    bend_sd: float = 0.25
