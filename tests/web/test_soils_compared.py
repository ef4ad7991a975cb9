"""A customer's soils side by side: what each soil's own page says of it, in few statements."""

import re
import shutil
from pathlib import Path

from bs4 import BeautifulSoup

from tests.cast import Cast
from tests.demo_pages import told


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
