"""Who asks, and what the whole page shares: read off the request in one place."""

from fastapi import Request

from seatwright.web._hub import Change
from seatwright.web._page import PageState
from seatwright.web._people import read_cookies
from seatwright.web._practice import Practice

__all__ = ["is_still_in", "page_of", "person_of", "practice_of", "signed_in_of", "tell"]


def page_of(request: Request) -> PageState:
    """Return what all requests share."""
    page: PageState = request.app.state.page
    return page


def practice_of(request: Request) -> Practice:
    """Return the open practice."""
    return page_of(request).practice


def person_of(request: Request) -> str:
    """Return who asks, by bench code; the page itself where nobody signs in."""
    return getattr(request.state, "person", None) or "page"


def signed_in_of(request: Request) -> str:
    """Return the account of who asks; empty where nobody signs in, so that the bench's own hands stand for it."""
    return getattr(request.state, "person", None) or ""


async def is_still_in(request: Request) -> bool:
    """Whether who asked is signed in still; always, where nobody signs in."""
    people = page_of(request).people
    if people is None:
        return True
    token = read_cookies(request.headers.get("cookie", "")).get(people.cookie, "")
    return await people.session_of(token, is_use=False) is not None


def tell(request: Request, kind: str, **data: object) -> None:
    """Tell every browser that something changed, and which tab asked for it: that one is answered already."""
    page_of(request).hub.tell(Change(kind, {**data, "tab": request.headers.get("x-tab", "")[:64]}))
