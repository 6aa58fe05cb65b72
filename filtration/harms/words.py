"""What happened to a filter, in one line."""

from filtration.harms.models import FilterHarm
from refuge.rules.words import amount


def hours_text(hours: float) -> str:
    """A length of time as people say it: '1 hour', '9 hours', '3 days'."""
    if hours >= 72:
        return f"{hours / 24:.3g} days"
    return "1 hour" if hours == 1 else f"{hours:.3g} hours"


def harm_words(record: FilterHarm) -> str:
    """'Stood without flow: 9 hours', with marks for amounts."""
    words = record.get_kind_display()
    if record.kind == FilterHarm.Kind.CHLORINE and record.volume_m3 is not None:
        return f"{words}: {amount(record.volume_m3, 'volume')}"
    if record.substance:
        return f"{words}: {record.substance}"
    if not record.hours:
        return words
    return f"{words}: {hours_text(record.hours)}{'' if record.runs_again else ' so far'}"
