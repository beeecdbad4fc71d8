"""Whether the program answers and reaches its database."""

from django.db import connection
from django.http import HttpRequest, JsonResponse

from fleetdoors.access import open_to_strangers


@open_to_strangers
def health(_request: HttpRequest) -> JsonResponse:
    """Answer 200 when the database answers."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"status": "ok"})
