"""A customer's soils side by side: what each soil's own page says of it, in few statements."""

import re
import shutil
from pathlib import Path

from bs4 import BeautifulSoup

from service.desk import imports
from tests.cast import Cast
from tests.demo_pages import told
from tests.paper.test_importing import taken


def test_a_customer_without_a_soil_is_told_so(cast: Cast) -> None:
    page = cast.browser("tess").get(f"/customers/{cast.customers['dov']}/soils").text
    assert "No soil of this customer came yet." in page


def test_the_soils_of_the_demo_say_what_their_own_pages_say(told_demo: Path, tmp_path: Path) -> None:
    shutil.copytree(told_demo, tmp_path, dirs_exist_ok=True)
    with told(tmp_path) as demo:
        owner = demo.client("owner")
        customers = sorted(set(re.findall(r"/customers/[0-9a-f-]{36}", owner.get("/customers").text)))
        classed = 0
        for path in customers:
            table = BeautifulSoup(owner.get(f"{path}/soils").text, "html.parser")
            links = [str(one["href"]) for one in table.select("th[scope=col] a")]
            rows = {
                row.th.get_text(strip=True): [cell.get_text(" ", strip=True) for cell in row.select("td")]
                for row in table.select("tbody tr")
                if row.th
            }
            for link, class_, verdict in zip(
                links, rows.get("Class, ASTM D2487", ()), rows.get("Verdict", ()), strict=True
            ):
                own = BeautifulSoup(owner.get(link).text, "html.parser").get_text(" ", strip=True)
                if class_ != "not classified":
                    assert class_.partition(" ")[0] in own, (link, class_)
                    classed += 1
                if verdict != "not yet":
                    assert f"{verdict.capitalize()}." in own
        assert classed >= 2


def test_imported_jobs_of_a_customer_are_on_their_page_until_their_file_counts_no_longer(cast: Cast) -> None:
    file_id, tess = taken(cast), cast.browser("tess")
    path = f"/customers/{cast.customers['cy']}"
    assert "1 older job, imported" in tess.get(path).text
    older = BeautifulSoup(tess.get(f"{path}/soils").text, "html.parser")
    rows = [[cell.get_text(" ", strip=True) for cell in row.select("th, td")] for row in older.select("tbody tr")]
    # Of J1 two were crushed dry, 620 psi broke and 700 psi did not (620 psi is 4.275 MPa); one fell apart in water.
    assert rows == [
        ["J1 old.csv", "A", "air-dry, 28 days", "2 1 did not break", "4.275 MPa (620 psi)", "4.275 MPa (620 psi)"],
        ["J1 old.csv", "A", "soaked 24 h, 28 days", "1 1 fell apart in water", "none broke", ""],
    ]
    assert "New Adobe Yard" not in older.get_text()
    imports.end(cast.olu, file_id=file_id, because="another shop's")
    assert "imported" not in tess.get(path).text and "imported" not in tess.get(f"{path}/soils").text
