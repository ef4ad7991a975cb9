"""Older readings out of a table as shops really have them: dirty, in two languages, in mixed units."""

from dataclasses import replace
from datetime import date
from io import BytesIO
from uuid import UUID

import openpyxl
import pytest
from sqlmodel import Session, select

from service.desk import imports
from service.desk.results import expected_strength, readings_out
from service.errors import Conflict, Forbidden, Invalid
from service.measured.imported import imported_reading, imported_stress
from service.paper import exporting, importing
from service.paper.import_columns import Choices, guessed
from service.paper.importing import Checked, check
from service.paper.tables_read import read_table
from service.records.customers import Customer
from service.records.imports import ImportedReading, whole
from service.words.old_words import condition_of, day_of, mark_of, order_of, outcome_of, with_point
from tests.cast import Cast
from tests.trials import a_tried_job

CLEAN = """job,recipe,block,condition,age (days),soaked (h),outcome,stress (psi),test date,customer
J1,A,1,air-dry,28,,broke,620,2021-03-04,Cy's Cob Yard
J1,A,2,air-dry,28,,held,700,2021-03-04,cy's cob yard
J1,A,3,soaked,28,24,fell apart,,2021-03-04,Cy's Cob Yard
J2,B,1,soaked,28,24,broke,1 MPa,2021-04-05,New Adobe Yard
"""
# A spreadsheet's export in Spanish: a BOM, a title, semicolons, decimal commas, points between thousands, blank lines,
# days of three kinds, units in cells, a block twice, a formula, a word that nobody knows, an age below zero.
DIRTY = """\ufeffEnsayos viejos;;;;;;;;;
;;;;;;;;;
Trabajo;Receta;Bloque;Condición;Edad (días);Horas en agua;Resultado;Fuerza [kN];Largo, mm;Ancho (cm)
7;Cal 6 %;1;seco;28;;se rompió;45,5;140;9,0

7;Cal 6 %;2;saturado;28;24;no se rompió;1.045,5;140;9,0
7;Cal 6 %;2;seco;28;;se rompió;4.500 kgf;140;9,0
7;Cal 6 %;3;;28;;se rompió;44;140;9,0
7;Cal 6 %;4;mojado;28;;se rompió;44;140;9,0
7;Cal 6 %;5;seco;-3;;se rompió;44;140;9,0
7;Cal 6 %;6;seco;28;;quizás;44;140;9,0
7;Cal 6 %;7;seco;28;;se rompió;=A1*2;140;9,0
7;Cal 6 %;8;seco;28;;se rompió;;140;9,0
7;Cal 6 %;9;seco;28;;se rompió;44;;9,0
7;Cal 6 %;10;seco;28 lunas;;se rompió;44;140;9,0
;Cal 6 %;11;seco;28;;se rompió;44;140;9,0
"""


def read(text: str, *, units: str = "metric", coded: str = "utf-8") -> tuple[Checked, Choices]:
    sheet = read_table(text.encode(coded))
    choices = guessed(sheet, units=units)
    return check(sheet, choices), choices


def brought(cast: Cast, text: str) -> tuple[UUID, Choices]:
    content = text.encode()
    file_id = importing.bring(cast.olu, name="old.csv", content=content)
    return file_id, guessed(read_table(content), units="imperial")


def taken(cast: Cast, text: str = CLEAN) -> UUID:
    file_id, choices = brought(cast, text)
    assert importing.take_in(cast.olu, file_id=file_id, choices=choices).problems == ()
    return file_id


def test_a_dirty_table_is_read_as_it_is_meant_and_every_problem_stands_at_its_row() -> None:
    checked, choices = read(DIRTY)
    assert choices.mark == "," and choices.of["force_kn"].unit == "kN" and choices.of["width_mm"].unit == "cm"
    assert [(one.row, one.head) for one in checked.problems] == [
        (7, "Block"), (8, "Condición"), (9, "Horas en agua"), (10, "Edad (días)"), (11, "Resultado"),
        (12, "Fuerza [kN]"), (13, "Fuerza [kN]"), (14, "Largo, mm"), (15, "Edad (días)"), (16, "Trabajo"),
    ]  # fmt: skip
    first, second, kgf = checked.readings
    assert (first.job, first.recipe, first.condition, first.outcome) == ("7", "Cal 6 %", "air-dry", "broke")
    assert first.force_kn and (first.force_kn.value, first.force_kn.text, first.force_kn.unit) == (45.5, "45.5", "kN")
    assert first.width_mm and first.width_mm.value == pytest.approx(90)
    assert second.force_kn and (second.force_kn.value, second.outcome) == (1045.5, "held")
    # 1 kgf is 9.80665 N (SI brochure, 9th edition): 4500 kgf is 44.130 kN.
    assert kgf.force_kn and kgf.force_kn.value == pytest.approx(44.129925)


