"""An archive altered by somebody who knows how it is sealed, so that what lies behind the seal is tested too."""

import hashlib
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

Parts = dict[str, bytes]


def alter(path: Path, change: Callable[[dict[str, Any], Parts], None]) -> Path:
    """Return a sealed copy whose manifest and parts were changed."""
    with zipfile.ZipFile(path) as bundle:
        parts = {name: bundle.read(name) for name in bundle.namelist()}
    manifest = json.loads(parts.pop("manifest.json"))
    change(manifest, parts)
    altered = path.with_name("altered.zip")
    with zipfile.ZipFile(altered, "w") as bundle:
        bundle.comment = b"0" * 64
        for name, content in {**parts, "manifest.json": json.dumps(manifest).encode()}.items():
            bundle.writestr(name, content)
    content = altered.read_bytes()[:-64]
    altered.write_bytes(content + hashlib.sha256(content).hexdigest().encode())
    return altered


def replace_rows(manifest: dict[str, Any], parts: Parts, table: str, rows: list[dict[str, Any]]) -> None:
    """Put other rows into a table, with the digest they need."""
    told = next(one for one in manifest["tables"] if one["name"] == table)
    content = "".join(f"{json.dumps(row)}\n" for row in rows).encode()
    parts[f"rows/{table}.jsonl"] = content
    told.update(rows=len(rows), sha256=hashlib.sha256(content).hexdigest())


def rows_of(parts: Parts, table: str) -> list[dict[str, Any]]:
    """Return the rows of a table."""
    return [json.loads(line) for line in parts[f"rows/{table}.jsonl"].splitlines()]
