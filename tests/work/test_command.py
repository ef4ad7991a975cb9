"""`loambook work`, as a process: JSON in, JSON out, and what a refusal looks like."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

COMMAND = [str(Path(sys.executable).parent / "loambook"), "work"]
BATCH = {"dry_soil_kg": 4.2, "components": [{"name": "soil", "share": 1, "moisture": 0.03}], "moisture": 0.06}


def run(*arguments: str, given: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run([*COMMAND, *arguments], input=given, capture_output=True, text=True, check=False)


def test_an_answer_is_json_on_standard_output() -> None:
    done = run("batch", given=json.dumps(BATCH))
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["weigh_kg"] == {"soil": 4.326}


@pytest.mark.parametrize(
    ("name", "given", "field"),
    [("batch", json.dumps(BATCH | {"moisture": 0.01}), "moisture"), ("weather", "{}", "name")],
)
def test_a_refusal_is_exactly_error_and_fields_on_standard_error_with_exit_2(name: str, given: str, field: str) -> None:
    done = run(name, given=given)
    assert (done.returncode, done.stdout) == (2, "")
    refusal = json.loads(done.stderr)
    assert set(refusal) == {"error", "fields"}
    assert set(refusal["fields"]) == {field}


def test_a_text_that_is_no_json_is_refused_with_no_field() -> None:
    done = run("batch", given="{")
    assert done.returncode == 2
    assert json.loads(done.stderr) == {"error": "The input is not JSON.", "fields": {}}


def test_the_list_names_one_calculation_a_line() -> None:
    done = run("--list")
    assert done.returncode == 0
    lines = done.stdout.splitlines()
    assert {"moisture", "batch", "press", "grading", "limits", "wall", "cost", "age"} <= set(lines)
    assert len(lines) == len(set(lines))


def test_the_schema_is_that_of_the_input() -> None:
    done = run("batch", "--schema")
    assert done.returncode == 0
    schema = json.loads(done.stdout)
    assert set(schema["required"]) == {"components", "moisture"}
    assert {"required": ["dry_soil_kg"]} in schema["oneOf"]


def test_a_batch_waits_for_no_library_that_it_does_not_use() -> None:
    code = (
        "import sys, io, json;"
        "sys.argv = ['loambook', 'work', 'batch'];"
        f"sys.stdin = io.TextIOWrapper(io.BytesIO({json.dumps(BATCH)!r}.encode()));"
        "from service.cli import app;"
        "app(standalone_mode=False);"
        "print(sorted(sys.modules), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout)["water_kg"] == 0.126
    loaded = {name.partition(".")[0] for name in done.stderr.replace("'", " ").replace(",", " ").split()}
    assert "pydantic" in loaded
    assert not loaded & {"scipy", "numpy", "fastapi", "starlette", "sqlalchemy", "sqlmodel", "matplotlib", "pint"}
