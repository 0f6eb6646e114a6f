"""What lacquer is thinned with: generic blends from fast to slow, and the alcohol of shellac.

They are stand-ins of our own for what is sold: a fast one of ketones and toluene, a
middling one, and two in which n-butyl acetate takes the place of the rest in proportion. What is in
the can decides; its safety data sheet lists the solvents.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from curewatch.errors import BadInput
from curewatch.science.blush import ThinnerBlend
from curewatch.shop.reading import Standing


@dataclass(frozen=True, slots=True)
class Thinner:
    """A blend of solvents as a shop knows it.

    Attributes
    ----------
        blend: its solvents by mass.
        title: in a few words, for people.
        standing: where the mixture comes from.
        source: the same in words.
    """

    blend: ThinnerBlend
    title: str
    standing: Standing
    source: str


_GENERIC = (
    "from memory: a generic mixture, no maker's; the solvents are those that safety data sheets of "
    "lacquer thinners list"
)


def _thinner(name: str, title: str, source: str, shares: Mapping[str, float]) -> Thinner:
    return Thinner(ThinnerBlend(name, shares), title, Standing.FROM_MEMORY, source)


LACQUER_THINNERS: Mapping[str, Thinner] = MappingProxyType(
    {
        "fast": _thinner(
            "fast",
            "fast lacquer thinner, for cool dry days",
            _GENERIC,
            {"acetone": 0.4, "2-butanone": 0.2, "toluene": 0.4},
        ),
        "medium": _thinner(
            "medium",
            "usual lacquer thinner",
            _GENERIC,
            {
                "acetone": 0.15,
                "2-butanone": 0.10,
                "2-propanol": 0.10,
                "toluene": 0.35,
                "n-butyl acetate": 0.30,
            },
        ),
        "slow": _thinner(
            "slow",
            "slow lacquer thinner, for warm days",
            f"{_GENERIC}; the usual blend with n-butyl acetate brought to 45 %",
            {
                "acetone": 0.12,
                "2-butanone": 0.08,
                "2-propanol": 0.08,
                "toluene": 0.27,
                "n-butyl acetate": 0.45,
            },
        ),
        "retarded": _thinner(
            "retarded",
            "lacquer thinner with much retarder, for damp days",
            f"{_GENERIC}; the usual blend with n-butyl acetate brought to 60 %",
            {
                "acetone": 0.08,
                "2-butanone": 0.06,
                "2-propanol": 0.06,
                "toluene": 0.20,
                "n-butyl acetate": 0.60,
            },
        ),
    }
)
"""The lacquer thinners, fast to slow."""
ALCOHOL = Thinner(
    ThinnerBlend("alcohol", {"ethanol": 1.0}),
    "the alcohol of shellac",
    Standing.COMMON_PRACTICE,
    "common practice, no source: shellac is dissolved in ethanol; its few per cent of water and of "
    "denaturant are left out",
)
"""What shellac is dissolved in."""
THINNERS: Mapping[str, Thinner] = MappingProxyType({**LACQUER_THINNERS, "alcohol": ALCOHOL})
"""Every blend by name."""
USUAL = LACQUER_THINNERS["medium"]
"""What is taken where nothing else is said."""


def thinner_named(name: str) -> Thinner:
    """Return the blend of that name, or raise BadInput that lists the names."""
    if name not in THINNERS:
        raise BadInput(f"thinner {name!r} is not known; it must be one of: {', '.join(THINNERS)}.")
    return THINNERS[name]


def thinner_for(solvent: str | None) -> Thinner:
    """Return the blend to assume for a finish whose drying is paced by that solvent."""
    return ALCOHOL if solvent == "ethanol" else USUAL
