"""A filter that stands: its flow against when it was new, and its design from the record."""

import pytest

from filtration.designing.assess import assess
from filtration.designing.bucket_words import flow_findings
from filtration.designing.existing import reconstruct
from filtration.designing.findings import WARN
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.blockage import FlowLoss, explain_flow
from filtration.hydraulics.design import Tank
from refuge.units import spoken
from tests.filtration.hydraulic_designs import BARREL, barrel


class TestBucketWords:
    def test_slow_filter_names_three_causes_and_what_tells_them_apart(self):
        found = flow_findings(explain_flow(barrel(), 1.2, 2.0))
        assert [f.key for f in found] == ["flow_lower", "maybe_strainer", "maybe_pump", "maybe_stones"]
        assert found[0].severity == WARN
        assert "One flow cannot tell" in found[0].words and "measure again" in found[0].would_do
        assert "60\u00a0%" in found[0].words

    @pytest.mark.parametrize(
        ("k", "said"),
        [
            (0.02, "an open ball valve"),
            (5.47, "a ball valve turned 33\u00a0% shut"),  # 30 of 90 degrees
            (294, "a ball valve turned more than two thirds shut"),
        ],
    )
    def test_a_strainers_loss_is_said_as_a_valve(self, k, said):
        loss = FlowLoss(share_of_new=0.6, missing_head_m=1.0, held_kg=None, strainer_k=k, pump_share=0.5)
        assert said in flow_findings(loss)[1].words

    def test_stones_that_cannot_explain_it_are_said_so(self):
        thin = barrel(layers=(BedLayer("boulders", 0.1),))
        assert "Stones alone would not" in flow_findings(explain_flow(thin, 0.3, 2.0))[-1].words

    @pytest.mark.parametrize(("flow", "key"), [(1.95, "flow_steady"), (2.4, "flow_higher")])
    def test_no_cause_is_sought_for_a_flow_that_did_not_fall(self, flow, key):
        assert [f.key for f in flow_findings(explain_flow(barrel(), flow, 2.0))] == [key]


class TestReconstruct:
    KNOWN = {
        "container": BARREL,
        "void_height_m": 0.2,
        "layers": (BedLayer("river_rock", 0.2), BedLayer("lava_rock", 0.28)),
        "tank": Tank(1.1, 2.0, 0.3, 0.15),
        "temperature_c": 24.0,
        "max_flow_m3_h": 3.0,
        "shutoff_head_m": 2.2,
        "power_w": 45.0,
        "inlet_bore_m": 0.0266,
        "return_bore_m": 0.0525,
    }

    def test_what_is_missing_is_never_guessed(self):
        for name, said in (
            ("shutoff_head_m", "the pump's head at no flow"),
            ("max_flow_m3_h", "the pump's greatest flow"),
            ("inlet_bore_m", "the inlet's bore"),
            ("return_bore_m", "the return's bore"),
        ):
            found = reconstruct(**(self.KNOWN | {name: None}))
            assert found.design is None and found.missing == (said,)

    def test_what_is_assumed_is_said(self):
        found = reconstruct(**self.KNOWN)
        assert found.missing == ()
        assert assess(found.design).can_be_built
        assert "76\u00a0cm" in spoken(found.assumed[0])

    def test_overflow_lies_over_high_stones(self):
        high = (BedLayer("river_rock", 0.3), BedLayer("lava_rock", 0.33))
        design = reconstruct(**(self.KNOWN | {"layers": high})).design
        assert design.media_top_m < design.overflow_height_m <= BARREL.height_m
