"""A phrase becomes a sentence in the reader's language and units."""

from decimal import Decimal

from service.phrase import Phrase
from service.words.sentences import say


def test_numbers_are_written_in_the_readers_units():
    phrase = Phrase("{soil} carries {strength_mpa} at {cement_share}.", {"soil": "A", "strength_mpa": 2.068427,
                                                                         "cement_share": 0.06})  # fmt: skip
    assert say(phrase, units="imperial") == "A carries 300 psi (2.07 MPa) at 6 %."
    assert say(phrase, units="metric") == "A carries 2.07 MPa (300 psi) at 6 %."


def test_above_what_blocks_were_held_to_is_rounded_down_like_at_least():
    # 9.2797 MPa are 1345.9 psi.
    phrase = Phrase("We loaded it to {held_mpa} at most.", {"held_mpa": 9.2797})
    assert say(phrase, units="imperial") == "We loaded it to 1340 psi (9.27 MPa) at most."


def test_the_longest_ending_of_a_name_counts():
    assert say(Phrase("{dry_kg_m3}", {"dry_kg_m3": 1900.0})) == "1900 kg/m³"
    assert say(Phrase("{soaked_hours}", {"soaked_hours": 4.0})) == "4 h"


def test_phrases_lists_and_money_stand_inside_a_phrase():
    inner = Phrase("{name} ({cost_money})", {"name": "B", "cost_money": Decimal("0.36")})
    assert say(Phrase("{all} do.", {"all": ("A", inner)}), currency="USD") == "A and B ($0.36) do."


def test_a_name_with_braces_is_no_template():
    assert say(Phrase("{name} does.", {"name": "{strength_mpa}"})) == "{strength_mpa} does."


def test_what_has_no_translation_is_said_in_english():
    assert say(Phrase("Nobody translated this."), language="es") == "Nobody translated this."
