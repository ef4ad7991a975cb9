"""The parts that forms are made of keep what was typed, and put each sentence at the field it is about."""

import re
from itertools import count
from typing import Any

import pytest

from service.paper.templates import environment
from service.places import folder

PARTS = '{% from "parts/form.html" import act, field, choice, check, select, note, correction with context %}'


def shown(source: str, **context: Any) -> str:
    keys = count()
    told = {"halves": {}, "typed": {}, "errors": {}, "refusal": "", "new_key": lambda: f"key{next(keys)}"}
    return environment().from_string(PARTS + source).render({**told, **context})


def element(page: str, mark: str) -> str:
    found = re.search(rf"<[^>]*{re.escape(mark)}[^>]*>", page)
    assert found, f"{mark} is not on the page"
    return found.group()


def test_a_refused_field_keeps_what_was_typed_and_gets_its_sentence():
    page = shown(
        '{{ field("mass_kg", "Mass", units=("kg", "lb"), value="7", form="") }}',
        typed={"mass_kg": "7,2", "mass_kg_unit": "lb"},
        errors={"mass_kg": "No comma."},
    )
    entry = element(page, 'name="mass_kg"')
    assert 'value="7,2"' in entry
    assert 'aria-invalid="true"' in entry
    assert 'aria-describedby="mass_kg-error"' in entry
    assert re.search(r'id="mass_kg-error"[^>]*>No comma\.</p>', page)
    assert "selected" in element(page, 'value="lb"')


def test_only_the_form_that_was_sent_shows_what_was_refused():
    page = shown(
        '{% for form in ("first", "second") %}'
        '{% call act("/x", form=form) %}{{ field("gauge_mpa", "Gauge", form=form) }}{% endcall %}'
        "{% endfor %}",
        typed={"form": "second", "gauge_mpa": "?"},
        errors={"gauge_mpa": "Write a number."},
        refusal="Look again.",
    )
    assert page.count("Look again.") == page.count("Write a number.") == 1
    assert 'value=""' in element(page, 'id="first-gauge_mpa"')
    assert 'value="?"' in element(page, 'id="second-gauge_mpa"')


def test_every_form_carries_a_key_of_its_own():
    page = shown('{% call act("/a") %}{% endcall %}{% call correction("/b", form="c") %}{% endcall %}')
    keys = re.findall(r'name="request_key" value="(\w+)"', page)
    assert len(keys) == len(set(keys)) == 2


def test_a_correction_asks_for_its_reason():
    assert 'name="because"' in shown('{% call correction("/b", form="c") %}{% endcall %}')


def test_a_choice_comes_back_as_it_was_made():
    page = shown(
        '{{ choice("outcome", "How it ended", [("broke", "Broke"), ("held", "Held")], value="broke") }}',
        typed={"outcome": "held"},
    )
    assert "checked" in element(page, 'value="held"')
    assert "checked" not in element(page, 'value="broke"')


def test_a_box_that_was_emptied_stays_empty_after_a_refusal():
    # A browser sends nothing at all for an empty box, so its default may not come back.
    page = shown('{{ check("washed", "Washed", value=true) }}', typed={"mass_kg": "1"})
    assert "checked" not in element(page, 'name="washed"')


def test_typed_markup_stays_text_in_every_kind_of_field():
    typed = {"a": '"><script>', "b": "<script>"}
    page = shown('{{ field("a", "A", kind="text") }}{{ note("b", "B") }}', typed=typed)
    assert "<script>" not in page


# The frozen page of an issued result holds all it needs, and is sent with a policy that names its style; a sheet of
# labels is drawn as a PDF and a mail is read by a mail program, so neither is served.
NOT_SERVED = {"issued.html", "label_sheet.html", "mail.html"}
SERVED = [p for p in sorted(folder("templates").rglob("*.html")) if p.name not in NOT_SERVED]


@pytest.mark.parametrize("path", SERVED, ids=lambda path: path.name)
def test_no_template_carries_a_style_or_a_script_of_its_own(path):
    # The content policy would silently drop them.
    source = re.sub(r"\{#.*?#\}", "", path.read_text(), flags=re.S)
    assert not re.search(r"\sstyle\s*=|\son[a-z]+\s*=\s*[\"']|<style|javascript:", source)
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", source))
