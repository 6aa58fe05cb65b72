"""The sums must stay usable without Django: a bare interpreter imports them and looks."""

import subprocess
import sys

PURE = (
    "enclosures.geometry",
    "enclosures.warmth",
    "enclosures.help",
    "enclosures.limits",
    "enclosures.changes",
    "enclosures.chemistry",
    "refuge.rounds.schedule",
    "husbandry.arrivals.newcomer",
    "husbandry.arrivals.effects",
    "husbandry.arrivals.findings",
    "husbandry.bioload",
    "husbandry.food_values",
    "husbandry.quarantine_dates",
    "husbandry.space",
    "filtration.forecast",
    "filtration.nitrification",
    "filtration.solids",
    "filtration.survival",
    "filtration.harms.advice",
    "filtration.hydraulics.blockage",
    "filtration.hydraulics.faults",
    "filtration.designing.bucket_words",
    "filtration.designing.existing",
    "filtration.designing.figures",
    "filtration.designing.propose",
    "filtration.designing.steps",
    "filtration.what_if.changes",
    "filtration.what_if.drawing",
    "filtration.what_if.signs",
    "filtration.what_if.telling",
    "refuge.rules.shifts",
)


def test_sums_import_no_django():
    look = f"import sys, {', '.join(PURE)}; sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", look], check=False).returncode == 0
