"""The template environment escapes what was typed and refuses a name that nobody gave."""

import pytest
from jinja2 import UndefinedError

from service.paper.templates import environment
from service.phrase import Phrase


def test_typed_text_cannot_become_markup():
    assert environment().from_string("{{ typed }}").render(typed="<b>") == "&lt;b&gt;"


def test_a_name_that_the_view_forgot_is_an_error():
    with pytest.raises(UndefinedError):
        environment().from_string("{{ forgotten }}").render()


def test_a_held_reading_is_written_as_at_least():
    assert (
        environment()
        .from_string("{{ 10.64 | stress(units='metric', held=true) }}")
        .render()
        .startswith("at least 10.6")
    )


def test_a_phrase_is_said_in_the_units_of_the_reader():
    phrase = Phrase("It reached {strength_mpa}.", {"strength_mpa": 2.0})
    # 2 MPa x 145.0377 psi/MPa (NIST SP 811) = 290 psi in three figures.
    assert "290 psi" in environment().from_string("{{ p | say(units='imperial') }}").render(p=phrase)


def test_no_line_of_a_sentence_ends_between_a_number_and_its_unit():
    told = (
        environment().from_string("{{ text | unbroken }}").render(text="17 in 20 (85 %), 2.07 MPa (300 psi), 28 days")
    )
    # Only the words between the figures may part: U+00A0 holds the rest together.
    assert told == "17 in 20 (85\u00a0%), 2.07\u00a0MPa (300\u00a0psi), 28\u00a0days"
