"""The dossier on paper and as a page: one folder of files that a dentist and a technician work from."""

from typing import TYPE_CHECKING

from seatwright.late import open_late

if TYPE_CHECKING:
    from seatwright.papers._dossier import draw_figures, render_dossier
    from seatwright.papers._page import SECTIONS, page_style, render_sections
    from seatwright.papers._pictures import render_cast_pictures
    from seatwright.papers._says import say_sections
    from seatwright.papers._step_cards import typeset_step_cards
    from seatwright.papers._view import view_dossier
else:
    __getattr__ = open_late(__name__, __file__)

__all__ = [
    "SECTIONS",
    "draw_figures",
    "page_style",
    "render_cast_pictures",
    "render_dossier",
    "render_sections",
    "say_sections",
    "typeset_step_cards",
    "view_dossier",
]
