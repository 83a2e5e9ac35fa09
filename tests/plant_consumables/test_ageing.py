"""Three clocks of a membrane's life."""

import numpy as np
import pytest

from rinsewright.plant.membrane.ageing import membrane_life
from rinsewright.quantities import HOUR, MG_L


def test_dose_is_concentration_times_hours():
    # 0.5 mg/L × 8 h/day × 250 days = 1000 mg·h/L (arithmetic, reproduced).
    result = membrane_life(0.5 * MG_L, 8 * 250 * HOUR)
    assert result.chlorine_mg_h_l_per_year == pytest.approx([1000.0])
    assert result.limited_by == ("chlorine",)
    assert result.years == pytest.approx([0.5])
    assert (result.low[0], result.high[0]) == pytest.approx((0.2, 1.0))


def test_modest_chlorine_is_no_reason_for_alarm():
    # 0.3 mg/L over 500 h a year is 150 mg·h/L a year.
    result = membrane_life(0.3 * MG_L, 500 * HOUR)
    assert result.chlorine_mg_h_l_per_year == pytest.approx([150.0])
    assert 3.0 < result.years[0] < 4.0


def test_flow_allowance_compounds():
    # 7 % a year for 3 years leaves 0.804 (arithmetic, reproduced): an allowance of 0.196 is used up in 3 years.
    result = membrane_life(0.0, 1e6, flux_loss_allowed=1 - 0.93**3)
    assert result.years == pytest.approx([3.0])
    assert result.limited_by == ("flow",)


def test_salt_passage_can_come_first():
    result = membrane_life(0.0, 1e6, passage_growth_per_year=0.3)
    assert result.limited_by == ("salt passage",)
    assert result.years == pytest.approx([np.log(1.6) / np.log(1.3)])


def test_no_decline_at_all_lasts_for_ever():
    assert np.isinf(membrane_life(0.0, 1e6, flux_loss_per_year=0.0, passage_growth_per_year=0.0).years[0])
