"""At which press a due block is best crushed, as far as the blocks beside it have told; else no word of it."""

from collections.abc import Iterable, Mapping
from uuid import UUID

from sqlmodel import Session

from service.records import block_queries
from service.records.block_queries import GaugeAtHand
from service.records.presses import Press


def press_of_blocks(session: Session, groups: Mapping[UUID, UUID], hands: Iterable[GaugeAtHand]) -> dict[UUID, str]:
    """Return for each block, given with its group, the press that suits it; nothing in a shop with one press.

    The blocks of one recipe and condition stay at one press, so that they are read alike; where one of them outlived
    it, the others go to a stronger one.
    """
    presses = {hand.press.id: hand.press for hand in hands}
    if len(presses) < 2 or not groups:
        return {}
    told: dict[UUID, tuple[Press, bool]] = {}
    for one in block_queries.crushed_in_groups(session, set(groups.values())):
        press = presses.get(one.press_id)
        if press is not None:
            outlived = told.get(one.group_id, (press, False))[1] or one.held_because == "press limit"
            told[one.group_id] = (press, outlived)
    suits = {group_id: _suits(press, outlived, presses.values()) for group_id, (press, outlived) in told.items()}
    return {block_id: suits[group_id] for block_id, group_id in groups.items() if group_id in suits}


def _suits(press: Press, outlived: bool, presses: Iterable[Press]) -> str:
    if not outlived or press.working_limit_kn is None:
        return press.name
    limits = {one.name: one.working_limit_kn or 0.0 for one in presses}
    strongest = max(limits, key=lambda name: limits[name])
    return strongest if limits[strongest] > press.working_limit_kn else press.name
