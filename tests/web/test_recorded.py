"""What a result says was recorded, or was not: rate of loading, sampling, the coverage factor of a certificate."""

import re

from sqlmodel import Session, select

from service.records.materials import Receipt
from tests.trials import a_tried_job, correct


def test_what_was_not_recorded_is_said_and_what_was_is_shown(cast):
    tried = a_tried_job(cast)
    olu, here = cast.browser("olu"), f"/jobs/{tried.job_id}/issue/preview"
    before = re.sub(r"<[^>]+>", " ", olu.get(here).text)
    assert re.search(r"Rate of loading\s+not recorded", before) and "MPa/s" not in before
    # By hand: 12.4 MPa on the gauge is 53.84 kN, 4.272 MPa on 140 x 90 mm; over 42.7 s that is 0.10 MPa/s.
    correct(cast, tried, "1-A1", "It was timed.", loading_s=42.7)
    with Session(cast.stores.write) as session:
        sack = session.exec(select(Receipt)).one()
        sack.dug_by = "the neighbour"
        session.add(sack)
        session.commit()
    after = olu.get(here).text.replace("\N{NO-BREAK SPACE}", " ")
    assert "0.1 MPa/s, mean from the first load to the highest reading; 1 of " in after
    assert "the neighbour, day not recorded" in after and "Uncertainty 1 %, coverage factor 1." in after
    assert "0.1 MPa/s, promedio desde" in olu.get(f"{here}?language=es").text.replace("\N{NO-BREAK SPACE}", " ")
