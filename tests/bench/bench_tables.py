"""How long tables of a big shop take, and how much memory: ``python -m tests.bench.bench_tables FOLDER``.

FOLDER holds a shop that ``tests.bench.big_shop`` made. Each form is written by a process of its own, so that the memory
told is its own.
"""

import resource
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from secrets import token_hex
from tempfile import TemporaryDirectory
from time import perf_counter, process_time

from service.desk.doorway import Caller, Role, Via
from service.paper import exporting


def _caller(folder: Path) -> Caller:
    from service.app import open_stores
    from service.desk.signing_in.sessions import shop_facts
    from service.settings import Settings

    stores = open_stores(
        Settings(data=folder, database_url=f"sqlite:///{folder / 'shop.sqlite'}"), lambda: datetime.now(UTC)
    )
    nobody = Caller(stores=stores, via=Via.COMMAND, request_id=token_hex(8), role=Role.OWNER)
    return replace(nobody, shop=shop_facts(nobody))


def write(folder: Path, form: str) -> None:
    """Write all readings in one form and say what it took."""
    caller = _caller(folder)
    with TemporaryDirectory() as there:
        file = Path(there) / f"readings.{form}"
        began, worked = perf_counter(), process_time()
        jobs = exporting.shop_to(caller, file, form=form)
        took, busy = perf_counter() - began, process_time() - worked
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        size = file.stat().st_size / 1e6
    sys.stdout.write(f"{form}: {jobs} jobs, {size:.0f} MB, {took:.1f} s, {busy:.1f} s of processor, {peak:.0f} MB\n")


def main() -> None:
    """Write each form in a process of its own."""
    if len(sys.argv) == 3:
        write(Path(sys.argv[1]), sys.argv[2])
        return
    for form in exporting.FORMS:
        subprocess.run([sys.executable, "-m", "tests.bench.bench_tables", sys.argv[1], form], check=True)


if __name__ == "__main__":
    main()
