"""A customer asks for a test on their own pages, reads the offer and accepts it, in their own language."""

import re

from sqlmodel import Session

from service import mail_sending
from service.records.customers import Customer
from service.records.shop import Shop
from tests import mail_server
from tests.cast import Cast

REQUEST = {"site": "North pit", "question": "Is it good enough?", "question_kind": "meets code", "pit": "nothing"}


def spanish_and_called(cast: Cast) -> None:
    with Session(cast.stores.write) as session:
        session.get_one(Customer, cast.customers["cy"]).language = "es"
        session.get_one(Shop, 1).whom_to_call = "Olu, 555 0100"
        session.commit()


def test_a_request_an_offer_and_an_acceptance_with_their_mails(cast: Cast) -> None:
    spanish_and_called(cast)
    shop = cast.with_mail()
    cy, olu = shop.browser("cy"), shop.browser("olu")
    assert "Pedir una prueba de suelo" in cy.get("/soils").text and "Llame a Olu, 555 0100" in cy.get("/soils").text
    form = cy.get("/requests/new").text
    assert '<html lang="es">' in form and "asbesto" in form
    refused = cy.post("/requests", {**REQUEST, "pit": "perhaps"})
    assert refused.status_code == 422 and "Escriba qué hay o qué puede haber." in refused.text
    sent = {**REQUEST, "request_key": "the-same-form-twice", "wall_height_m": "2.4", "wall_height_m_unit": "m"}
    first, again = cy.post("/requests", sent), cy.post("/requests", sent)
    slip = first.headers["location"]
    assert slip == again.headers["location"] and re.fullmatch(r"/jobs/[0-9a-f-]{36}/slip", slip)
    assert "autoridad fitosanitaria" in cy.get(slip).text and "Olu, 555 0100" in cy.get(slip).text
    here = slip.replace("/slip", "/offer")
    assert "asks for an offer" in olu.get("/jobs").text and "Nothing harmful is known" in olu.get(here).text
    assert "Estamos preparando su cotización." in cy.get("/soils").text
    assert olu.post(here, {"price": "abc", "expected_on": ""}).status_code == 422
    assert olu.post(here, {"price": "180.50", "expected_on": "2027-05-01", "remark": "Two recipes."}).status_code == 303
    page = cy.get(here).text
    assert "180.50" in page and "Two recipes." in page and "Aceptar la cotización" in page
    (offer_id,) = set(re.findall(r'name="offer_id" value="([0-9a-f-]{36})"', page))
    assert shop.browser("dov").post(f"{here}/accept", {"offer_id": offer_id}).status_code == 404
    assert cy.post(f"{here}/accept", {"offer_id": offer_id}).status_code == 303
    assert "Cotización aceptada el" in cy.get("/soils").text and "Accepted" in olu.get(here).text
    refused = cy.post(f"{here}/decline", {"offer_id": offer_id})
    assert refused.status_code == 409 and "Esta cotización ya no espera respuesta." in refused.text
    with mail_server.serving() as post:
        mail_sending.send_due(shop.stores, post.settings())
        subjects = sorted((to, one["subject"]) for to, one in zip(post.to, post.taken, strict=True))
    assert subjects == [
        ("cy@shop.example", "Trabajo 1: nuestra cotización"),
        ("olu@shop.example", "Job 1: Cy's Cob Yard accepted the offer"),
        ("olu@shop.example", "Job 1: Cy's Cob Yard asks for an offer"),
        ("tess@shop.example", "Job 1: Cy's Cob Yard accepted the offer"),
        ("tess@shop.example", "Job 1: Cy's Cob Yard asks for an offer"),
    ]


def test_somebody_of_the_shop_writes_down_who_accepted_and_the_owner_starts_without(cast: Cast) -> None:
    cy, olu, tess = cast.browser("cy"), cast.browser("olu"), cast.browser("tess")
    here = cy.post("/requests", REQUEST).headers["location"].replace("/slip", "/offer")
    assert tess.post(here, {"price": "1", "expected_on": "2027-05-01"}).status_code == 403
    assert "No batch can be started" in olu.get(here).text and "Make a price offer" not in tess.get(here).text
    assert olu.post(f"{here}/start").status_code == 303
    assert "Work started without an acceptance" in tess.get(here).text
    assert olu.post(f"{here}/start").status_code == 409
    assert olu.get("/requests/new").status_code == 403
