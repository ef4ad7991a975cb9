"""Who can sign in: paged, the shop's own people first, and each act leads back to the page it was done on."""

import re

import pytest
from sqlmodel import Session, select

from service.records.people import Person
from tests.cast import Cast

MANY = 40


@pytest.fixture
def many(cast: Cast) -> Cast:
    with Session(cast.stores.write) as session:
        for number in range(MANY):
            person = Person(
                name=f"Reader {number:02d}",
                email=f"reader{number}@shop.example",
                role="customer",
                customer_id=cast.customers["cy"],
            )
            session.add(person)
        session.commit()
    return cast


def names_on(page: str) -> list[str]:
    return re.findall(r'<li class="card">\s*<h2>([^<]+)</h2>', page)


def test_everybody_stands_on_one_of_the_pages_the_shop_first(many: Cast) -> None:
    browser = many.browser("olu")
    first, second = (browser.get(f"/people?page={number}").text for number in (1, 2))
    assert names_on(first)[:3] == ["Olu", "Tess", "Cy"] and len(names_on(first)) == 25
    assert names_on(first) + names_on(second) == ["Olu", "Tess", "Cy", "Dov", *(f"Reader {n:02d}" for n in range(MANY))]
    assert "Page 1 of 2" in first and "Page 2 of 2" in second


def test_what_is_refused_on_the_second_page_is_shown_again_there(many: Cast) -> None:
    with Session(many.stores.read) as session:
        last = session.exec(select(Person).where(Person.email == f"reader{MANY - 1}@shop.example")).one()
    browser = many.browser("olu")
    action = f"/people/{last.id}/tokens?page=2"
    assert f'action="{action}"' in browser.get("/people?page=2").text
    refused = browser.post(action, {"form": f"token-{last.id}", "role": "customer", "lasts_days": "5000"})
    assert refused.status_code == 422 and f"Reader {MANY - 1}" in refused.text and "5000" in refused.text
    gone = browser.post(f"/people/{last.id}/end?page=2")
    assert gone.headers["location"] == "/people?page=2"


def test_a_program_of_somebody_on_another_page_keeps_its_name(many: Cast) -> None:
    many.add_token("dov", "dov program")
    page = many.browser("olu").get("/people?page=2").text
    assert re.search(r'<th scope="row">Dov</th>', page)
