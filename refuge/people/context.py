from django.http import HttpRequest


def refuge(request: HttpRequest) -> dict[str, object]:
    """What every page knows: the refuge (loaded once by the middleware) and whose page it is."""
    return {"refuge": getattr(request, "refuge", None)}