@pytest.mark.parametrize("coded", ["utf-8-sig", "cp1252", "utf-16"])
def test_letters_are_read_right_however_they_were_written(coded: str) -> None:
    text = "job;recipe;block;condición;edad;resistencia (MPa)\nMuñoz;Cal;1;seco;28;3,1\n"
    (one,) = read(text, coded=coded)[0].readings
    assert (one.job, one.stress_mpa and one.stress_mpa.value) == ("Muñoz", 3.1)


def test_a_table_in_english_with_units_in_cells_and_heads() -> None:
    checked, choices = read(CLEAN, units="imperial")
    assert checked.problems == () and choices.of["stress_mpa"].unit == "psi"
    assert [one.outcome for one in checked.readings] == ["broke", "held", "fell apart", "broke"]
    # 1 psi is 0.00689475729 MPa (NIST SP 811, appendix B): 620 psi is 4.2747 MPa; its last digit is one psi.
    first, *_, last = checked.readings
    assert first.stress_mpa and first.stress_mpa.value == pytest.approx(4.27475, abs=1e-4)
    assert first.step == pytest.approx(0.00689476) and last.stress_mpa and last.stress_mpa.value == 1.0
    assert first.stress_mpa.as_read() == {"text": "620", "unit": "psi"}


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("2021-03-04", "day", date(2021, 3, 4)), ("04/03/2021", "day", date(2021, 3, 4)),
        ("3/4/21", "month", date(2021, 3, 4)), ("4.3.2021", "day", date(2021, 3, 4)),
        ("4-mar-21", "day", date(2021, 3, 4)), ("4 de marzo de 2021", "month", date(2021, 3, 4)),
        ("March 4, 2021", "day", date(2021, 3, 4)), ("12 ene 1998", "day", date(1998, 1, 12)),
        ("4/3/98", "day", date(1998, 3, 4)), ("2021-03-04 14:30", "day", date(2021, 3, 4)),
    ],
)  # fmt: skip
def test_days_of_several_kinds(text: str, order: str, day: date) -> None:
    assert day_of(text, order) == day


@pytest.mark.parametrize("text", ["31/2/2021", "yesterday", "2021", "13/13/2021"])
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(Invalid):
        day_of(text, "day")


def test_which_comes_first_is_told_by_a_day_above_twelve() -> None:
    assert order_of(["1/2/2021", "13/2/2021"], otherwise="month") == "day"
    assert order_of(["1/2/2021", "2/13/2021"], otherwise="day") == "month"
    assert order_of(["1/2/2021"], otherwise="month") == "month"


def test_marks_between_digits() -> None:
    assert mark_of(["1,5", "2,25", "1.000,5"]) == "," and mark_of(["1.5", "1,000.5", "1,200"]) == "."
    assert with_point("1.234.567,8", ",") == "1234567.8" and with_point("1,234.5 psi", ".") == "1234.5 psi"
    # A comma that parts no thousands is left, and refused where it is read.
    assert with_point("1,23", ".") == "1,23"


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("Wet", "soaked"), ("Saturada", "soaked"), ("soaked 4 h, 7 days", "soaked"), ("oven-dry", "oven-dry"),
        ("seco al horno", "oven-dry"), ("Seco", "air-dry"), ("as cured, 7 days", "as cured"),
        ("sin sumergir", "as cured"), ("not soaked, 7 days", "as cured"), ("sin remojar", "as cured"),
        ("sin mojar", "as cured"), ("blue", None),
    ],
)  # fmt: skip
def test_words_for_the_state_of_a_block(word: str, meant: str | None) -> None:
    assert condition_of(word) == meant


def test_words_for_how_it_ended() -> None:
    said = ["broke", "se rompió", "Failed", "did not break", "No se rompió", "se deshizo", "invalid test", "hm"]
    meant = ["broke", "broke", "broke", "held", "held", "fell apart", "spoiled", None]
    assert [outcome_of(one) for one in said] == meant


def test_a_file_is_taken_in_whole_or_not_at_all(cast: Cast) -> None:
    file_id, choices = brought(cast, CLEAN.replace("620", "no idea"))
    assert len(importing.take_in(cast.olu, file_id=file_id, choices=choices).problems) == 1
    with Session(cast.stores.read) as session:
        assert session.exec(select(ImportedReading)).all() == []
    assert imports.show(cast.olu, file_id=file_id).imported_at is None


