"""A drawn SVG made fit to stand inside a page: named for a reader, with no style and no clashing names."""

import re
from collections.abc import Iterator
from xml.etree import ElementTree as Xml

from service.typed import UNKEPT

SVG = "http://www.w3.org/2000/svg"
HREF = "{http://www.w3.org/1999/xlink}href"
_IN_URL = re.compile(r"url\(#([^)]+)\)")
_POINTS_AT = re.compile(r"""[("]#([^)"]+)[)"]""")


def embeddable(drawn: str, *, prefix: str, title: str, description: str) -> str:
    """Return the drawing with presentation attributes only, its names below ``prefix`` and its words beside it."""
    # What was stored before such signs were refused is shown with a mark in their place.
    root = Xml.fromstring(UNKEPT.sub("\ufffd", drawn))
    _drop(root, {f"{{{SVG}}}metadata", f"{{{SVG}}}style"})
    _unwrap(root)
    for element in root.iter():
        _plain_style(element)
        if element.get("transform", "").startswith("rotate(-0 "):
            element.attrib.pop("transform")
        _prefix_names(element, prefix)
    for size in ("width", "height", "version", "id"):
        root.attrib.pop(size, None)
    root.attrib |= {"role": "img", "aria-labelledby": f"{prefix}-title {prefix}-desc", "stroke-linejoin": "round"}
    if not description:
        root.set("aria-labelledby", f"{prefix}-title")
    said = (("title", title), ("desc", description)) if description else (("title", title),)
    for position, (tag, words) in enumerate(said):
        note = Xml.Element(f"{{{SVG}}}{tag}", {"id": f"{prefix}-{tag}"})
        note.text = UNKEPT.sub("\ufffd", words)
        root.insert(position, note)
    _without_prefixes(root)
    return Xml.tostring(root, encoding="unicode")


def _without_prefixes(root: Xml.Element) -> None:
    # A prefix would have to be registered for the whole process, where another library takes it away again
    # (WeasyPrint 70 does), and a page shows a prefixed drawing as bare words.
    for element in root.iter():
        element.tag = element.tag.removeprefix(f"{{{SVG}}}")
    root.set("xmlns", SVG)


def _drop(element: Xml.Element, unwanted: set[str]) -> None:
    for child in list(element):
        if child.tag in unwanted:
            element.remove(child)
        else:
            _drop(child, unwanted)


def _unwrap(root: Xml.Element) -> None:
    # Half of what is drawn are groups that only hold a name nobody points at; a paper is a tenth sooner done without.
    pointed_at = set(_POINTS_AT.findall(Xml.tostring(root, encoding="unicode")))
    for element in root.iter():
        if element.get("id") not in pointed_at:
            element.attrib.pop("id", None)
    for parent in list(root.iter()):
        parent[:] = [part for child in parent for part in _without_wrapping(child)]


def _without_wrapping(element: Xml.Element) -> Iterator[Xml.Element]:
    # A mark is drawn whole, so nothing has to be cut off it: each cut costs as much as the mark.
    marks = [child.tag for child in element] == [f"{{{SVG}}}use"] and set(element.attrib) == {"clip-path"}
    if element.tag == f"{{{SVG}}}g" and (marks or not element.attrib):
        for child in element:
            yield from _without_wrapping(child)
    elif element.tag != f"{{{SVG}}}defs" or len(element):
        yield element


def _plain_style(element: Xml.Element) -> None:
    # A strict content policy forbids style attributes; every property drawn here exists as an attribute too.
    for declaration in element.attrib.pop("style", "").split(";"):
        name, _, value = declaration.partition(":")
        if value.strip():
            element.set(name.strip(), value.strip())


def _prefix_names(element: Xml.Element, prefix: str) -> None:
    if HREF in element.attrib:
        element.set("href", element.attrib.pop(HREF))
    for name, value in element.attrib.items():
        if name == "id":
            element.set(name, f"{prefix}-{value}")
        elif name == "href" and value.startswith("#"):
            element.set(name, f"#{prefix}-{value[1:]}")
        else:
            element.set(name, _IN_URL.sub(rf"url(#{prefix}-\1)", value))
