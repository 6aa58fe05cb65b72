"""Un-ionized ammonia against printed tables and worked examples."""

import pytest

from enclosures.chemistry import (
    ammonium_pka,
    ion_from_nitrogen,
    nitrogen_from_ion,
    unionized_ammonia_mg_l,
    unionized_fraction,
)

# Fundamentals of Aquatic Veterinary Medicine, Table 1.4, the table also printed in UF/IFAS FA16 (Fig. 4);
# computed there from Emerson et al. 1975. By pH, "temperature:fraction". Left out: the 32 C column and the
# cell 20 C, pH 7.4, which are misprinted (they contradict the formula and their neighbours).
PRINTED = {
    7.0: "8:0.0016 10:0.0018 12:0.0022 14:0.0025 16:0.0029 18:0.0034 20:0.0039 26:0.0060 28:0.0069 30:0.0080",
    7.2: "6:0.0021 8:0.0025 12:0.0034 14:0.0040 20:0.0062 22:0.0072 24:0.0083 28:0.0110",
    7.4: "6:0.0034 8:0.0040 16:0.0073 18:0.0085 22:0.0114 24:0.0131 26:0.0150 30:0.0198",
    7.6: "8:0.0063 10:0.0073 12:0.0086 14:0.0100 16:0.0116 18:0.0134 20:0.0155 22:0.0179 24:0.0206 26:0.0236"
    " 28:0.0271 30:0.0310",
    7.8: "10:0.0116 12:0.0135 16:0.0182 18:0.0211 20:0.0244 22:0.0281 24:0.0322 26:0.0370 28:0.0423 30:0.0482",
    8.0: "6:0.0133 12:0.0212 14:0.0247 16:0.0286 18:0.0330 22:0.0438 24:0.0502 26:0.0574 28:0.0654 30:0.0743",
    8.2: "6:0.0210 8:0.0245 10:0.0286 12:0.0332 14:0.0385 16:0.0445 18:0.0514 22:0.0676 24:0.0772 26:0.0880"
    " 28:0.0998 30:0.1129",
    8.4: "6:0.0328 8:0.0383 12:0.0517 14:0.0597 18:0.0790 20:0.0904 22:0.1031 24:0.1171 26:0.1326 28:0.1495"
    " 30:0.1678",
    8.6: "12:0.0795 14:0.0914 16:0.1048 18:0.1197 20:0.1361 22:0.1541 24:0.1737 26:0.1950",
}
CELLS = [
    (float(cell.split(":")[0]), ph, float(cell.split(":")[1]))
    for ph, row in PRINTED.items()
    for cell in row.split()
]


def test_the_printed_table_is_all_here():
    assert len(CELLS) == 89


@pytest.mark.parametrize(("temperature_c", "ph", "printed"), CELLS)
def test_fraction_matches_the_printed_table(temperature_c, ph, printed):
    # Four decimals printed: half a unit of the last place, plus the rounding of the constants.
    assert unionized_fraction(temperature_c, ph) == pytest.approx(printed, abs=0.00006)


# Test-kit manual, fresh-water column attributed to Trussell 1972: other constants, hence 3 %.
@pytest.mark.parametrize(
    ("temperature_c", "ph", "percent"),
    [
        (10, 8.0, 1.83),
        (15, 7.5, 0.85),
        (15, 8.0, 2.65),
        (20, 7.5, 1.24),
        (20, 8.5, 11.18),
        (25, 7.0, 0.55),
        (25, 7.5, 1.73),
        (25, 8.0, 5.28),
        (25, 8.5, 14.97),
    ],
)
def test_fraction_is_close_to_an_independent_table(temperature_c, ph, percent):
    assert unionized_fraction(temperature_c, ph) * 100 == pytest.approx(percent, rel=0.03)


def test_ifas_worked_example():
    # UF/IFAS FA16, Ammonia in Aquatic Systems, Fig. 3: TAN 1.0 mg/L, 24 C, pH 8.0.
    assert unionized_ammonia_mg_l(1.0, 24, 8.0) == pytest.approx(0.0502, abs=0.0001)


def test_kit_manual_worked_example():
    # Test-kit manual with Trussell 1972: TAN 1.0 mg/L, 20 C, pH 8.5 gives 0.1118, within 1 % of Emerson.
    assert unionized_ammonia_mg_l(1.0, 20, 8.5) == pytest.approx(0.1118, rel=0.01)


def test_worked_example_that_changes_the_mass_basis():
    # Calculator notes citing Hobiger 1996 (UBA-BE-076): 0.2 mg/L as NH4, 18 C, pH 7.7 gives 0.0032 mg/L as NH3.
    assert ammonium_pka(18) == pytest.approx(9.465, abs=0.002)
    free_nitrogen = unionized_ammonia_mg_l(nitrogen_from_ion("ammonium", 0.2), 18, 7.7)
    assert ion_from_nitrogen("ammonia", free_nitrogen) == pytest.approx(0.0032, abs=0.0001)


def test_quoted_pair():
    # CCREM 1987 as quoted: at 20 C, 11 % at pH 8.5 and 0.04 % at pH 6.0.
    assert round(unionized_fraction(20, 8.5) * 100) == 11
    assert round(unionized_fraction(20, 6.0) * 100, 2) == 0.04
