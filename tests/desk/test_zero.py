"""The zero of a gauge before and after a spell of crushing."""

import pytest

from service.desk.crushing import press
from service.errors import Invalid
from tests.bench_rows import press_with_line
from tests.cast import Cast
from tests.desk.test_crushing import mpa


def test_a_zero_of_more_than_a_tenth_of_the_dial_is_a_broken_gauge_or_a_wrong_unit(cast: Cast) -> None:
    # The dial ends at 40 MPa. Common practice, no published source.
    gauge = press_with_line(cast)
    with pytest.raises(Invalid) as refused:
        press.open_press_session(cast.tess, gauge_id=gauge, zero_before_mpa=mpa("4.1"))
    assert "zero_before_mpa" in refused.value.fields
    spell = press.open_press_session(cast.tess, gauge_id=gauge, zero_before_mpa=mpa("4.0")).id
    with pytest.raises(Invalid) as refused:
        press.close_press_session(cast.tess, press_session_id=spell, zero_after_mpa=mpa("-4.1"))
    assert "zero_after_mpa" in refused.value.fields
