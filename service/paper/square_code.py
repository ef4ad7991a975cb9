"""The code on a label: a square that a camera reads, leading to the page of what it is stuck on."""

from io import BytesIO


def code(address: str) -> str:
    """Return the code of an address as a drawing for a page, in ink on whatever ground it stands."""
    import segno

    drawn = BytesIO()
    # Level M survives a scratch on a dusty block and keeps the square small.
    segno.make(address, error="m", micro=False).save(
        drawn, kind="svg", xmldecl=False, svgns=False, svgclass="code", lineclass=None, omitsize=True, border=2
    )
    return drawn.getvalue().decode()


def code_on_paper(address: str) -> str:
    """Return the code of an address as a drawing on a paper, which says its address to whoever cannot see it."""
    import segno

    drawn = BytesIO()
    segno.make(address, error="m", micro=False).save(
        drawn,
        kind="svg",
        xmldecl=False,
        svgns=True,
        svgclass=None,
        lineclass=None,
        omitsize=True,
        border=2,
        title=address,
    )
    return drawn.getvalue().decode().replace("<svg ", '<svg role="img" ', 1)
