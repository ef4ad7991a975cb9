"""The machine's clock going back: work goes on, the trail holds, and no session lives longer for it."""

from datetime import timedelta

from sqlmodel import Session, select

from service.desk import backups, materials
from service.desk.signing_in.lifetimes_and_tries import SESSION_LASTS
from service.records.materials import Material
from tests.cast import Cast
from tests.faults.conftest import Faults, database_of, times
from tests.faults.writers import Count


def test_work_goes_on_and_the_trail_verifies_when_the_clock_goes_back(cast: Cast, faults: Faults) -> None:
    steps = times(10, 200)
    answered = []
    for number in range(steps):
        # Forward a little, back a lot: by an hour, a day, a year.
        cast.clock.forward(minutes=7)
        cast.clock.forward(hours=-(1, 24, 24 * 365)[number % 3])
        answered.append(materials.add_material(cast.tess, kind="sand", name=f"Sand {number}").id)
    with Session(cast.stores.read) as session:
        stored = list(session.exec(select(Material.id)))
    assert backups.verify(cast.olu).broken_at is None
    count = Count(steps, len(set(answered) - set(stored)), steps - len(set(answered)))
    how = f"back by an hour, a day or a year between acts, on {database_of(cast)}"
    faults.add("Clock goes back", times=steps, count=count, how=how)


def test_a_session_ends_at_its_time_however_often_the_clock_went_back(cast: Cast) -> None:
    tess, opened_at = cast.browser("tess"), cast.clock.now
    while cast.clock.now + timedelta(hours=20) < opened_at + SESSION_LASTS:
        cast.clock.forward(hours=20)
        assert tess.get("/jobs").status_code == 200
        cast.clock.forward(hours=-2)
        assert tess.get("/jobs").status_code == 200
    cast.clock.now = opened_at + SESSION_LASTS + timedelta(minutes=1)
    assert tess.get("/jobs", follow_redirects=False).status_code != 200
