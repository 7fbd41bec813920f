"""The dossier on paper and as a page: one folder of files that a dentist and a technician work from."""

from seatwright.papers._dossier import draw_figures, render_dossier
from seatwright.papers._pictures import render_cast_pictures
from seatwright.papers._step_cards import typeset_step_cards

__all__ = ["draw_figures", "render_cast_pictures", "render_dossier", "typeset_step_cards"]