def test_what_was_taken_in_says_who_when_and_of_which_file(cast: Cast) -> None:
    file_id = taken(cast)
    (file,) = imports.brought(cast.olu)
    assert (file.id, file.name, file.by, file.readings) == (file_id, "old.csv", "Olu", 4)
    assert file.imported_at == cast.clock.now
    jobs = imports.jobs_of(cast.olu, file_id=file_id)
    assert [(one.name, one.customer, one.readings) for one in jobs] == [
        ("J1", "Cy's Cob Yard", 3),
        ("J2", "New Adobe Yard", 1),
    ]
    with Session(cast.stores.read) as session:
        names = [one.name for one in session.exec(select(Customer))]
        # A customer who is known is not added again, and what was typed is kept word for word.
        assert sorted(names) == ["Cy's Cob Yard", "Dov's Dry Walls", "New Adobe Yard"]
        first = session.exec(select(ImportedReading).where(ImportedReading.outcome == "broke")).first()
        assert first and first.as_read["stress_mpa"] == {"text": "620", "unit": "psi"}


def test_the_same_file_is_not_taken_in_twice_unless_it_counts_no_longer(cast: Cast) -> None:
    file_id = taken(cast)
    with pytest.raises(Conflict, match="imported already"):
        brought(cast, CLEAN)
    imports.end(cast.olu, file_id=file_id, because="wrong units")
    assert taken(cast) != file_id
    with Session(cast.stores.read) as session:
        assert sum(len(one.readings) for one in whole(session)) == 4


def test_only_the_owner_brings_files(cast: Cast) -> None:
    for caller in (cast.tess, cast.cy):
        with pytest.raises(Forbidden):
            importing.bring(caller, name="old.csv", content=CLEAN.encode())


def test_a_force_and_a_gauge_of_the_shop_come_to_the_stress_that_a_hand_finds(cast: Cast) -> None:
    tried = a_tried_job(cast)
    text = "job,recipe,block,condition,age (days),gauge (MPa),face length (mm),face width (mm),test date\n"
    content = (text + "J1,A,1,air-dry,28,12.4,140,90,2027-02-20\n").encode()
    file_id = importing.bring(cast.olu, name="gauge.csv", content=content)
    choices = guessed(read_table(content), units="metric")
    (problem,) = importing.take_in(cast.olu, file_id=file_id, choices=choices).problems
    assert problem.head == "Gauge"
    choices = replace(choices, gauge=str(tried.gauge_id))
    assert importing.take_in(cast.olu, file_id=file_id, choices=choices).problems == ()
    (job,) = readings_out.of_file(cast.olu, file_id=file_id)
    crushed = job.readings[0].crushed
    # As in tests/trials.py: 12.4 MPa on that day's line is 53.83 kN, on 140 x 90 mm 4.272 MPa.
    assert crushed and crushed.stress and crushed.stress.stress_mpa == pytest.approx(4.27222, abs=2e-3)


def test_a_force_over_its_face() -> None:
    given = {
        "imported_job_id": UUID(int=1),
        "row": 1,
        "block": "1",
        "recipe": "A",
        "batch": "1",
        "condition": "air-dry",
    }
    one = ImportedReading(
        **given, age_days=28, outcome="broke", force_kn=44.1, step=0.1, length_mm=140, width_mm=90, as_read={}
    )
    found = imported_stress(one, {}, {})
    # 44.1 kN on 126 cm2 is 3.5 MPa; a tenth of a kN is 0.00794 MPa.
    assert found and found.stress_mpa == pytest.approx(3.5) and found.graduation_mpa == pytest.approx(0.00793651)
    reading = imported_reading(one, found)
    assert reading and (reading.low_mpa, reading.high_mpa) == (pytest.approx(3.49603), pytest.approx(3.50397))


