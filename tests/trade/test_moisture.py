"""Water content from can masses."""

from typing import Any

import pytest

from service.errors import Invalid
from service.trade.soil.moisture import Can, dry_mass_kg, moisture_of_can, moisture_of_cans
from tests.cases import cases, near


@pytest.mark.parametrize("case", cases("moisture"))
def test_moisture_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    if "can" in given:
        cans = [
            Can(wet_kg=wet, dry_kg=dry, can_kg=can)
            for wet, dry, can in zip(given["wet"], given["dry"], given["can"], strict=True)
        ]
        read = moisture_of_cans(cans)
        assert [share * 100 for share in read.moistures] == [
            near(w, tolerance=case["tolerance"]) for w in expected["w"]
        ]
        assert read.moisture * 100 == near(expected["mean"], tolerance=case["tolerance"])
        assert read.range == max(read.moistures) - min(read.moistures)
    else:
        masses = {"wet_kg": given["wet_plus_tin_g"], "dry_kg": given["dry_plus_tin_g"], "can_kg": given["tin_g"]}
        assert moisture_of_can(**masses) * 100 == near(expected["w_percent"], tolerance=case["tolerance"])


def test_no_can_is_refused() -> None:
    with pytest.raises(Invalid) as refused:
        moisture_of_cans([])
    assert set(refused.value.fields) == {"cans"}


def test_the_dry_mass_and_its_water_make_the_damp_mass() -> None:
    # Hand: 11.0 kg at 10 % are 10 kg dry and 1 kg of water.
    assert dry_mass_kg(damp_kg=11.0, moisture=0.10) == pytest.approx(10.0, rel=1e-15)
