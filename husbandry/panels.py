"""What the animals add to pages: who lives in a water or an enclosure, what they eat, and what happened."""

from itertools import groupby

from django.db.models import Count, F, Sum
from django.db.models.functions import TruncDate
from django.urls import reverse

from husbandry import missing, stay_entries  # noqa: F401  they register what they tell
from husbandry.held import tell_held
from husbandry.models import Animal, Feeding, Food, HeadCount, HealthRecord, Measurement, Placement, Species
from husbandry.selectors import day_bounds, load_rows, plans_of
from refuge import units
from refuge.pages.history import Asked, Entry, history_source, record_entries, standing
from refuge.pages.panels import Page, Panel, panel
from refuge.pages.site import Row, SitePart, site_part

LEAST_SHOWN = 0.005  # g a day: less is written 0.00


@panel("circuit", order=10)
def animals_of_water(page: Page) -> Panel | None:
    rows = load_rows(page, page.subject.pk)
    if not rows:
        return None
    eaters = [row for row in rows if row.recent_g_day >= LEAST_SHOWN or row.planned_g_day >= LEAST_SHOWN]
    others = sorted((row for row in rows if row not in eaters), key=lambda row: row.label)
    context = {"eaters": eaters, "others": others, "window": _window(page)}
    return Panel("husbandry/_load_panel.html", context)


def _window(page: Page) -> float:
    return page.moment.limits(page.subject.pk)["husbandry.load_window_days"]


@panel("enclosure", order=10)
def residents(page: Page) -> Panel:
    here = [facts for facts in page.facts.animal.values() if facts.enclosure_id == page.subject.pk]
    species = dict(
        Animal.objects.filter(pk__in=[facts.id for facts in here]).values_list("pk", "species__name")
    )
    rows = [(facts, species.get(facts.id, ""), quarantine_day(facts, page)) for facts in here]
    total = sum(facts.mass_kg or 0.0 for facts in here)
    return Panel("husbandry/_residents_panel.html", {"rows": rows, "total_kg": total})


def quarantine_day(facts, page: Page) -> str:
    """'day 41 of 365', or nothing for an animal that is not in quarantine."""
    if facts.quarantine is None:
        return ""
    return f"day {(page.today - facts.quarantine.clock_from).days + 1} of {facts.quarantine.days}"


@panel("enclosure", order=20)
def plans_here(page: Page) -> Panel:
    here = [facts.id for facts in page.facts.animal.values() if facts.enclosure_id == page.subject.pk]
    plans = tell_held(plans_of(enclosure_id=page.subject.pk, animal_ids=here, today=page.today), page.facts)
    new_url = reverse("enclosure_plan_new", args=[page.subject.pk])
    return Panel("husbandry/_plans_panel.html", {"plans": plans, "new_url": new_url, "today": page.today})


def meal_words(meal: Feeding, system: str) -> str:
    """A meal in a few words, in the reader's units."""
    amount = units.show(meal.offered_kg, "food", system)
    if meal.refused:
        return f"Refused {amount} {meal.food}"
    left = f", {units.show(meal.left_kg, 'food', system)} left" if meal.left_kg else ""
    return f"Fed {amount} {meal.food}{left}"


@history_source("animal")
def meals(asked: Asked) -> list[Entry]:
    rows = standing(Feeding, asked).filter(animal=asked.subject_id).select_related("food")
    return record_entries(rows, asked, lambda meal: meal_words(meal, asked.system), icon="fish")


@history_source("enclosure")
def meals_of_the_group(asked: Asked) -> list[Entry]:
    rows = standing(Feeding, asked).filter(enclosure=asked.subject_id, animal__isnull=True)
    rows = rows.select_related("food")
    return record_entries(rows, asked, lambda meal: meal_words(meal, asked.system), icon="fish")


@history_source("enclosure")
def meals_of_its_animals(asked: Asked) -> list[Entry]:
    """One line a day; each meal by itself stands on its animal's page, and here where everything is asked for."""
    rows = standing(Feeding, asked).filter(enclosure=asked.subject_id, animal__isnull=False)
    rows = rows.select_related("food", "animal")
    if asked.everything:
        words = lambda meal: meal_words(meal, asked.system)  # noqa: E731
        who = lambda meal: f"{meal.animal} {meal.note}".strip()  # noqa: E731
        return record_entries(rows, asked, words, icon="fish", note=who)
    days = rows.annotate(day=TruncDate("at", tzinfo=asked.zone)).order_by("-day")
    shown = list(days.values_list("day", flat=True).distinct()[: asked.limit])
    found = days.filter(at__gte=day_bounds(shown[-1], asked.zone)[0]).order_by("-at", "-pk") if shown else []
    return [_day_of_meals(list(same), asked) for _, same in groupby(found, key=lambda meal: meal.day)]


