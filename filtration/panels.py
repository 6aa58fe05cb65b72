"""What the filters add to pages: the filters of a water, work done on them, and their part of the set-up."""

from django.urls import reverse

from filtration.harms.models import FilterHarm
from filtration.harms.words import harm_words
from filtration.missing import filter_gaps
from filtration.models import FilterUnit, Maintenance
from filtration.plans.models import FilterBuild
from filtration.recorders import maintenance_words
from filtration.selectors import filter_rows, filters
from refuge.pages.history import Asked, Entry, history_source, record_entries, standing
from refuge.pages.panels import Page, Panel, panel
from refuge.pages.site import SitePart, site_part
from refuge.units import spoken

ICONS = {
    "drain": "drain",
    "rinse": "rinse",
    "pump_clean": "pump",
    "bucket_test": "bucket",
    "leak_test": "leak",
}


@panel("circuit", order=20)
def filters_of_water(page: Page) -> Panel | None:
    units = filters().filter(circuit=page.subject)
    rows = filter_rows(units, page.facts, page.moment)
    if not rows and not page.user.is_manager:
        return None
    return Panel("filtration/_filters_panel.html", {"rows": rows, "circuit": page.subject})


@history_source("filter", "circuit")
def work(asked: Asked) -> list[Entry]:
    about = {"filter": asked.subject_id} if asked.kind == "filter" else {"filter__circuit": asked.subject_id}
    rows = standing(Maintenance, asked).filter(**about).select_related("filter", "layer")
    place = lambda record: f"{record.filter} " if asked.kind == "circuit" else ""  # noqa: E731
    return record_entries(
        rows,
        asked,
        lambda record: spoken(maintenance_words(record), asked.system),
        icon=lambda record: ICONS.get(record.kind, "filter"),
        note=lambda record: (place(record) + record.note).strip(),
    )


@history_source("filter", "circuit")
def harms(asked: Asked) -> list[Entry]:
    """What happened to it, or to the filters of a water."""
    about = {"filter": asked.subject_id} if asked.kind == "filter" else {"filter__circuit": asked.subject_id}
    rows = standing(FilterHarm, asked).filter(**about).select_related("filter")
    place = lambda record: f"{record.filter} " if asked.kind == "circuit" else ""  # noqa: E731
    noticed = lambda record: f"Noticed by {record.noticed_by}. " if record.noticed_by else ""  # noqa: E731
    return record_entries(
        rows,
        asked,
        lambda record: spoken(harm_words(record), asked.system),
        icon="notice",
        note=lambda record: (place(record) + noticed(record) + record.note).strip(),
    )


@history_source("filter")
def begun(asked: Asked) -> list[Entry]:
    """The plan by which it was built: 1 query."""
    builds = FilterBuild.objects.filter(filter=asked.subject_id).select_related("design", "by")
    return [
        Entry(build.at, f"Begun by the plan “{build.design}”", icon="filter", who=str(build.by or ""))
        for build in builds[: asked.limit]
    ]


@site_part(50)
def filter_part() -> SitePart:
    return SitePart(
        title="Filters",
        icon="filter",
        count=FilterUnit.objects.count(),
        gaps=filter_gaps(),
        new_url=reverse("filter_new"),
        list_url=reverse("filter_list"),
        needed="Sizes and media decide what they carry, and when they are to be drained.",
    )
