"""What heat and cold do to an impression: one band per temperature that it saw.

Owns the temperature limits of each material. Knows no minutes: a temperature counts from the moment it was seen.
"""

from seatwright.case import ImpressionMaterial
from seatwright.evidence import find_evidence
from seatwright.pour._result import Band

__all__ = ["temperature_band"]


def temperature_band(material: ImpressionMaterial, temperature_c: float) -> tuple[Band, str, str]:
    """Return (band, evidence id, rule) for a temperature that an impression saw.

    Examples
    --------
    >>> temperature_band(ImpressionMaterial.ALGINATE, 40.0)[0]
    <Band.BEYOND: 'beyond'>
    """
    if material.is_hydrocolloid:
        return _hydrocolloid(temperature_c)
    if material is ImpressionMaterial.ADDITION_SILICONE:
        return _addition_silicone(temperature_c)
    if temperature_c <= _limit("clock_ela_cold"):
        return Band.STRETCHED, "clock_ela_cold", "freezing"
    is_hot = temperature_c > _limit("clock_ela_hot")
    return (Band.BEYOND if is_hot else Band.WITHIN), "clock_ela_hot", "heat"


def _limit(identifier: str) -> float:
    return find_evidence(identifier).require_value()


def _hydrocolloid(temperature_c: float) -> tuple[Band, str, str]:
    if temperature_c >= _limit("clock_alg_reject_hot"):
        return Band.BEYOND, "clock_alg_reject_hot", "heat"
    if temperature_c <= _limit("clock_alg_reject_cold"):
        return Band.BEYOND, "clock_alg_reject_cold", "freezing"
    is_warm = temperature_c > _limit("clock_alg_warn_hot")
    return (Band.STRETCHED if is_warm else Band.WITHIN), "clock_alg_warn_hot", "heat"


def _addition_silicone(temperature_c: float) -> tuple[Band, str, str]:
    if temperature_c < _limit("clock_vps_cold"):
        return Band.STRETCHED, "clock_vps_cold", "freezing"
    if temperature_c <= _limit("clock_vps_warn_hot"):
        return Band.WITHIN, "clock_vps_warn_hot", "heat"
    is_borne = temperature_c <= _limit("ela_vps_todd")
    return (Band.STRETCHED if is_borne else Band.BEYOND), "clock_vps_warn_hot", "heat"
