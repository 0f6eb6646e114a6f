"""Where the numbers of a plain answer come from, in words: those of one source share a sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from curewatch.shop.standings import KEY, answers_itself, entry_name, numbers, told_at

if TYPE_CHECKING:
    from curewatch.shop.plain import Plain

UNITS: Final = {  # how a plain name ends, and the unit people read
    "_um2_h": " um2/h",
    "_um_h": " um/h",
    "_g_m2": " g/m2",
    "_kj_mol": " kJ/mol",
    "_k_h": " K/h",
    "_hours": " h",
    "_days": " d",
    "_pct": " %",
    "_um": " um",
    "_h": " h",
    "_c": " °C",
    "_k": " K",
}
UNSAID: Final = ("milestones", "limits", "figures", "clocks")


def sources(plain: Plain) -> list[tuple[str, list[str]]]:
    """Return sentences such as 'buff 280 h: data sheet (...)', by the part of the answer.

    The answer's own come first, under ''; parts with a mapping of their own follow under their
    name, those that answer for themselves in one word under ''.
    """
    found = [("", _own(plain))]
    for key, value in plain.items():
        for index, part in enumerate(value if isinstance(value, list) else [value]):
            if isinstance(part, dict) and answers_itself(part):
                place = f"{key}.{entry_name(part, index)}" if isinstance(value, list) else key
                found.append(_of_part(part, place))
    return found


def _of_part(part: Plain, place: str) -> tuple[str, list[str]]:
    """Return the sentences of a part that answers for its own numbers."""
    told = part[KEY]
    if isinstance(told, str):  # one word for all of them
        bare = {key: value for key, value in part.items() if key != KEY}
        own: Plain = {place: {KEY: told, "source": part["source"]}}
        return "", _own({place: bare, KEY: own})
    return place.replace("_", " ").replace(".", " "), _own(part)


def _own(plain: Plain) -> list[str]:
    told = plain.get(KEY)
    if not isinstance(told, dict):
        return []
    said: dict[tuple[str, str], list[str]] = {}
    for place, value in numbers(plain):
        found = told_at(told, place)
        if found is not None:
            said.setdefault(found, []).append(_number(place, value))
    return [
        f"{', '.join(group)}: {_because(standing.replace('-', ' '), source)}"
        for (standing, source), group in said.items()
    ]


def _because(word: str, source: str) -> str:
    """Say a standing with its source, once where the source begins with it."""
    if source.startswith(word):
        return source
    return f"{word} ({source})" if source else word


def _number(place: str, value: float) -> str:
    """Say a number by its place: 'milestones.buff.required_hours' of 280 is 'buff 280 h'."""
    unit = next((said for end, said in UNITS.items() if place.endswith(end)), "")
    for end in UNITS:
        if place.endswith(end):
            place = place.removesuffix(end)
            break
    words = [word for word in place.removesuffix(".required").split(".") if word not in UNSAID]
    return f"{' '.join(words).replace('_', ' ')} {round(value, 4) + 0.0:.4g}{unit}"
