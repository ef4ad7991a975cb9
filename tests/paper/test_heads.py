"""What a page does for a narrow screen: cells say what their head says, and a number keeps its unit beside it."""

from markupsafe import Markup

from service.paper.issuing import unbroken
from service.paper.templates import environment, headed

HEADS = ["Block", ("Mass", "kg/m3"), ("Age", ""), "Why"]


def test_each_cell_says_its_head_and_the_name_of_the_row_does_not() -> None:
    rows = Markup('<tr id="b">\n<th scope="row">A</th><td class="num">1</td>\n<td>2</td><td>crumbled</td></tr>')
    assert headed(rows, HEADS) == (
        '<tr id="b">\n<th scope="row">A</th><td data-head="Mass (kg/m³)" class="num">1</td>\n'
        '<td data-head="Age">2</td><td data-head="Why">crumbled</td></tr>'
    )


def test_every_row_begins_anew_and_a_wide_cell_takes_the_place_of_those_it_covers() -> None:
    rows = Markup('<tr><td colspan="3">all</td><td>a</td></tr><tr><td>b</td></tr>')
    assert headed(rows, HEADS) == (
        '<tr><td colspan="3">all</td><td data-head="Why">a</td></tr><tr><td data-head="Block">b</td></tr>'
    )


def test_a_head_cannot_smuggle_markup_into_a_cell() -> None:
    assert headed(Markup("<tr><td>1</td></tr>"), ['"><script>']) == (
        '<tr><td data-head="&#34;&gt;&lt;script&gt;">1</td></tr>'
    )


def test_a_table_of_four_columns_stacks_on_a_phone_and_one_of_three_stays() -> None:
    page = environment().from_string(
        '{% from "parts/words.html" import table %}{% call table("x", heads) %}<tr><td>1</td></tr>{% endcall %}'
    )
    assert '<table class="quiet stack heads">' in page.render(heads=HEADS)
    assert '<table class="quiet">' in page.render(heads=HEADS[:3])


def test_no_line_ends_between_a_number_and_its_unit_but_what_tags_hold_is_left_alone() -> None:
    page = '<p title="95 % of it">95 % of 2 mm, 3 more; 28 days</p>4 h<a href="/q?q=3 kg">3 kgs</a>'
    assert unbroken(page) == (
        '<p title="95 % of it">95\N{NO-BREAK SPACE}% of 2\N{NO-BREAK SPACE}mm, 3 more; 28\N{NO-BREAK SPACE}days</p>'
        '4\N{NO-BREAK SPACE}h<a href="/q?q=3 kg">3 kgs</a>'
    )
