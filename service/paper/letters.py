"""What a mail says: one letter for each kind, plain and as a page, in the language of whoever gets it.

No secret stands in a subject, and no reading in a mail: it says that something is there, and leads to it.
"""

from email.headerregistry import Address
from email.message import EmailMessage
from email.utils import format_datetime

from service.desk.mail import Letter
from service.paper.templates import environment
from service.words.numbers_to_text import day
from service.words.sentences import page_words

# For each kind: its subject, its sentences, and the words of its link.
WORDS: dict[str, tuple[str, tuple[str, ...], str]] = {
    "invitation": (
        "{shop} invites you",
        ("{shop} invites you to its pages.", "Open the link and choose a password. It works once, until {until}."),
        "Choose a password",
    ),
    "request": (
        "Job {job}: {customer} asks for an offer",
        ("{customer} asks for a test of the soil from {site}.",),
        "Read the request",
    ),
    "offer made": (
        "Job {job}: our price offer",
        ("We made you a price offer for the soil from {site}.", "Work starts when you accept it."),
        "Read the offer",
    ),
    "offer accepted": (
        "Job {job}: {customer} accepted the offer",
        ("{customer} accepted the offer for the soil from {site}.",),
        "See the job",
    ),
    "soil received": (
        "Job {job}: we received your soil",
        ("We received the soil from {site}.", "You can see how far the job is at any time."),
        "See the job",
    ),
    "question": (
        "Job {job}: a question waits",
        ("{customer} asks a question on job {job}, {site}.",),
        "Read and answer",
    ),
    "answer": (
        "Job {job}: we wrote to you",
        ("We wrote to you about the soil from {site}.",),
        "Read it",
    ),
    "blocks due": (
        "Blocks due today: {count}",
        ("Blocks to soak or crush by tonight: {count}.",),
        "See what to do",
    ),
    "result issued": (
        "Job {job}: your result is ready",
        ("Result no. {number} for the soil from {site} is ready.", "Read all of it before you build."),
        "Read the result",
    ),
    "result amended": (
        "Job {job}: a new result takes the place of the last one",
        (
            "Result no. {number} for the soil from {site} takes the place of the last one.",
            "Do not rely on the last one. The new one says what changed.",
        ),
        "Read the new result",
    ),
    "result withdrawn": (
        "Job {job}: do not rely on result no. {number}",
        (
            "We withdrew result no. {number} for the soil from {site}. Do not rely on it.",
            "Its page says why. Call us before you build.",
        ),
        "Read why",
    ),
}
# The shop's own people read these, in English.
TO_THE_SHOP = ("request", "offer accepted", "question", "blocks due")
GREETING = "Hello {name},"
CALL = "Call {whom} if you have a question."
DECLINE = "You can stop mails like this one on your page:"


def message(letter: Letter, *, sender: str) -> EmailMessage:
    """Return a letter as a message, plain and as a page; ValueError where its address is none of mail."""
    said = page_words(letter.language)

    def say(english: str, **values: object) -> str:
        return said.get(english, english).format(**values)

    values = {
        name: value if isinstance(value, str | int) else day(value, language=letter.language)
        for name, value in letter.values.items()
    }
    subject, sentences, link_words = WORDS[letter.kind]
    values |= {"shop": letter.shop}
    lines = [say(GREETING, name=letter.name), *(say(line, **values) for line in sentences)]
    after = [say(CALL, whom=letter.whom_to_call)] if letter.whom_to_call and letter.kind not in TO_THE_SHOP else []
    link, decline = f"{letter.address}{letter.path}", f"{letter.address}/you" if letter.is_progress else ""
    made = EmailMessage()
    made["From"] = Address(letter.shop, addr_spec=sender)
    made["To"] = Address(letter.name, addr_spec=_ascii(letter.email))
    made["Subject"] = " ".join(say(subject, **values).split())
    made["Date"] = format_datetime(letter.made_at)
    # The same mail has the same number each time, so that whoever gets it twice sees it once.
    made["Message-ID"] = f"<{letter.id}@{sender.rpartition('@')[2]}>"
    made["Auto-Submitted"] = "auto-generated"
    parts = [*lines, f"{say(link_words)}:\n{link}", *after, letter.shop]
    parts += [f"{say(DECLINE)}\n{decline}"] if decline else []
    made.set_content("\n\n".join(parts) + "\n")
    page = environment(letter.language).get_template("mail.html")
    made.add_alternative(
        page.render(
            language=letter.language, title=made["Subject"], lines=lines, link=link, link_words=say(link_words),
            after=after, shop=letter.shop, decline=decline, decline_words=say(DECLINE),
        ),
        subtype="html",
    )  # fmt: skip
    return made


def _ascii(email: str) -> str:
    if not email.isascii():
        raise ValueError("Mail to an address in other letters than ASCII is not sent.")
    return email
