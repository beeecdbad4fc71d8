"""The interface for other systems: joins the routers of the apps, by dotted names."""

from ninja import NinjaAPI

api = NinjaAPI(
    title="fleetdoors",
    version="1",
    description="Post counter readings; read doors, due tasks, figures and stock.",
    urls_namespace="api",
    # Its page is our own, in the shell of the others.
    docs_url=None,
    openapi_url="openapi.json",
)
api.add_router("/readings", "inspections.api.readings.router")
api.add_router("/doors", "analytics.api.doors.router")
api.add_router("/due", "analytics.api.due.router")
api.add_router("/figures", "analytics.api.figures.router")
api.add_router("/stock", "analytics.api.stock.router")
