"""The views of the page, one module each."""

from curewatch.web.views import (
    alerts,
    enter,
    room_page,
    sensors,
    shelf,
    spray_day,
    test_boards,
    today,
)

VIEWS = (
    today.router,
    alerts.router,
    enter.router,
    spray_day.router,
    room_page.router,
    sensors.router,
    shelf.router,
    test_boards.router,
)
