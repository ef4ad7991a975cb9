"""Mail that goes: to a real SMTP server on this machine, which takes it, refuses, delays and drops the line."""

from collections.abc import Iterator
from dataclasses import replace

import pytest

from service import mail_sending
from service.app import open_stores
from service.desk import backups, mail, messages, people
from service.desk.doorway import Role
from service.desk.results import issued
from service.paper import letters
from service.records import archive_restore
from service.records.files import FileStore
from service.settings import Settings
from service.web.authentication import sha256
from service.words.sentences import page_words
from tests import mail_server
from tests.cast import PASSWORD, Cast
from tests.certificates import trusted_server
from tests.mail_server import DROP, SILENT, Post
from tests.trials import a_tried_job

INVITED = {"name": "Ina", "email": "ina@shop.example", "role": "technician", "confirm_password": PASSWORD}


@pytest.fixture(scope="module")
def server() -> Iterator[Post]:
    with mail_server.serving() as post:
        yield post


@pytest.fixture
def post(server: Post) -> Post:
    server.forget()
    return server


@pytest.fixture
def shop(cast: Cast) -> Cast:
    return cast.with_mail()


@pytest.fixture
def job_id(shop: Cast):
    job_id = a_tried_job(shop).job_id
    # The day's mail to the shop has a test of its own.
    mail.tell_day(shop.olu)
    while (one := mail.claim(shop.olu)).details["state"] == "held":
        mail.note(shop.olu, mail_id=one.id, outcome="sent")
    return job_id


def send(shop: Cast, post: Post, timeout_s: float = 5.0) -> int:
    return mail_sending.send_due(shop.stores, post.settings(timeout_s))


def body(message, kind: str) -> str:
    return message.get_body((kind,)).get_content()


def test_a_mail_leaves_once_plain_and_as_a_page_and_says_no_reading(shop: Cast, job_id, post: Post) -> None:
    messages.write(shop.tess, job_id=job_id, text="It broke at 12.4 MPa. <b>Good</b>")
    assert (send(shop, post), send(shop, post)) == (1, 0)
    (taken,) = post.taken
    assert post.to == ["cy@shop.example"] and taken["to"] == "Cy <cy@shop.example>"
    assert taken["from"] == "Sample Soil Bench <bench@shop.example>"
    assert taken["subject"] == "Job 1: we wrote to you" and taken["auto-submitted"] == "auto-generated"
    link = f"http://localhost/jobs/{job_id}/questions"
    for kind in ("plain", "html"):
        said = body(taken, kind)
        assert link in said and "MPa" not in said and "Good" not in said and "http://localhost/you" in said


def test_a_mail_speaks_the_language_of_its_reader(shop: Cast, job_id, post: Post) -> None:
    people.change_customer(
        shop.olu, customer_id=shop.customers["cy"], name="Cy's Cob Yard", contact=None, language="es"
    )
    messages.write(shop.tess, job_id=job_id, text="El viernes.")
    messages.write(shop.cy, job_id=job_id, text="¿A qué hora?")
    assert send(shop, post) == 3
    said = {to: (one["subject"], body(one, "plain")) for to, one in zip(post.to, post.taken, strict=True)}
    assert said["cy@shop.example"][0] == "Trabajo 1: le escribimos" and "Hola Cy" in said["cy@shop.example"][1]
    assert said["tess@shop.example"][0] == "Job 1: a question waits"


def test_an_invitation_leads_to_its_page_and_its_link_stands_in_no_subject_and_no_row(shop, job_id, post) -> None:
    olu = shop.browser("olu")
    shown = olu.post("/people", INVITED)
    assert shown.status_code == 200 and "E-mail is not set up" not in shown.text
    assert send(shop, post) == 1
    (taken,) = post.taken
    link = next(line for line in body(taken, "plain").splitlines() if "/sign-in/" in line)
    assert link in shown.text and link.rpartition("/")[2] not in str(taken["subject"])
    assert shop.browser(None).get(link.removeprefix("http://localhost")).status_code == 200
    kept = shop.settings.database_url.removeprefix("sqlite:///")
    with open(kept, "rb") as file:  # noqa: PTH123
        assert link.rpartition("/")[2].encode() not in file.read()


def test_a_withdrawal_goes_to_who_declines_mail_on_progress_and_takes_the_place_of_what_waits(
    shop, job_id, post, undrawn_papers
) -> None:
    from service.desk.results import live
    from service.paper import issuing

    mail.choose(shop.cy, declines_progress=True)
    messages.write(shop.tess, job_id=job_id, text="Soon.")
    seen = live.live(shop.olu, job_id=job_id).sha256
    issued_id = issuing.issue(shop.olu, job_id=job_id, remark="", seen_sha256=seen)
    issued.withdraw(shop.olu, issued_id=issued_id, because="The gauge was wrong by 3 MPa.")
    assert send(shop, post) == 1
    (taken,) = post.taken
    assert taken["subject"] == "Job 1: do not rely on result no. 1"
    said = body(taken, "plain")
    assert f"http://localhost/results/{issued_id}" in said and "MPa" not in said and "/you" not in said