def test_imported_jobs_count_for_the_expected_strength_and_no_longer_when_they_should_not(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    # On a machine that does much else a look may end before the jobs are worked out.
    monkeypatch.setattr(expected_strength, "LOOK_SECONDS", 300.0)
    lines = ["job,recipe,block,condition,age (days),stress (MPa)"]
    for job in range(9):
        # Nine jobs around 3 MPa, blocks a tenth apart: enough for the shop's history (eight at least).
        lines += [f"old {job},A,{n},air-dry,28,{(2.5 + job / 8) * (0.9 + n / 20):.2f}" for n in range(5)]
    file_id = taken(cast, "\n".join(lines))
    found = expected_strength.compared(cast.olu)
    assert found.history and len(found.history.jobs) == 9 and found.history.blocks == 45
    assert found.history.jobs[0] == "old 0 (imported)" and 2 < found.history.prior.median_mpa < 4.5
    imports.end(cast.olu, file_id=file_id, because="another shop's")
    assert expected_strength.compared(cast.olu).history is None


def test_imported_readings_leave_with_the_shops_own_in_one_table(cast: Cast, tmp_path) -> None:
    taken(cast)
    assert exporting.shop_to(cast.olu, tmp_path / "all.csv", form="csv") == 2
    text = (tmp_path / "all.csv").read_text("utf-8-sig")
    assert "J1 (imported)" in text and "2021-03-04" in text and ",4.27" in text


def test_our_own_table_can_be_brought_back(cast: Cast) -> None:
    tried, out = a_tried_job(cast), BytesIO()
    exporting.job_to(cast.olu, out, job_id=tried.job_id, form="xlsx")
    sheet = read_table(out.getvalue())
    checked = check(sheet, guessed(sheet, units="metric"))
    assert checked.problems == () and len(checked.readings) == 30
    soaked = next(one for one in checked.readings if one.block == "1-A6")
    assert soaked.soak_hours and soaked.soak_hours.value == 4 and soaked.age_days.value == 7


def test_a_workbook_with_days_and_blank_rows() -> None:
    book = openpyxl.Workbook()
    for row in (
        ["job", "recipe", "block", "condition", "pressed on", "test date", "stress, MPa"],
        [], ["J1", "A", 1, "dry", date(2021, 3, 4), date(2021, 4, 1), 3.25],
    ):  # fmt: skip
        book.active.append(row)
    out = BytesIO()
    book.save(out)
    checked, _ = (lambda sheet: (check(sheet, guessed(sheet, units="metric")), sheet))(read_table(out.getvalue()))
    (one,) = checked.readings
    assert (one.block, one.age_days.value, one.crushed_on, one.row) == ("1", 28.0, date(2021, 4, 1), 3)


@pytest.mark.parametrize("content", [b"", b"\x89PNG\r\n\x1a\n\0\0", b"PK\x03\x04 broken", b"one\ntwo\n", b" \n\n"])
def test_what_is_no_table_is_refused(content: bytes) -> None:
    with pytest.raises(Invalid):
        read_table(content)


def test_heads_of_two_rows_are_read_as_one_with_the_unit_that_spans_them() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (
        ["Old tests of the yard"], ["job", "recipe", "condition", "age (days)", "Stress (MPa)", "Face (cm)"],
        [None, None, None, None, None, "length", "width"], ["J1", "A", "dry", 28, 3.25, 14, 9],
    ):  # fmt: skip
        sheet.append(row)
    for cells in ("A1:G1", "A2:A3", "B2:B3", "C2:C3", "D2:D3", "E2:E3", "F2:G2"):
        sheet.merge_cells(cells)
    out = BytesIO()
    book.save(out)
    table = read_table(out.getvalue())
    assert table.head[4:] == ("Stress (MPa)", "length (cm)", "width (cm)")
    (one,) = check(table, guessed(table, units="metric")).readings
    assert (one.row, one.stress_mpa and one.stress_mpa.value) == (4, 3.25)
    assert (one.length_mm and one.length_mm.value, one.width_mm and one.width_mm.value) == (140.0, 90.0)


def test_days_of_three_kinds_blank_lines_and_units_in_heads_of_one_file() -> None:
    text = (
        "Trabajo;Receta;Estado;Edad (días);Resistencia [MPa];Fecha de ensayo;Observaciones\n"
        "7;A;seco;28;3,1;13/2/2021;=1+1\n;;;;;;\n\n7;A;seco;28;3,2;4 de marzo de 2021;-sin nada\n"
        "7;A;seco;28;3,3;2021-03-05;'@raro\n7;A;seco;28;3,4;31/2/2021;\n7;A;seco;28;=3+1;5/3/21;\n"
    )
    checked, choices = read(text, coded="cp1252")
    assert (choices.order, choices.mark) == ("day", ",")
    days = [date(2021, 2, 13), date(2021, 3, 4), date(2021, 3, 5)]
    assert [one.crushed_on for one in checked.readings] == days
    # What a spreadsheet would run is text here, and leaves as text again.
    assert [one.remark for one in checked.readings] == ["=1+1", "-sin nada", "@raro"]
    assert [(one.row, one.head, one.sentence) for one in checked.problems] == [
        (7, "Fecha de ensayo", "There is no such day in the calendar."),
        (8, "Resistencia [MPa]", "This is a formula: put its value here."),
    ]


def test_text_that_was_guarded_on_its_way_out_comes_back_as_it_was_typed(cast: Cast) -> None:
    taken(cast, CLEAN.replace("J1,A,1,", "=J1,A,1,"))
    out = BytesIO()
    (file_id,) = readings_out.imported(cast.olu)
    exporting.write(out, readings_out.of_file(cast.olu, file_id=file_id), cast.olu.shop, form="csv")
    assert b"\n'=J1 (imported)," in out.getvalue()
    assert read_table(out.getvalue()).rows[0][1][0] == "=J1 (imported)"


@pytest.mark.parametrize("head", ["Pit", "site", "Cantera", "Obra"])
def test_where_the_soil_was_dug_is_its_site(head: str) -> None:
    checked, _ = read(f"job,recipe,condition,age,stress (MPa),{head}\nJ1,A,dry,28,3.1,East bank\n")
    assert [one.site for one in checked.readings] == ["East bank"]
