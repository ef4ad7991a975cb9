"""The table of faults holds nothing that is not tried any more."""

from pathlib import Path

from tests.faults.conftest import written


def test_every_fault_of_the_table_is_still_tried() -> None:
    tried = "".join(path.read_text("utf-8") for path in Path(__file__).parent.glob("test_*.py"))
    assert len(written()) > 10
    assert {fault for fault, _ in written() if f'faults.add("{fault}", ' not in tried} == set()
