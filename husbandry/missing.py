"""What keeps the planner from judging animals: no weight, no place, nothing they are fed by."""

from collections.abc import Iterable, Iterator
from datetime import date
from urllib.parse import urlencode

from django.db.models import Count, Exists, OuterRef, Q
from django.urls import reverse
from django.utils import timezone

from enclosures.models import Enclosure
from husbandry.models import Animal, FeedingPlan, Measurement, Placement
from refuge.pages.site import Gap, SitePart, shortened, site_part


@site_part(80)
def animal_part() -> SitePart:
    """6 queries."""
    here = Animal.objects.filter(status=Animal.Status.HERE)
    every = reverse("animal_list")
    return SitePart(
        title="Animals",
        icon="shell",
        count=here.count(),
        new_url=reverse("arrival_new"),
        list_url=every,
        gaps=[
            *shortened(
                list(forgotten()), "enclosures are out of use with animals in them", reverse("enclosure_list")
            ),
            *shortened(list(nowhere()), "animals are in no enclosure", every),
            *shortened(list(never_weighed()), "animals were never weighed", every),
            *shortened(
                list(unfed(timezone.localdate())),
                "enclosures have no feeding plan",
                reverse("enclosure_list"),
            ),
        ],
    )


def _here() -> Iterable[Animal]:
    return Animal.objects.filter(status=Animal.Status.HERE).order_by("code")


def never_weighed() -> Iterator[Gap]:
    """Animals that are here and have no weight that stands: 1 query."""
    weighed = Measurement.objects.filter(animal=OuterRef("pk"), mass_kg__isnull=False)
    for animal in _here().filter(~Exists(weighed)):
        url = f"{reverse('record_new', args=['measurement', animal.pk])}?{urlencode({'next': reverse('site_setup')})}"
        yield Gap(f"{animal} was never weighed: bioload, dosing and lifting go by its weight", url)


def nowhere() -> Iterator[Gap]:
    """Animals that are here but in no enclosure: 1 query."""
    placed = Placement.objects.filter(animal=OuterRef("pk"), ends_at__isnull=True)
    for animal in _here().filter(~Exists(placed)):
        yield Gap(
            f"{animal} is in no enclosure: nothing is planned for it",
            reverse("animal_move", args=[animal.pk]),
        )


def forgotten() -> Iterator[Gap]:
    """Enclosures that are out of use though animals live in them, as an earlier version let happen: 1 query."""
    living = Placement.objects.filter(enclosure=OuterRef("pk"), ends_at__isnull=True)
    for enclosure in Enclosure.objects.filter(Exists(living), in_use=False).order_by("code"):
        yield Gap(
            f"{enclosure} is out of use, but animals live in it: nothing is planned for them",
            reverse("enclosure_edit", args=[enclosure.pk]),
        )


def unfed(today: date) -> Iterator[Gap]:
    """Enclosures with animals that are awake and that no plan feeds, neither their own nor the group's: 1 query."""
    in_force = FeedingPlan.objects.filter(Q(ends_on__isnull=True) | Q(ends_on__gt=today))
    rows = Placement.objects.filter(
        ~Exists(in_force.filter(animal=OuterRef("animal"))),
        ~Exists(in_force.filter(enclosure=OuterRef("enclosure"))),
        ends_at__isnull=True,
        animal__brumating_since__isnull=True,
    )
    counted = rows.values("enclosure", "enclosure__code", "enclosure__name").annotate(animals=Count("pk"))
    for row in counted.order_by("enclosure__code"):
        number = row["animals"]
        who = "an animal" if number == 1 else f"{number} animals"
        words = f"{row['enclosure__code']} {row['enclosure__name']}: no feeding plan for {who}"
        yield Gap(words, reverse("enclosure_plan_new", args=[row["enclosure"]]))
