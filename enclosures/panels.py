"""What the waters' own records add to the history of a water."""

from enclosures.models import WaterChange, WaterTest
from refuge import units
from refuge.pages.history import Asked, Entry, history_source, record_entries, standing

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
NITROGEN = ("tan_mg_l", "nitrite_n_mg_l", "nitrate_n_mg_l")


def readings_words(test: WaterTest, system: str) -> str:
    """All readings of a test in one line; mg/L, nitrogen as N."""
    parts = [] if test.temperature_c is None else [units.show(test.temperature_c, "temperature", system)]
    parts += [words.format(value) for name, words in WORDS if (value := getattr(test, name)) is not None]
    if test.clarity is not None:
        parts.append(test.get_clarity_display().lower())
    as_n = any(getattr(test, name) is not None for name in NITROGEN)
    return ", ".join(parts) + (" (mg/L as N)" if as_n else "")


def change_words(change: WaterChange, system: str) -> str:
    """A water change in one line: how much, from where, and what was added."""
    words = f"{change.get_kind_display()}: {units.show(change.volume_m3, 'volume', system)}"
    treated = f", {change.conditioner}" if change.conditioner else ""
    grams = f" {change.conditioner_g:.3g} g" if change.conditioner_g else ""
    return f"{words} from {change.source}{treated}{grams}"


@history_source("circuit")
def tests(asked: Asked) -> list[Entry]:
    rows = standing(WaterTest, asked).filter(circuit=asked.subject_id)
    return record_entries(
        rows, asked, lambda test: f"Water test: {readings_words(test, asked.system)}", icon="vial"
    )


@history_source("circuit")
def changes(asked: Asked) -> list[Entry]:
    rows = standing(WaterChange, asked).filter(circuit=asked.subject_id).select_related("source")
    return record_entries(rows, asked, lambda change: change_words(change, asked.system), icon="exchange")
