"""Square codes for labels: the text of a die as DataMatrix, drawn as one SVG path."""

import numpy as np
import zxingcpp

__all__ = ["draw_code"]

_QUIET_MODULES = 1  # ISO/IEC 16022:2006, 5.2.1: one module on every side


def draw_code(text: str) -> str:
    """Return a DataMatrix of `text` as SVG, one module a user unit, quiet zone included.

    References
    ----------
    .. [1] ISO/IEC 16022:2006, Data Matrix bar code symbology specification (ECC 200).
    """
    image = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix, force_square=True).to_image(
        scale=1, add_quiet_zones=False
    )
    rows = np.asarray(memoryview(image))
    n_rows, n_columns = rows.shape
    dark = "".join(
        f"M{column + _QUIET_MODULES} {row + _QUIET_MODULES}h1v1h-1z"
        for row in range(n_rows)
        for column in range(n_columns)
        if rows[row, column] == 0
    )
    width, height = n_columns + 2 * _QUIET_MODULES, n_rows + 2 * _QUIET_MODULES
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}mm" height="{height}mm" '
        f'shape-rendering="crispEdges"><path d="M0 0h{width}v{height}h-{width}z" fill="#fff"/>'
        f'<path d="{dark}" fill="#000"/></svg>\n'
    )
