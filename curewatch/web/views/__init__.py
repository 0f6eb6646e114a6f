"""The views of the page, one module each."""

from curewatch.web.views import (
    alerts,
    enter,
    hooks,
    papers,
    piece,
    piece_new,
    pots,
    room_page,
    sensor_check,
    sensors,
    shelf,
    spray_day,
    test_boards,
    today,
    wall,
)

VIEWS = (
    today.router,
    alerts.router,
    enter.router,
    hooks.router,
    piece_new.router,
    piece.router,
    pots.router,
    spray_day.router,
    room_page.router,
    sensors.router,
    sensor_check.router,
    shelf.router,
    test_boards.router,
    papers.router,
    wall.router,
)