@pytest.mark.parametrize("step", ["rcpt", "data", "text"])
def test_what_a_server_refuses_for_good_is_told_to_the_owner_and_not_tried_again(shop, job_id, post, step) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    post.answers[step] = "550 No such mailbox"
    assert send(shop, post) == 0
    post.forget()
    shop.clock.forward(days=1)
    mail.tell_day(shop.olu)
    send(shop, post)
    assert "cy@shop.example" not in post.to
    page = shop.browser("olu").get("/mail").text
    assert "550 No such mailbox" in page and "cy<wbr>@shop.example" in page
    assert "1 mail does not go." in " ".join(shop.browser("olu").get("/jobs").text.split())


@pytest.mark.parametrize("step", ["greeting", "mail", "rcpt", "data", "text"])
def test_what_a_server_declines_for_now_goes_later_and_once(shop, job_id, post, step) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    post.answers[step] = "451 Come back"
    assert send(shop, post) == 0
    (waits,) = mail.show(shop.olu).waiting
    assert waits.tries == 1 and "451 Come back" in waits.error
    post.forget()
    assert send(shop, post) == 0
    shop.clock.forward(minutes=1)
    assert (send(shop, post), send(shop, post)) == (1, 0)
    assert post.to == ["cy@shop.example"]


@pytest.mark.parametrize("step", ["greeting", "mail", "rcpt", "data"])
def test_a_line_that_breaks_before_the_text_left_is_tried_again(shop, job_id, post, step) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    post.answers[step] = DROP
    assert send(shop, post) == 0
    post.forget()
    shop.clock.forward(minutes=1)
    assert send(shop, post) == 1 and len(post.taken) == 1


@pytest.mark.parametrize("how", [DROP, SILENT])
def test_a_mail_whose_line_broke_after_its_text_comes_once_and_the_owner_decides(shop, job_id, post, how) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    post.answers["text"] = how
    assert send(shop, post, timeout_s=0.3) == 0
    post.answers.clear()
    shop.clock.forward(hours=2)
    assert send(shop, post) == 0 and post.to == ["cy@shop.example"]
    (told,) = mail.show(shop.olu).given_up
    assert told.error == mail.UNSURE
    olu = shop.browser("olu")
    assert olu.post(f"/mail/{told.id}/again").status_code == 303
    assert send(shop, post) == 1
    first, second = (one["message-id"] for one in post.taken)
    assert first == second
    assert "All e-mails were sent." in olu.get("/mail").text


def test_a_server_that_says_nothing_holds_up_one_mail_and_no_more(shop, job_id, post) -> None:
    for text in ("One.", "Two."):
        messages.write(shop.tess, job_id=job_id, text=text)
    post.answers["greeting"] = SILENT
    assert send(shop, post, timeout_s=0.2) == 0
    assert post.connections == 1 and [one.tries for one in mail.show(shop.olu).waiting] == [0, 1]


