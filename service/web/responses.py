"""Answering with a page, or with the one block of it that htmx asked for."""

from functools import partial
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk.doorway import Caller, Language, ShopFacts
from service.desk.signing_in.lifetimes_and_tries import TABLET_LEFT_AFTER
from service.paper.templates import environment
from service.web.authentication import new_key
from service.words.both_systems import in_both
from service.words.numbers_to_text import thousands_parted
from service.words.prices import PER
from service.words.sentences import refused
from service.words.units import offered

# The pages of the bench, which a tablet of the shop may keep for the person who is signed in on it.
KEPT = frozenset({
    "today.html", "curing.html", "crushing.html", "block.html", "block_test.html", "block_tests.html",
    "batch.html", "press.html", "test_charge.html", "unsent.html",
})  # fmt: skip

# The pages that a customer reads in their own language, and a stranger in that of the browser.
SPOKEN = frozenset({
    "your_soils.html", "questions.html", "slip.html", "photos.html", "you.html", "second_factor.html",
    "recovery_codes.html", "confirm.html", "sign_in.html", "address.html", "refusal.html", "shared.html", "check.html",
    "request.html", "offer.html", "own_links.html",
})  # fmt: skip


def page(
    request: Request,
    template: str,
    *,
    caller: Caller | None,
    code: int = 200,
    language: Language | None = None,
    **view: Any,
) -> HTMLResponse:
    """Return the page, or its block named by HX-Target when htmx asks for that alone; ``language`` is a paper's own."""
    shop = caller.shop if caller else ShopFacts()
    language = language or (speaks(request, caller) if template in SPOKEN else "en")
    errors = getattr(request.state, "errors", {})

    def told(sentence: str) -> str:
        return in_both(refused(sentence, language=language), units=shop.units_first)

    loaded = environment(language).get_template(template)
    context = loaded.new_context(
        {
            "request": request,
            "caller": caller,
            "shop": shop,
            "speaks": language,
            "offered": partial(offered, units=shop.units_first),
            "priced_per": PER[shop.units_first],
            "halves": {},
            "typed": getattr(request.state, "typed", {}),
            "errors": {name: told(text) for name, text in errors.items()},
            "refusal": told(getattr(request.state, "refusal", "")),
            "new_key": new_key,
            "now": caller.stores.clock() if caller else None,
            "left_after_s": int(TABLET_LEFT_AFTER.total_seconds()),
            **view,
        }
    )
    block = _block_wanted(request)
    # A block that the page does not have means the whole page: htmx picks what it needs from it.
    root = loaded.blocks.get(block, loaded.root_render_func) if block else loaded.root_render_func
    headers = {"Vary": "HX-Request, HX-Target"}
    if caller is not None and caller.device_id is not None and template in KEPT and code == 200:
        headers["Loambook-Keep"] = str(caller.person_id)
    with thousands_parted(shop.comma_thousands):
        return HTMLResponse("".join(root(context)), code, headers)


def speaks(request: Request, caller: Caller | None) -> Language:
    """Return the language of who reads: that of the person, or of the browser where nobody is signed in."""
    if caller is not None and caller.person_id is not None:
        return caller.language
    first = request.headers.get("accept-language", "").partition(",")[0]
    return "es" if first.strip().lower().partition("-")[0] == "es" else "en"


def _block_wanted(request: Request) -> str:
    headers = request.headers
    wanted = headers.get("hx-request") == "true" and "hx-boosted" not in headers
    return headers.get("hx-target", "") if wanted and headers.get("hx-history-restore-request") != "true" else ""


def local(path: str) -> str:
    """Return a path of our own as it is and anything else as the first page, so that nobody is sent elsewhere."""
    safe = path.startswith("/") and not path.startswith("//") and "\\" not in path and "\n" not in path
    return path if safe else "/"


def see(path: str) -> RedirectResponse:
    """Return the 303 that every accepted form answers with."""
    return RedirectResponse(path, status_code=303)