def _day_of_meals(fed: list[Feeding], asked: Asked) -> Entry:
    """The meals of one day, newest first, as one entry."""
    total = units.show(sum(meal.eaten_kg for meal in fed), "food", asked.system)
    each = [f"{meal.animal}: {meal_words(meal, asked.system)} {meal.note}".strip() for meal in reversed(fed)]
    return Entry(
        when=fed[0].at,
        what=f"Fed {total} in {len(fed)} meal{'s'[: len(fed) > 1]}",
        icon="fish",
        note="; ".join(each),
        is_day=True,
    )


@history_source("circuit")
def meals_by_day(asked: Asked) -> list[Entry]:
    rows = Feeding.objects.filter(circuit=asked.subject_id).annotate(day=TruncDate("at", tzinfo=asked.zone))
    sums = rows.values("day").annotate(
        n=Count("pk"), kg=Sum(F("offered_kg") - F("left_kg")), tan=Sum("tan_g")
    )
    return [
        Entry(
            when=day_bounds(row["day"], asked.zone)[0],
            what=f"Fed {units.show(row['kg'], 'food', asked.system)} in {row['n']} meal{'s'[: row['n'] > 1]}",
            icon="fish",
            note=f"{row['tan']:.1f} g ammonia nitrogen",
            is_day=True,
        )
        for row in sums.order_by("-day")[: asked.limit]
    ]


@history_source("enclosure")
def head_counts(asked: Asked) -> list[Entry]:
    rows = standing(HeadCount, asked).filter(enclosure=asked.subject_id)
    return record_entries(rows, asked, lambda c: f"{c.seen} of {c.expected} seen", icon="eye")


@history_source("animal")
def measurements(asked: Asked) -> list[Entry]:
    rows = standing(Measurement, asked).filter(animal=asked.subject_id)
    return record_entries(rows, asked, lambda each: measured_words(each, asked.system), icon="weigh")


def measured_words(each: Measurement, system: str) -> str:
    parts = [] if each.mass_kg is None else [units.show(each.mass_kg, "mass", system)]
    if each.carapace_m is not None:
        parts.append(f"carapace {units.show(each.carapace_m, 'length', system)}")
    return "Measured: " + ", ".join(parts)


@history_source("animal")
def health(asked: Asked) -> list[Entry]:
    rows = standing(HealthRecord, asked).filter(animal=asked.subject_id)
    return record_entries(
        rows,
        asked,
        lambda each: f"{each.get_kind_display()}: {'nothing unusual' if each.is_normal else 'unusual'}",
        icon="health",
        note=lambda each: " ".join(part for part in (each.finding, each.note) if part),
    )


@history_source("circuit", "enclosure", "animal")
def moves(asked: Asked) -> list[Entry]:
    rows = Placement.objects.filter(**{asked.kind: asked.subject_id})
    rows = rows.select_related("animal", "enclosure", "circuit", "by").order_by("-starts_at", "-pk")
    return [_moved(each, asked) for each in rows[: asked.limit]]


def _moved(each: Placement, asked: Asked) -> Entry:
    what = f"{each.animal} moved in" if asked.kind != "animal" else f"Moved to {each.enclosure}"
    place = f"Water {each.circuit}" if asked.kind == "animal" else str(each.enclosure)
    url = each.animal.get_absolute_url() if asked.kind != "animal" else each.enclosure.get_absolute_url()
    note = ". ".join(part for part in (place, each.reason) if part)
    return Entry(each.starts_at, what, "move", str(each.by or ""), note, url=url)


@site_part(60)
def species_part() -> SitePart:
    rows = [
        Row(each.name, each.scientific_name, reverse("species_edit", args=[each.pk]))
        for each in Species.objects.all()
    ]
    return SitePart(
        "Species",
        "shell",
        len(rows),
        reverse("species_new"),
        rows=rows,
        needed="The kinds of animals you keep.",
    )


@site_part(70)
def food_part() -> SitePart:
    rows = [
        Row(
            each.name,
            f"{each.protein_fraction:.1%} protein; {each.source}",
            reverse("food_edit", args=[each.pk]),
        )
        for each in Food.objects.all()
    ]
    return SitePart(
        "Foods",
        "fish",
        len(rows),
        reverse("food_new"),
        rows=rows,
        needed="Protein and water decide what a meal puts into the water.",
    )
