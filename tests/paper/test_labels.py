"""Labels: the code is a drawing that stands in a page by itself."""

import re
from xml.etree import ElementTree

from service.paper.square_code import code

ADDRESS = "https://shop.example/blocks/6f1c2b1e-5f2f-4a55-9f53-0b9b5c7a2d11"


def test_the_code_is_a_square_of_a_size_that_the_standard_knows():
    # ISO/IEC 18004: 21 modules and four more for each version; a quiet zone of two is drawn on each side.
    drawn = ElementTree.fromstring(code(ADDRESS))
    width, height = re.fullmatch(r"0 0 (\d+) (\d+)", drawn.attrib["viewBox"]).groups()
    assert width == height
    assert (int(width) - 4 - 21) % 4 == 0


def test_the_code_holds_no_script_no_style_and_no_address_to_load():
    drawn = code(ADDRESS)
    assert not re.search(r"script|style|href|xlink|url\(", drawn)


def test_two_blocks_have_two_codes_and_one_block_has_one():
    other = ADDRESS.replace("2d11", "2d12")
    assert code(ADDRESS) == code(ADDRESS) != code(other)
