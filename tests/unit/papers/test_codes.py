"""Square codes read back by an independent reader of pixels."""

from io import BytesIO

import numpy as np
import pytest
import zxingcpp
from PIL import Image, ImageFilter

from seatwright.papers._codes import draw_code
from seatwright.papers._typeset import rasterize_svg


@pytest.mark.parametrize("text", ["DEMO-1/43/masked", "A", "case_with-a-very-long-code-0123456/48/pattern resin"])
@pytest.mark.parametrize("blur_px", [0.0, 1.5])
def test_code_decodes_to_its_text_also_when_printed_badly(text: str, blur_px: float) -> None:
    picture = Image.open(BytesIO(rasterize_svg(draw_code(text), px_per_inch=200.0))).convert("L")
    found = zxingcpp.read_barcodes(np.asarray(picture.filter(ImageFilter.GaussianBlur(blur_px))))
    assert [f.text for f in found] == [text]
    assert found[0].format == zxingcpp.BarcodeFormat.DataMatrix


def test_code_is_square_with_its_quiet_zone() -> None:
    picture = np.asarray(
        Image.open(BytesIO(rasterize_svg(draw_code("DEMO-1/43/masked"), px_per_inch=254.0))).convert("L")
    )
    assert picture.shape[0] == picture.shape[1]
    assert draw_code("DEMO-1/43/masked").count("h1v1h-1z") > 50
