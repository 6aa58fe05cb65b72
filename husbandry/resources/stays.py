"""Placements, quarantines and feeding plans as tables of files: taken out, never brought in."""

from husbandry.models import (
    FeedingPlan,
    Placement,
    Quarantine,
    QuarantineCheck,
    QuarantineRestart,
)
from refuge.exchange.columns import Column, columns
from refuge.exchange.registry import register
from refuge.exchange.resource import TableResource


@register
class PlacementResource(TableResource):
    key, title, order = "placements", "Placements", 30
    words = "Where animals were, and in whose water, from when to when."
    columns = columns(
        "animal=animal__code",
        "enclosure=enclosure__code",
        "circuit=circuit__code",
        "starts_at",
        "ends_at",
        "by=by__name",
        "reason",
    )
    related = ("animal", "enclosure", "circuit", "by")

    class Meta:
        model = Placement


@register
class QuarantineResource(TableResource):
    key, title, order = "quarantines", "Quarantines", 31
    words = "The clock moves when somebody joins the water; the day of the start never does."
    columns = columns(
        Column("quarantine", "pk", "number of the quarantine"),
        "animal=animal__code",
        "started_on",
        Column("clock_from", words="day from which it counts"),
        Column("days", words="length"),
        Column("ends_on", words="planned end"),
        "released_on",
        "released_by=released_by__name",
        "outcome",
    )
    related = ("animal", "released_by")

    class Meta:
        model = Quarantine


@register
class QuarantineRestartResource(TableResource):
    key, title, order = "quarantine_restarts", "Quarantine restarts", 32
    words = "Why a clock was set back."
    columns = columns(
        Column("quarantine", "quarantine_id", "number of the quarantine"),
        Column("animal", "quarantine__animal__code", "whose quarantine"),
        Column("on", words="day"),
        Column("because_of", "because_of__code", "who joined the water"),
        "previous_clock_from",
        Column("previous_ends_on", words="planned end before"),
    )
    related = ("quarantine__animal", "because_of")

    class Meta:
        model = QuarantineRestart


@register
class QuarantineCheckResource(TableResource):
    key, title, order = "quarantine_checks", "Quarantine checks", 33
    words = "Checks planned, and the health record that answers each."
    columns = columns(
        Column("quarantine", "quarantine_id", "number of the quarantine"),
        Column("animal", "quarantine__animal__code", "whose quarantine"),
        "kind",
        "due_on",
        Column("answered_by", "answered_by__uuid", "uuid of the health record"),
    )
    related = ("quarantine__animal", "answered_by")

    class Meta:
        model = QuarantineCheck


@register
class FeedingPlanResource(TableResource):
    key, title, order = "feeding_plans", "Feeding plans", 34
    words = "What is to be fed, to an animal or to an enclosure's group."
    columns = columns(
        "animal=animal__code",
        "enclosure=enclosure__code",
        "food=food__name",
        "ration_kg",
        "every_days",
        Column("weekdays", words="sum of: Monday 1, Tuesday 2, Wednesday 4, … Sunday 64"),
        "starts_on",
        "ends_on",
        Column("fasting_until", words="no food until"),
        "note",
    )
    related = ("animal", "enclosure", "food")

    class Meta:
        model = FeedingPlan
