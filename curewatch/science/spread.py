"""What a rate owes to each thing that is not known exactly."""

from dataclasses import dataclass

from curewatch.science.arrays import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class RateSpread:
    """
    Half the difference of a rate between the two ends of each source of error.

    Signed: a source with a positive sign raises the rate when it is raised itself. Summed along a
    record they give that source's share of the hours, since an unknown bias holds all along.
    A source that a law does not know has zeros.

    Attributes
    ----------
    temp, rh, ea, air : ndarray
        For temperature, relative humidity, activation energy and air speed [same unit as the rate].
    """

    temp: FloatArray
    rh: FloatArray
    ea: FloatArray
    air: FloatArray


def half_difference(high: FloatArray, low: FloatArray) -> FloatArray:
    """Half of `high - low`, element by element."""
    return 0.5 * (high - low)
