"""Results as drawings: the same figure on the page, on paper and in the dossier. Pure: a value in, SVG or PNG out."""

from typing import TYPE_CHECKING

from seatwright.late import open_late

if TYPE_CHECKING:
    from seatwright.figures._answers import TECHNIQUE_WORDS, VERDICT_WORDS, UnitAnswer, answer_units
    from seatwright.figures._arch_sheet import draw_arch_sheet
    from seatwright.figures._caliper_plan import draw_caliper_plan
    from seatwright.figures._clock import BAND_WORDS, describe_cost, draw_clock, sort_by_urgency
    from seatwright.figures._colors import diverging_color
    from seatwright.figures._deviation import (
        LegendPlate,
        color_deviation,
        draw_deviation,
        draw_deviation_legend,
        place_legend_mm,
        scale_of_deviation,
        view_of_cast,
    )
    from seatwright.figures._drawing_frame import fit_drawing_axes
    from seatwright.figures._entry_sheet import UNIT_WORDS, describe_entry_tooth, draw_entry_sheet
    from seatwright.figures._forecast import draw_fit, draw_places, draw_ranked_links
    from seatwright.figures._index_test import draw_index_test
    from seatwright.figures._ink import severity_word
    from seatwright.figures._intervals import draw_intervals
    from seatwright.figures._margins import MARGIN_WORDS
    from seatwright.figures._movements import draw_movements
    from seatwright.figures._path_window import draw_path_window
    from seatwright.figures._render import Paint, View, render_surface
    from seatwright.figures._text import clean_text
    from seatwright.figures._timetable_bars import draw_timetable_bars
    from seatwright.figures._undercut_map import draw_undercut_map
else:
    __getattr__ = open_late(__name__, __file__)

__all__ = [
    "BAND_WORDS",
    "MARGIN_WORDS",
    "TECHNIQUE_WORDS",
    "UNIT_WORDS",
    "VERDICT_WORDS",
    "LegendPlate",
    "Paint",
    "UnitAnswer",
    "View",
    "answer_units",
    "clean_text",
    "color_deviation",
    "describe_cost",
    "describe_entry_tooth",
    "diverging_color",
    "draw_arch_sheet",
    "draw_caliper_plan",
    "draw_clock",
    "draw_deviation",
    "draw_deviation_legend",
    "draw_entry_sheet",
    "draw_fit",
    "draw_index_test",
    "draw_intervals",
    "draw_movements",
    "draw_path_window",
    "draw_places",
    "draw_ranked_links",
    "draw_timetable_bars",
    "draw_undercut_map",
    "fit_drawing_axes",
    "place_legend_mm",
    "render_surface",
    "scale_of_deviation",
    "severity_word",
    "sort_by_urgency",
    "view_of_cast",
]
