"""Amounts in sentences against the exact definitions of the US customary units.

Source: NIST Special Publication 811 (2008), appendix B.8 and B.9 (recalled, not re-read): 1 lb = 0.453 592 37 kg,
1 US gal = 3.785 411 784 L, 1 in = 2.54 cm, all exact; t/degF = 1.8 t/degC + 32.
"""

import pytest

from refuge.rules.words import amount
from refuge.units import spoken


@pytest.mark.parametrize(
    ("value", "kind", "words"),
    [
        (0.45359237 * 7, "mass", "7 lb"),
        (0.45359237 / 2, "food", "8 oz"),
        (3.785411784e-3 * 55, "volume", "55 gal"),
        (3.785411784e-3 * 500, "flow", "500 gal/h"),
        (0.0254 * 8, "length", "8 in"),
        (20.0, "temperature", "68 °F"),
    ],
)
def test_whole_customary_amounts_come_out_whole(value, kind, words):
    assert spoken(amount(value, kind), "us").replace("\u00a0", " ") == words
