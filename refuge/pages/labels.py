"""Labels for enclosures and filters: a symbol that leads a phone to the page of the thing."""

from typing import Any

from django.conf import settings


def label_context(subject: Any, code: str, name: str, text: str) -> dict[str, Any]:
    """What the label page needs. The address is absolute: a label outlives the phone that printed it."""
    return {
        "subject": subject,
        "code": code,
        "name": name,
        "text": text,
        "url": settings.BASE_URL + subject.get_absolute_url(),
    }
