"""The refuge and its people as tables of files. No password, token or address leaves this way."""

from refuge.exchange.columns import Column, columns
from refuge.exchange.registry import register
from refuge.exchange.resource import TableResource
from refuge.people.models import Refuge, User


@register
class RefugeResource(TableResource):
    key, title, order = "refuge", "The refuge", 1
    words = "What the whole site goes by."
    columns = columns("name", "time_zone", Column("morning_at", words="the day starts at"), "elevation_m")

    class Meta:
        model = Refuge


@register
class PersonResource(TableResource):
    key, title, order = "people", "People", 2
    words = "Who worked here, and in which role."
    columns = columns("username", "name", "role", "is_active", "date_joined")

    class Meta:
        model = User
