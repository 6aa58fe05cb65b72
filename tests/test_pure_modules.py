"""The sums must stay usable without Django: a bare interpreter imports them and looks."""

import subprocess
import sys

PURE = (
    "enclosures.geometry",
    "enclosures.chemistry",
    "husbandry.bioload",
    "husbandry.food_values",
    "husbandry.quarantine_dates",
    "filtration.nitrification",
    "filtration.solids",
)


def test_sums_import_no_django():
    look = f"import sys, {', '.join(PURE)}; sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", look], check=False).returncode == 0
