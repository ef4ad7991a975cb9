"""What is to be said against a reading: its calibration, the limit of the press, a zero that wandered."""

from service.measured.crushed import zero_wandered
from service.measured.gauge import GaugeLine, above
from service.phrase import Phrase
from service.records.block_queries import CrushedOnce
from service.shop_clock import ShopClock
from service.trade.press.gauge_to_stress import Peak


def remarks_on(
    crushed: CrushedOnce, known: GaugeLine | None, peak: Peak | None, clock: ShopClock
) -> tuple[Phrase, ...]:
    """Return what counts against a reading, nothing for one without a gauge."""
    if known is None or peak is None or crushed.press is None or crushed.gauge is None:
        return ()
    found = []
    if known.range_mpa is None:
        found.append(Phrase("No calibration was valid that day: force comes from the ram size alone."))
    elif peak.in_range is False:
        least_mpa, most_mpa = known.range_mpa
        found.append(
            Phrase(
                "The gauge was outside the calibration, which goes from {least_mpa} to {most_mpa}.",
                {"least_mpa": least_mpa, "most_mpa": most_mpa},
            )
        )
    if known.valid_until is not None and known.over_on(clock.day(crushed.crushing.crushed_at)):
        found.append(Phrase("The calibration had ended on {day}.", {"day": known.valid_until.isoformat()}))
    if crushed.press.working_limit_kn is not None and above(
        peak.gauge_mpa, known.stop_mpa(crushed.press, crushed.gauge, crushed.press_session)
    ):
        found.append(
            Phrase(
                "This is above the working limit of the press, {limit_kn}.",
                {"limit_kn": crushed.press.working_limit_kn},
            )
        )
    return (*found, *_wandered(crushed))


def _wandered(crushed: CrushedOnce) -> tuple[Phrase, ...]:
    press_session = crushed.press_session
    if press_session is None or press_session.zero_after_mpa is None or not zero_wandered(crushed.gauge, press_session):
        return ()
    said = {"before_mpa": press_session.zero_before_mpa, "after_mpa": press_session.zero_after_mpa}
    return (Phrase("The unloaded gauge went from {before_mpa} to {after_mpa} in that session.", said),)
