"""The views of the page, one module each."""

from curewatch.web.views import alerts, enter, today

VIEWS = (today.router, alerts.router, enter.router)
