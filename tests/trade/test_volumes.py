"""Parts by volume become shares of dry mass through measured bulk densities; every number by hand."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.mix.volume_parts import VolumePart, shares_by_volume
from service.trade.soil.starting_recipes import BulkDensities, share_from_parts


def test_one_part_of_cement_to_twelve_of_dry_soil():
    # 12 l of 1.2 kg/l are 14.4 kg of soil; a litre of cement at 1.44 kg/l is a tenth of that.
    found = shares_by_volume(components=[VolumePart("soil", 12, 1.2)], stabilisers=[VolumePart("cement", 1, 1.44)])
    assert found.components == {"soil": 1.0}
    assert found.stabilisers == pytest.approx({"cement": 0.1})


def test_what_lies_damp_counts_by_its_dry_mass():
    # 9 l x 1.26 kg/l at 5 % water: 10.8 kg dry; 3 l x 1.5 kg/l at 0: 4.5 kg; together 15.3 kg.
    # Cement 1 l x 1.53: 10 % of it; lime half a litre x 0.612: 2 %.
    found = shares_by_volume(
        components=[VolumePart("soil", 9, 1.26, 0.05), VolumePart("sand", 3, 1.5)],
        stabilisers=[VolumePart("cement", 1, 1.53), VolumePart("lime", 0.5, 0.612)],
    )
    assert found.components == pytest.approx({"soil": 10.8 / 15.3, "sand": 4.5 / 15.3})
    assert found.stabilisers == pytest.approx({"cement": 0.10, "lime": 0.02})


def test_a_field_note_and_a_customary_figure_differ_by_twenty_nine_percent_in_the_dose():
    # references.md section 10, conflict 6: a note's 50 kg in 27 l (1852 kg/m3) against 1440: 1852/1440 = 1.286.
    doses = [
        shares_by_volume(
            components=[VolumePart("soil", 16, 1.2)], stabilisers=[VolumePart("cement", 1, kg_l)]
        ).stabilisers["cement"]
        for kg_l in (50 / 27, 1.44)
    ]
    assert doses[0] / doses[1] == pytest.approx(1.286, abs=5e-4)


@given(
    parts=st.lists(st.tuples(st.floats(0.1, 50), st.floats(0.3, 2.5), st.floats(0, 0.5)), min_size=1, max_size=5),
    dose=st.tuples(st.floats(0.05, 5), st.floats(0.3, 2.5)),
    factor=st.floats(0.01, 100),
)
def test_shares_sum_to_one_and_the_size_of_a_part_does_not_matter(
    parts: list[tuple[float, float, float]], dose: tuple[float, float], factor: float
) -> None:
    def found(times: float) -> Any:
        return shares_by_volume(
            components=[VolumePart(str(n), times * one[0], *one[1:]) for n, one in enumerate(parts)],
            stabilisers=[VolumePart("cement", times * dose[0], dose[1])],
        )

    once, scaled = found(1.0), found(factor)
    assert sum(once.components.values()) == pytest.approx(1.0, abs=1e-12)
    assert scaled.components == pytest.approx(once.components, rel=1e-9)
    assert scaled.stabilisers == pytest.approx(once.stabilisers, rel=1e-9)


def test_one_soil_and_one_stabiliser_agree_with_the_starting_recipes():
    found = shares_by_volume(components=[VolumePart("soil", 16, 1.2)], stabilisers=[VolumePart("cement", 1, 1.44)])
    parts = share_from_parts(soil_parts=16, densities=BulkDensities(1.44, 1.2))
    assert found.stabilisers["cement"] == pytest.approx(parts)


@pytest.mark.parametrize(
    ("components", "stabilisers", "field"),
    [
        ([], [], "components"),
        ([VolumePart("soil", 0, 1.2)], [], "components.0.parts"),
        ([VolumePart("soil", 1, 0)], [], "components.0.bulk_density_kg_l"),
        ([VolumePart("soil", 1, 1.2, -0.1)], [], "components.0.moisture"),
        ([VolumePart("soil", 1, 1.2)], [VolumePart("cement", -1, 1.4)], "stabilisers.0.parts"),
        ([VolumePart("soil", 1, 1.2)], [VolumePart("soil", 1, 1.4)], "stabilisers.0.name"),
    ],
)
def test_what_makes_no_mix_is_refused_at_its_field(
    components: list[VolumePart], stabilisers: list[VolumePart], field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        shares_by_volume(components=components, stabilisers=stabilisers)
    assert field in refused.value.fields
