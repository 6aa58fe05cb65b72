"""What happened to filters as a table of files."""

from filtration.harms.models import FilterHarm
from refuge.exchange.columns import Column, columns
from refuge.exchange.records import RECORD_COLUMNS, RECORD_ENDS, RecordTable
from refuge.exchange.registry import register


@register
class HarmResource(RecordTable):
    key, title, order = "filter_harms", "What happened to filters", 63
    words = (
        "Pump stops, untreated water, medicine, drying, frost and heat. When it happened is when it began."
    )
    columns = [
        *RECORD_COLUMNS,
        *columns(
            "filter=filter__code",
            "kind",
            Column("hours", words="how long it lasted"),
            Column("runs_again", words="no, where it still stood without flow when it was entered"),
            Column("volume_m3", words="untreated water that got in"),
            Column("source", "source__name", "where that came from"),
            Column("substance", words="medicine, as the veterinarian named it"),
            "noticed_by",
        ),
        *RECORD_ENDS,
    ]
    related = ("filter", "source")

    class Meta:
        model = FilterHarm
