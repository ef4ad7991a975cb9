"""How long a table of older readings takes to come in: ``python -m tests.bench.bench_import ROWS``."""

import json
import resource
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time

from service.desk import imports
from service.paper import importing
from service.paper.import_columns import guessed
from service.paper.tables_read import read_table
from service.records.database import migrate
from tests.cast import open_cast

HEAD = "job,recipe,block,condition,age (days),soaked (h),force (kN),face length (mm),face width (mm),test date\n"


def main() -> None:
    """Take in so many rows of an invented shop."""
    rows = int(sys.argv[1])
    lines = (
        f"J{n // 30},{'AB'[n % 2]},{n % 30},{'wet,28,24' if n % 3 else 'dry,28,'},{40 + n % 17}.5,140,90,2021-03-04\n"
        for n in range(rows)
    )
    content = (HEAD + "".join(lines)).encode()
    with TemporaryDirectory() as there:
        url = f"sqlite:///{Path(there) / 'shop.sqlite'}"
        migrate(url)
        cast = open_cast(url, Path(there))
        began = process_time()
        file_id = importing.bring(cast.olu, name="old.csv", content=content)
        checked = importing.take_in(cast.olu, file_id=file_id, choices=guessed(read_table(content), units="metric"))
        took = process_time() - began
        assert not checked.problems and imports.show(cast.olu, file_id=file_id).readings == rows
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(json.dumps({"rows": rows, "busy_s": took, "peak_mb": peak, "mb": len(content) / 1e6}) + "\n")


if __name__ == "__main__":
    main()
