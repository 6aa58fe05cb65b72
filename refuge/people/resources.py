"""The refuge and its people as tables of files. No password, token or address leaves this way."""

from refuge.exchange.columns import Column, columns
from refuge.exchange.registry import register
from refuge.exchange.resource import TableResource
from refuge.people.models import Refuge, RoleChange, User


@register
class RefugeResource(TableResource):
    key, title, order = "refuge", "The refuge", 1
    words = "What the whole site goes by."
    columns = columns(
        "name",
        "time_zone",
        Column("morning_at", words="the day starts at"),
        "elevation_m",
        Column("price_per_kwh", words="price of a kilowatt hour, in your money"),
    )

    class Meta:
        model = Refuge


@register
class PersonResource(TableResource):
    key, title, order = "people", "People", 2
    words = "Who worked here, and in which role."
    columns = columns("username", "name", "role", "is_active", "date_joined")

    class Meta:
        model = User


@register
class RoleChangeResource(TableResource):
    key, title, order = "role_changes", "Role changes", 3
    words = "Who was given which role, lost access or got it back; by whom and when."
    columns = columns(
        Column("person", "person__username", "whose role"),
        Column("by", "by__name", "who changed it"),
        "at",
        Column("was", words="role before, or none for no access"),
        Column("became", words="role after, or none for no access"),
    )
    related = ("person", "by")

    class Meta:
        model = RoleChange
