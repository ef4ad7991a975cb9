"""A table that leaves as a file carries what was measured and never a formula."""

import csv
import io

import pytest

from service.paper.tables import as_csv


@pytest.mark.parametrize("typed", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "＝1"])
def test_typed_text_cannot_become_a_formula(typed):
    (_, (cell,)) = list(csv.reader(io.StringIO(as_csv(["remark"], [[typed]]), newline="")))
    assert cell == f"'{typed}"


def test_a_negative_number_stays_a_number():
    assert as_csv(["value"], [[-1.5], [None]]) == '\ufeffvalue\r\n-1.5\r\n""\r\n'


def test_commas_quotes_and_line_ends_survive():
    typed = 'cracked, "as if cut"\nthen held'
    assert list(csv.reader(io.StringIO(as_csv(["remark"], [[typed]]), newline="")))[1] == [typed]
