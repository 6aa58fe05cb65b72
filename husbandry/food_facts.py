"""What the rules may know of feeding: the plans in force, and what was eaten in each water. Two queries for any site."""

from collections import defaultdict
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Case, DateField, F, OuterRef, Q, Subquery, Sum, When
from django.db.models.functions import Cast, TruncDate, TruncMonth

from enclosures.help import help_for
from enclosures.steps import unfed_words
from husbandry.bioload import Load, planned_daily_load
from husbandry.models import Feeding, FeedingPlan, Placement
from refuge.prepared import prepared
from refuge.rounds.loaders import Moment, Scopes, of_waters
from refuge.rules.facts import Facts, Fed, PlanFacts

# Meals of so many days, back to the first of that month, are kept by the day, those before by the month.
DAILY_DAYS = 60
PLAN_COLUMNS = (
    "pk",
    "animal_id",
    "enclosure_id",
    "place",
    "ration_kg",
    "every_days",
    "weekdays",
    "starts_on",
    "ends_on",
    "fasting_until",
    "last_fed",
    "food__name",
    "food__protein_fraction",
    "food__water_fraction",
)


@prepared
def _plan_rows(enclosures: list[int] | None, animals: list[int] | None, today: date) -> Any:
    """Plans in force, with where each animal is and when it was last fed by it."""
    here = Placement.objects.filter(animal=OuterRef("animal_id"), ends_at__isnull=True)
    fed = Feeding.objects.filter(plan=OuterRef("pk")).order_by("-at")
    rows = FeedingPlan.objects.filter(Q(ends_on__isnull=True) | Q(ends_on__gt=today)).order_by("pk")
    if enclosures is not None:
        # By their numbers, not by joins: an OR over two joins would read every plan of the site.
        rows = rows.filter(Q(enclosure__pk__in=enclosures) | Q(animal__pk__in=animals))
    return rows.annotate(
        place=Subquery(here.values("enclosure_id")[:1]), last_fed=Subquery(fed.values("at")[:1])
    ).values_list(*PLAN_COLUMNS)


def load_plans(facts: Facts, scopes: Scopes, moment: Moment) -> dict[int, Load]:
    """Fill in the feeding plans; give the mean daily load that each circuit's plans ask for."""
    planned: dict[int, Load] = defaultdict(Load.zero)
    unfed = {
        pk: words
        for pk, water in facts.circuit.items()
        if (words := unfed_words(help_for(water, moment.limits(pk), moment.today)))
    }
    here = (None, None) if scopes is None else (list(facts.enclosure), list(facts.animal))
    for row in _plan_rows(enclosures=here[0], animals=here[1], today=moment.today):
        plan = _plan(facts, row, moment)
        if plan is None:
            continue
        facts.plan[plan.id] = replace(plan, unfed=unfed.get(plan.circuit_id, ""))
        if not plan.all_brumating and (plan.fasting_until is None or plan.fasting_until <= moment.today):
            planned[plan.circuit_id] += _plan_load(plan)
    return planned


def _plan_load(plan: PlanFacts) -> Load:
    per_week = 7 / plan.every_days if plan.every_days else float((plan.weekdays or 0).bit_count())
    return planned_daily_load(plan.ration_kg, per_week, plan.protein_fraction, plan.water_fraction)


def _plan(facts: Facts, row: tuple[Any, ...], moment: Moment) -> PlanFacts | None:
    (
        pk,
        animal_id,
        own_enclosure,
        place,
        ration,
        every,
        weekdays,
        starts,
        ends,
        fasting,
        last_fed,
        food,
        protein,
        water,
    ) = row
    enclosure = facts.enclosure.get(own_enclosure or place)
    animal = facts.animal.get(animal_id) if animal_id else None
    if (
        enclosure is None
        or (animal_id and animal is None)
        or (not animal_id and not enclosure.awake + enclosure.brumating)
    ):
        return None  # nobody there to feed
    return PlanFacts(
        id=pk,
        label=animal.label if animal else enclosure.label,
        path=animal.path if animal else enclosure.path,
        stop=enclosure.stop,
        circuit_id=enclosure.circuit_id,
        enclosure_id=enclosure.id,
        animal_id=animal_id,
        food=food,
        ration_kg=ration,
        every_days=every,
        weekdays=weekdays,
        starts_on=starts,
        ends_on=ends,
        fasting_until=fasting,
        all_brumating=animal.brumating_since is not None if animal else enclosure.awake == 0,
        last_fed_on=moment.day(last_fed) if last_fed else None,
        protein_fraction=protein,
        water_fraction=water,
    )


@prepared
def _fed_rows(scopes: Scopes, cut: datetime, until: datetime, zone: ZoneInfo) -> Any:
    """Meals summed by circuit and span: by the day since `cut`, by the month before."""
    # Cast, for a month begins without a zone: TruncDate would read it in the zone of whoever asks first.
    month = Cast(TruncMonth("at", tzinfo=zone), DateField())
    span = Case(When(at__gte=cut, then=TruncDate("at", tzinfo=zone)), default=month)
    sums = {"kg": Sum(F("offered_kg") - F("left_kg")), "tan": Sum("tan_g"), "solids": Sum("solids_g")}
    grouped = ("circuit_id", "is_recent", "span")
    meals = of_waters(Feeding.objects.filter(at__lte=until), scopes)
    rows = meals.annotate(is_recent=Q(at__gte=cut), span=span).values(*grouped)
    return rows.annotate(**sums).order_by("circuit_id", "-is_recent", "-span").values_list(*grouped, *sums)


def load_fed(facts: Facts, scopes: Scopes, moment: Moment) -> None:
    """Meals of each circuit, newest first: by local day for the recent weeks, by month before."""
    recent_from = (moment.today - timedelta(days=DAILY_DAYS)).replace(day=1)  # so that no month is cut in two
    cut = datetime.combine(recent_from, datetime.min.time(), tzinfo=moment.zone)
    rows = _fed_rows(scopes=scopes, cut=cut, until=moment.now, zone=moment.zone)
    for circuit_id, is_recent, start, kg, tan, solids in rows:
        end = start + timedelta(days=1) if is_recent else (start + timedelta(days=32)).replace(day=1)
        facts.fed.setdefault(circuit_id, []).append(Fed(start, end, kg, tan, solids))
