"""Characters on paper: what is let through can be typeset under the archival rules."""

import unicodedata

from tests.dossiers import planned_dossier

from seatwright.papers._printable import _SHOWN, printable
from seatwright.papers._typeset import typeset_pdf
from seatwright.papers._view import view_dossier


def test_every_character_that_is_let_through_can_be_typeset() -> None:
    everything = " ".join(chr(code) for first, last in _SHOWN for code in range(first, last + 1))
    assert printable(everything) == unicodedata.normalize("NFC", everything)
    view = view_dossier(planned_dossier()) | {"labels": [], "title": everything}
    finding = view["findings"][0] | {"severity": "stop", "what": everything, "do": everything}
    view |= {"findings": [finding], "units": [], "bars": [], "rounds": [], "impressions": [], "casts": []}
    blank = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1" width="1mm" height="1mm"/>'
    pdf = typeset_pdf("bench-card.typ", view, now=planned_dossier().now, files={"arch-sheet.svg": blank})
    assert pdf.startswith(b"%PDF")


def test_what_has_no_glyph_becomes_a_box_and_accents_are_composed() -> None:
    assert printable("歯\ue000e\u0301") == "□□é"