def test_a_process_that_ended_while_it_spoke_to_the_server_sends_twice_to_nobody(shop, job_id, post) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")

    def ends(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    patch = pytest.MonkeyPatch()
    # Killed as soon as the server has the mail, before anything could be noted.
    patch.setattr(mail, "note", ends)
    with pytest.raises(KeyboardInterrupt):
        send(shop, post)
    patch.undo()
    shop.clock.forward(minutes=11)
    assert send(shop, post) == 0 and post.to == ["cy@shop.example"]
    assert mail.show(shop.olu).given_up[0].error == mail.UNSURE


def test_an_address_of_other_letters_is_told_and_holds_up_nobody(shop, job_id, post) -> None:
    invited = people.invite(
        shop.olu, name="Ína", email="ína@shop.example", role=Role.CUSTOMER,
        customer_id=shop.customers["cy"], token_sha256=sha256("x"),
    )  # fmt: skip
    assert invited.id
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    assert send(shop, post) == 1
    assert mail.show(shop.olu).given_up[0].error == "This e-mail address cannot be used."


def test_somebody_declines_mail_on_their_own_page_and_a_form_sent_twice_counts_once(cast: Cast) -> None:
    cy = cast.browser("cy")
    assert "Choose which e-mails you get" in cy.get("/you").text
    assert cy.post("/you/mail", {}).status_code == 303 and mail.declines(cast.cy)
    assert cy.post("/you/mail", {"progress": "yes"}).status_code == 303 and not mail.declines(cast.cy)


def test_without_settings_the_owner_reads_that_mail_is_not_set_up_and_links_are_shown(cast: Cast) -> None:
    olu = cast.browser("olu")
    assert "E-mail is not set up" in olu.get("/people").text and "LOAMBOOK_SMTP_HOST" in olu.get("/mail").text
    assert "/sign-in/" in olu.post("/people", INVITED).text
    assert mail.show(cast.olu).waiting == [] and mail_sending.send_due(cast.stores, None) == 0


def test_the_command_sends_one_test_mail_and_says_what_the_server_answers(post: Post) -> None:
    assert mail_sending.fault_of(post.settings(), to="olu@shop.example") == ""
    assert post.to == ["olu@shop.example"]
    post.answers["mail"] = "550 Not from you"
    assert mail_sending.fault_of(post.settings(), to="olu@shop.example") == "550 Not from you"
    nobody = post.settings().__class__("127.0.0.1", 1, "", "", "bench@shop.example", "none", 0.2)
    assert "refused" in mail_sending.fault_of(nobody, to="olu@shop.example")


def test_soil_that_arrived_is_told_after_a_slip_could_be_undone_and_once_a_day(shop, job_id, post) -> None:
    tess = shop.browser("tess")
    for label in ("N1", "N2"):
        sent = {"label": label, "mass_kg": "20", "mass_kg_unit": "kg", "new_soil": f"Soil {label}"}
        answer = tess.post(f"/jobs/{job_id}/intake", sent)
        assert answer.status_code == 303, answer.text[:2000]
    assert send(shop, post) == 0
    shop.clock.forward(minutes=10)
    assert send(shop, post) == 1 and post.taken[0]["subject"] == "Job 1: we received your soil"


def test_a_name_with_a_line_break_adds_no_header(shop, job_id, post) -> None:
    people.invite(
        shop.olu, name="Ina\nBcc: dov@shop.example", email="ina@shop.example", role=Role.CUSTOMER,
        customer_id=shop.customers["cy"], token_sha256=sha256("x"),
    )  # fmt: skip
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    send(shop, post)
    assert "dov@shop.example" not in post.to and [one["bcc"] for one in post.taken] == [None] * len(post.taken)


def test_every_kind_of_mail_has_its_words_in_both_languages() -> None:
    said = page_words("es")
    to_customers = (words for kind, words in letters.WORDS.items() if kind not in letters.TO_THE_SHOP)
    told = [text for subject, lines, link in to_customers for text in (subject, *lines, link)]
    assert [text for text in told if text not in said] == []
    assert {letters.GREETING, letters.CALL, letters.DECLINE} <= said.keys()


def test_unsent_mail_of_a_restored_shop_waits_for_its_owner(shop, job_id, tmp_path) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    backups.take(shop.olu, path=tmp_path / "shop.zip")
    url, files = f"sqlite:///{tmp_path / 'again.sqlite'}", FileStore(str(tmp_path / "again"))
    archive_restore.restore(tmp_path / "shop.zip", url=url, files=files)
    again = open_stores(Settings(database_url=url, data=tmp_path))
    (told,) = mail.show(replace(shop.olu, stores=again)).given_up
    assert told.error == archive_restore.RESTORED
    again.read.dispose()
    again.write.dispose()


def test_no_mail_goes_unencrypted_where_the_settings_ask_for_encryption(shop, job_id, post) -> None:
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    assert mail_sending.send_due(shop.stores, replace(post.settings(), tls="starttls")) == 0
    assert post.taken == [] and "STARTTLS" in mail.show(shop.olu).waiting[0].error


@pytest.mark.parametrize("how", ["starttls", "tls"])
def test_mail_goes_encrypted_and_signed_in_to_a_server_whose_certificate_is_trusted(
    shop, job_id, post, how, tmp_path, monkeypatch
) -> None:
    post.encrypts, own = trusted_server(tmp_path)
    post.from_the_start = how == "tls"
    messages.write(shop.tess, job_id=job_id, text="On Friday.")
    asked = replace(post.settings(), tls=how, user="bench", password="a long word")
    # A certificate that nobody vouches for is none: the mail waits.
    assert mail_sending.send_due(shop.stores, asked) == 0
    assert post.taken == [] and "CERTIFICATE_VERIFY_FAILED" in mail.show(shop.olu).waiting[0].error
    monkeypatch.setenv("SSL_CERT_FILE", str(own))
    shop.clock.forward(hours=1)
    assert mail_sending.send_due(shop.stores, asked) == 1
    assert post.encrypted == [True] and post.signed_in == ["\0bench\0a long word"]
