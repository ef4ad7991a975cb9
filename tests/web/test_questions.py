"""A customer asks in their own language, the shop sees that a question waits, and answers."""

from uuid import uuid4

from sqlmodel import Session

from service.records.customers import Customer
from tests.trials import a_tried_job


def test_a_customer_asks_in_spanish_and_the_shop_answers(cast):
    tried = a_tried_job(cast)
    here = f"/jobs/{tried.job_id}/questions"
    with Session(cast.stores.write) as session:
        customer = session.get(Customer, cast.customers["cy"])
        customer.language = "es"
        session.add(customer)
        session.commit()
    cy, tess = cast.browser("cy"), cast.browser("tess")
    soils = cy.get("/soils").text
    assert '<html lang="es">' in soils and "Sus suelos" in soils and f'href="{here}"' in soils
    slip = cy.get(f"/jobs/{tried.job_id}/slip").text
    assert (
        "Cómo enviar la muestra de suelo, trabajo 1" in slip
        and "autoridad fitosanitaria" in slip
        and "Willow Bend" in slip
    )
    assert cast.browser("dov").get(f"/jobs/{tried.job_id}/slip").status_code == 404
    assert "Todavía no hay mensajes." in cy.get(here).text
    refused = cy.post(here, {"text": ""})
    assert refused.status_code == 422 and 'data-error-of="text"' in refused.text
    sent = {"text": "¿Cuándo <b>ensayan</b>?", "request_key": uuid4().hex}
    assert [cy.post(here, sent).status_code for _ in range(2)] == [303, 303]
    assert "question waiting" in tess.get("/jobs").text and "one waits for an answer" in tess.get(here[:-10]).text
    page = tess.get(here).text
    assert page.count("¿Cuándo &lt;b&gt;ensayan&lt;/b&gt;?") == 1 and '<html lang="en">' in page
    assert tess.post(here, {"text": "El viernes."}).status_code == 303
    assert "question waiting" not in tess.get("/jobs").text
    assert "El viernes." in cy.get(here).text
    assert cast.browser("dov").get(here).status_code == 404
    assert cast.browser("dov").post(here, {"text": "Whose?"}).status_code == 404
