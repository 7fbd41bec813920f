"""A color scale made for signed deviations: blue, near white, brown, at equal visible steps.

Construction, in OKLab: lightness falls and chroma rises in proportion to the distance from zero, at one blue and one
brown hue. Equal steps of the value are then equal steps of OKLab distance on either side, and lightness alone tells
how far from zero, so that it survives a gray print. Blue and brown differ along the axis that red-green deficiency
spares.
"""

import numpy as np

from seatwright.quantities import FloatArray

__all__ = ["diverging_color", "oklab_to_srgb", "srgb_to_oklab"]

_L_ZERO, _L_END = 0.955, 0.47
_CHROMA_END = 0.105
_HUE_LOW_RAD, _HUE_HIGH_RAD = np.radians(255.0), np.radians(58.0)

# OKLab, Ottosson B, "A perceptual color space for image processing" (2020): linear sRGB to cone response, and to Lab.
_LMS_FROM_RGB = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_LAB_FROM_LMS = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)


def oklab_to_srgb(lab: FloatArray) -> FloatArray:
    """Return sRGB values (not clipped) of OKLab colors, both of shape (n, 3)."""
    lms = (np.asarray(lab) @ np.linalg.inv(_LAB_FROM_LMS).T) ** 3
    linear = lms @ np.linalg.inv(_LMS_FROM_RGB).T
    return np.asarray(encode_srgb(linear))


def srgb_to_oklab(rgb: FloatArray) -> FloatArray:
    """Return OKLab colors of sRGB values in 0..1, both of shape (n, 3).

    Examples
    --------
    >>> np.round(srgb_to_oklab(np.array([[1.0, 1.0, 1.0]])), 3) + 0.0
    array([[1., 0., 0.]])
    """
    lms = decode_srgb(np.asarray(rgb)) @ _LMS_FROM_RGB.T
    return np.asarray(np.cbrt(lms) @ _LAB_FROM_LMS.T)


def encode_srgb(linear: FloatArray) -> FloatArray:
    """Return sRGB values of linear light (IEC 61966-2-1, 5.2)."""
    safe = np.maximum(linear, 0.0)
    return np.asarray(np.where(safe <= 0.0031308, 12.92 * safe, 1.055 * safe ** (1 / 2.4) - 0.055))


def decode_srgb(encoded: FloatArray) -> FloatArray:
    """Return linear light of sRGB values (IEC 61966-2-1, 5.2)."""
    return np.asarray(np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4))


def diverging_color(position: FloatArray) -> FloatArray:
    """Return the sRGB color of positions from -1 (blue) over 0 (near white) to 1 (brown).

    Parameters
    ----------
    position : ndarray of shape (n,)
        Clipped to -1..1.

    Returns
    -------
    ndarray of shape (n, 3)
        sRGB values in 0..1.

    Examples
    --------
    >>> low, zero, high = diverging_color(np.array([-1.0, 0.0, 1.0]))
    >>> bool(low[2] > low[0]), bool(high[0] > high[2]), bool(zero.min() > 0.9)
    (True, True, True)
    """
    t = np.clip(np.asarray(position, dtype=float), -1.0, 1.0)
    far = np.abs(t)
    hue = np.where(t < 0, _HUE_LOW_RAD, _HUE_HIGH_RAD)
    lightness = _L_ZERO + (_L_END - _L_ZERO) * far
    chroma = _CHROMA_END * far
    lab = np.column_stack([lightness, chroma * np.cos(hue), chroma * np.sin(hue)])
    return np.asarray(np.clip(oklab_to_srgb(lab), 0.0, 1.0))
