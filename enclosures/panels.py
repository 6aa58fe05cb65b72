"""What the waters add to pages: the history of a water, and the first parts of the site's set-up."""

from django.urls import reverse

from enclosures.models import Circuit, Enclosure, WaterChange, WaterTest
from enclosures.selectors import areas, water_sources
from refuge import units
from refuge.pages.history import Asked, Entry, history_source, record_entries, standing
from refuge.pages.site import Gap, Row, SitePart, site_part
from refuge.records import Record

WORDS = (
    ("ph", "pH {:.1f}"),
    ("tan_mg_l", "ammonia {:.2f}"),
    ("nitrite_n_mg_l", "nitrite {:.2f}"),
    ("nitrate_n_mg_l", "nitrate {:.1f}"),
    ("alkalinity_mg_l", "alkalinity {:.0f}"),
    ("hardness_mg_l", "hardness {:.0f}"),
    ("oxygen_mg_l", "oxygen {:.1f}"),
    ("chlorine_mg_l", "chlorine {:.2f}"),
)


def readings_words(test: WaterTest, system: str) -> str:
    """All readings of a test in one line; mg/L, nitrogen as N."""
    parts = [] if test.temperature_c is None else [units.show(test.temperature_c, "temperature", system)]
    parts += [words.format(value) for name, words in WORDS if (value := getattr(test, name)) is not None]
    if test.clarity is not None:
        parts.append(test.get_clarity_display().lower())
    return ", ".join(parts)


def change_words(change: WaterChange, system: str) -> str:
    """A water change in a few words: what it was, and how much."""
    return f"{change.get_kind_display()}: {units.show(change.volume_m3, 'volume', system)}"


def treatment_words(change: WaterChange) -> str:
    """Where the new water came from, and what was added to it."""
    treated = f", with {change.conditioner.lower()}" if change.conditioner else ""
    grams = f" {change.conditioner_g:.3g} g" if change.conditioner_g else ""
    return f"from {change.source}{treated}{grams}"


def with_note(words: str, record: Record) -> str:
    """What a record shows below its heading: its numbers, then what somebody noted."""
    return f"{words}. {record.note}" if record.note else words


@history_source("circuit")
def tests(asked: Asked) -> list[Entry]:
    return record_entries(
        standing(WaterTest, asked).filter(circuit=asked.subject_id),
        asked,
        lambda test: "Water test",
        icon="vial",
        note=lambda test: with_note(readings_words(test, asked.system), test),
    )


@history_source("circuit")
def changes(asked: Asked) -> list[Entry]:
    return record_entries(
        standing(WaterChange, asked).filter(circuit=asked.subject_id).select_related("source"),
        asked,
        lambda change: change_words(change, asked.system),
        icon="exchange",
        note=lambda change: with_note(treatment_words(change), change),
    )


@site_part(10)
def area_part() -> SitePart:
    rows = [
        Row(
            str(area),
            f"{area.code}, rank {area.biosecurity_rank}, {counted(area.enclosure_count, 'enclosure')}",
            reverse("area_edit", args=[area.pk]),
        )
        for area in areas()
    ]
    return SitePart(
        title="Areas",
        icon="round",
        count=len(rows),
        rows=rows,
        new_url=reverse("area_new"),
        needed="The walkable parts of the site. The round goes from the cleanest to quarantine.",
    )


@site_part(20)
def source_part() -> SitePart:
    rows = [
        Row(
            str(source),
            f"{source.get_disinfectant_display()}, fills {counted(source.circuit_count, 'water')}",
            reverse("source_edit", args=[source.pk]),
        )
        for source in water_sources()
    ]
    return SitePart(
        title="Sources of water",
        icon="drop",
        count=len(rows),
        rows=rows,
        new_url=reverse("source_new"),
        needed="Where new water comes from, and what it must be treated for.",
    )


@site_part(30)
def circuit_part() -> SitePart:
    bare = Circuit.objects.filter(enclosures__isnull=True)
    gaps = [
        Gap(
            f"{each} has no enclosure: its volume is not known", f"{reverse('enclosure_new')}?water={each.pk}"
        )
        for each in bare
    ]
    return SitePart(
        title="Waters",
        icon="waters",
        count=Circuit.objects.count(),
        gaps=gaps,
        new_url=reverse("circuit_new"),
        list_url=reverse("circuit_list"),
        needed="One shared body of water each: the enclosures that exchange water, with their filters.",
    )


@site_part(40)
def enclosure_part() -> SitePart:
    return SitePart(
        title="Enclosures",
        icon="tank",
        count=Enclosure.objects.count(),
        new_url=reverse("enclosure_new"),
        list_url=reverse("enclosure_list"),
        needed="The tanks, tubs and ponds: their sizes give the volume of water.",
    )


def counted(number: int, noun: str) -> str:
    """'1 water', '4 waters'."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
