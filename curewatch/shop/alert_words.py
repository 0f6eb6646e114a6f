"""What each kind of alert is called, and how its subject is said, on every face."""

from __future__ import annotations

from typing import Final

from curewatch.shop.alert import AlertKind

SAYS: dict[AlertKind, str] = {
    AlertKind.RECOAT_OPEN: "ready for the next coat",
    AlertKind.RECOAT_CLOSING: "last call for the next coat",
    AlertKind.RECOAT_MISSED: "the time for the next coat has passed",
    AlertKind.READY_WET_SAND: "ready to wet sand",
    AlertKind.READY_BUFF: "ready to buff",
    AlertKind.CURED: "fully cured",
    AlertKind.COAT_EARLY: "coated too early",
    AlertKind.COAT_IN_MIDDLE: "coated inside the forbidden time",
    AlertKind.COAT_LATE: "coated too late to bond without a scuff",
    AlertKind.POT_OVER: "the pot's life is over",
    AlertKind.WORK_EARLY: "worked before it was ready",
    AlertKind.WET_WORK_CLIMATE: "air outside the finish's limits, with wet work in it",
    AlertKind.SURFACE_DEW: "a surface is close to the dew point",
    AlertKind.BLUSH: "a fresh coat can blush in this air",
    AlertKind.FILM_COLD: "the wet film is too cold to form",
    AlertKind.COLD_YOUNG_FILM: "cold on a young film",
    AlertKind.COLD_CHECK: "a hard film is cooling too fast",
    AlertKind.WOOD_MOVING: "its wood is still moving",
    AlertKind.SENSOR_SILENT: "not heard from",
    AlertKind.SENSOR_STUCK: "its values do not move",
    AlertKind.SENSOR_RANGE: "out of range",
    AlertKind.SENSOR_IN_JAR: "left in its jar",
    AlertKind.SENSOR_OFF: "too far off to be corrected",
    AlertKind.SENSOR_WET: "water on it",
    AlertKind.SENSORS_APART: "two sensors disagree",
    AlertKind.SENSOR_CHECK_DUE: "a check is due",
    AlertKind.FOLLOW_UP: "look at it again",
    AlertKind.GAP: "hours without credit",
}


JUDGE_GLOSS: Final = "judge the gloss"  # what is asked of a film that was buffed early


def heading(kind: AlertKind, reason: str) -> str:
    """Say in a few words what an alert of a kind asks or tells, by its reason where that rules."""
    if kind is AlertKind.READY_BUFF and JUDGE_GLOSS in reason:
        return JUDGE_GLOSS
    return SAYS[kind]


def subject_said(subject: str) -> str:
    """Say an alert's subject: 'piece:A12#coat-3' is 'Piece A12'."""
    what, _, name = subject.partition(":")
    return f"{what.capitalize()} {name.partition('#')[0]}".strip()
