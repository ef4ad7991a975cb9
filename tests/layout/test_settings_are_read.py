"""Every setting and every column that a form of the shop, a customer, a job or the bench writes is read somewhere.

A setting that nothing reads is a promise that nobody keeps. The table names one place each; the place must hold it.
"""

from pathlib import Path

import pytest

from service.records.database import METADATA

ROOT = Path(__file__).parents[2]
TABLES = ("shop", "customer", "job", "press", "gauge", "mould", "price", "receipt")
# What every row has, and what says when a row was over.
OF_EVERY_ROW = {"id", "created_at", "as_read", "ended_at", "customer_id", "material_id", "press_id", "job_id"}

READ = {
    "shop.name": ("templates/parts/nav.html", "shop.name"),
    "shop.time_zone": ("templates/job.html", "shop.time_zone"),
    "shop.currency": ("templates/parts/price.html", "shop.currency"),
    "shop.paper": ("templates/issued.html", "shop.paper"),
    "shop.units_first": ("templates/readings.html", "shop.units_first"),
    "shop.comma_thousands": ("service/web/form_input.py", "shop.comma_thousands"),
    "shop.language": ("service/desk/results/_compute.py", "shop.language"),
    "shop.assurance": ("service/desk/results/_compute.py", "shop.assurance"),
    "shop.block_price": ("service/desk/results/_acts.py", "shop.block_price"),
    "shop.calibration_price": ("service/desk/results/_acts.py", "shop.calibration_price"),
    "shop.margin": ("service/desk/results/_compute.py", "shop.margin"),
    "shop.owners_need_second_factor": ("service/records/shop.py", "shop.owners_need_second_factor"),
    "shop.all_need_second_factor": ("service/records/shop.py", "shop.all_need_second_factor"),
    "customer.name": ("templates/customers.html", ".name"),
    "shop.letterhead": ("templates/issued.html", "beside.letterhead"),
    "shop.whom_to_call": ("service/paper/letters.py", "whom_to_call"),
    "customer.language": ("service/desk/results/_compute.py", "customer.language or language"),
    "job.machine_pressure_mpa": ("service/paper/glance.py", "result.job.machine_pressure_mpa"),
    "customer.contact": ("templates/customer.html", "customer.contact"),
    "job.number": ("templates/job.html", "job.number"),
    "job.site": ("templates/job.html", "job.site"),
    "job.question": ("templates/job.html", "job.question"),
    "job.question_kind": ("service/desk/results/_compute.py", "job.question_kind"),
    "job.promised_on": ("service/desk/jobs_in_hand.py", "job.promised_on"),
    "job.closed_at": ("templates/job.html", "job.closed_at"),
    "job.closed_because": ("templates/job.html", "job.closed_because"),
    "job.wall_thickness_mm": ("service/desk/results/_compute.py", "wall_thickness_mm"),
    "job.wall_height_m": ("service/desk/results/_compute.py", "wall_height_m"),
    "job.roof_line_load_kn_m": ("service/desk/results/_compute.py", "roof_line_load_kn_m"),
    "job.machine_length_mm": ("service/desk/results/_compute.py", "machine_length_mm"),
    "job.machine_width_mm": ("service/desk/results/_compute.py", "machine_width_mm"),
    "job.machine_height_mm": ("service/desk/results/_compute.py", "machine_height_mm"),
    "job.machine_density_kg_m3": ("service/desk/results/_compute.py", "machine_density_kg_m3"),
    "press.name": ("templates/presses.html", "press.name"),
    "press.forms": ("templates/presses.html", "press.forms"),
    "press.crushes": ("service/records/block_queries.py", "Press.crushes"),
    "press.ram_diameter_mm": ("service/desk/presses.py", "press.ram_diameter_mm"),
    "press.rams": ("templates/presses.html", "press.rams"),
    "press.efficiency": ("templates/presses.html", "press.efficiency"),
    "press.rating_kn": ("templates/presses.html", "press.rating_kn"),
    "press.working_limit_kn": ("templates/presses.html", "press.working_limit_kn"),
    "gauge.name": ("templates/presses.html", "gauge.name"),
    "gauge.unit": ("templates/presses.html", "gauge.unit"),
    "gauge.graduation_mpa": ("templates/presses.html", 'as_shown(gauge, "graduation_mpa")'),
    "gauge.least_mpa": ("templates/presses.html", 'as_shown(gauge, "least_mpa")'),
    "gauge.full_scale_mpa": ("templates/presses.html", 'as_shown(gauge, "full_scale_mpa")'),
    "mould.name": ("templates/presses.html", "mould.name"),
    "mould.length_mm": ("templates/presses.html", "mould.length_mm"),
    "mould.width_mm": ("templates/presses.html", "mould.width_mm"),
    "mould.height_mm": ("templates/presses.html", "mould.height_mm"),
    "price.valid_from": ("templates/material.html", "price.valid_from"),
    "price.per_kg": ("templates/parts/price.html", "price.per_kg"),
    "price.carbon_kg_per_kg": ("templates/material.html", "price.carbon_kg_per_kg"),
    "price.carbon_low": ("templates/material.html", "price.carbon_low"),
    "price.carbon_high": ("templates/material.html", "price.carbon_high"),
    "price.source": ("templates/material.html", "price.source"),
    "price.bag_kg": ("templates/material.html", "price.bag_kg"),
    "price.bulk_kg_m3": ("templates/material.html", "price.bulk_kg_m3"),
    "receipt.label": ("templates/sack.html", "values.label"),
    "receipt.received_at": ("templates/sack.html", "values.received_at"),
    "receipt.received_by": ("templates/sack.html", "sack.by"),
    "receipt.mass_kg": ("templates/sack.html", "values.mass_kg"),
    "receipt.pit": ("templates/sack.html", "values.pit"),
    "receipt.dug_by": ("templates/sack.html", "values.dug_by"),
    "receipt.dug_on": ("templates/sack.html", "values.dug_on"),
    "receipt.depth_m": ("templates/sack.html", "values.depth_m"),
    "receipt.topsoil_stripped": ("templates/sack.html", "values.topsoil_stripped"),
    "receipt.colour": ("templates/sack.html", "values.colour"),
    "receipt.smell": ("templates/sack.html", "values.smell"),
    "receipt.roots": ("templates/sack.html", "values.roots"),
    "receipt.remarks": ("templates/sack.html", "values.remarks"),
    "receipt.retained": ("templates/sack.html", "values.retained"),
    "receipt.retained_until": ("templates/sack.html", "values.retained_until"),
    "receipt.discarded_at": ("service/records/overview.py", "Receipt.discarded_at"),
}
# Columns that no form writes: nobody is promised anything by them, and they stay empty.
NOT_WRITTEN = {
    "shop.logo_sha256": "a logo is planned; no page takes one",
}


def columns() -> set[str]:
    """Return the columns that these tables have of their own."""
    return {
        f"{table}.{column.name}"
        for table in TABLES
        for column in METADATA.tables[table].columns
        if column.name not in OF_EVERY_ROW
    }


def test_every_setting_and_column_has_a_place_where_it_is_read() -> None:
    assert columns() == READ.keys() | NOT_WRITTEN.keys()


@pytest.mark.parametrize("column", sorted(READ))
def test_the_place_reads_it(column: str) -> None:
    path, words = READ[column]
    assert words in (ROOT / path).read_text("utf-8")


@pytest.mark.parametrize("column", sorted(NOT_WRITTEN))
def test_no_form_writes_what_nothing_reads(column: str) -> None:
    name = column.partition(".")[2]
    written = [path for room in ("service/web", "service/desk", "templates") for path in (ROOT / room).rglob("*.[ph]*")]
    assert not [path for path in written if path.suffix in (".py", ".html") and name in path.read_text("utf-8")]
