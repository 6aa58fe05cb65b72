"""What keeps the planner from judging filters, and the waters that have none."""

from collections.abc import Iterable, Iterator
from urllib.parse import urlencode

from django.db.models import Exists, OuterRef, QuerySet, Subquery
from django.urls import reverse

from enclosures.models import Circuit
from filtration.models import FilterUnit, Maintenance, Pump
from husbandry.models import Placement
from refuge.pages.site import Gap, shortened
from refuge.rules.facts import RUNNING


def filter_gaps() -> list[Gap]:
    """Every gap about filters, the first few of each kind: 4 queries."""
    every = reverse("filter_list")
    kinds: tuple[tuple[Iterable[Gap], str, str], ...] = (
        (uncleaned(), "waters have no running filter", reverse("circuit_list")),
        (without_media(), "filters have no media", every),
        (without_pump(), "filters have no pump", every),
        (never_protected(), "filters had no protection test", every),
    )
    return [gap for gaps, words, url in kinds for gap in shortened(list(gaps), words, url)]


def uncleaned() -> Iterator[Gap]:
    """Waters with animals in which no filter runs: 1 query."""
    own = FilterUnit.objects.filter(circuit=OuterRef("pk"))
    living = Placement.objects.filter(circuit=OuterRef("pk"), ends_at__isnull=True)
    rows = Circuit.objects.filter(Exists(living), ~Exists(own.filter(state__in=RUNNING)))
    for circuit in rows.annotate(idle=Subquery(own.values("pk")[:1])).order_by("code"):
        if circuit.idle:
            url = reverse("filter_detail", args=[circuit.idle])
        else:
            url = f"{reverse('filter_new')}?{urlencode({'water': circuit.pk})}"
        yield Gap(f"{circuit} has animals and no running filter: nothing says what it carries", url)


def without_media() -> Iterator[Gap]:
    """Filters without layers: 1 query."""
    for unit in FilterUnit.objects.filter(layers__isnull=True).order_by("code"):
        yield Gap(f"{unit} has no media: what it carries is not known", _edit(unit))


def without_pump() -> Iterator[Gap]:
    """Running filters whose pump nobody entered: 1 query."""
    for unit in _running().filter(pump__isnull=True):
        yield Gap(f"{unit} has no pump: its cleaning and its protection test are not planned", _edit(unit))


def never_protected() -> Iterator[Gap]:
    """Running filters with a pump whose protection was never tested: 1 query."""
    tested = Maintenance.objects.filter(filter=OuterRef("pk"), kind=Maintenance.Kind.PROTECTION_TEST)
    pumped = Pump.objects.filter(filter=OuterRef("pk"))
    for unit in _running().filter(Exists(pumped), ~Exists(tested)):
        back = urlencode({"next": reverse("site_setup")})
        url = f"{reverse('record_new', args=['protection_test', unit.pk])}?{back}"
        yield Gap(f"{unit}: residual-current (ground-fault) protection never tested", url)


def _running() -> QuerySet[FilterUnit]:
    return FilterUnit.objects.filter(state__in=RUNNING).order_by("code")


def _edit(unit: FilterUnit) -> str:
    return reverse("filter_edit", args=[unit.pk])
