"""Control charts against published worked examples (records spc-*; source and standing stand there)."""

import numpy as np
import pytest
from scipy.stats import norm

from obverse.foundation import InputError
from obverse.reference import record
from obverse.sensitometry import cumulative_sum, cusum, ewma, individuals_chart, run_rules


def test_individuals_and_moving_range_of_the_tyre_belts():
    # SAS/QC user's guide, example "tires": data and limits both printed (looked up).
    row = record("spc-imr-tires")
    chart, printed = individuals_chart(row.inputs["x"]), row.value
    found = {
        "mean": chart.mean,
        "MRbar": chart.mean_moving_range,
        "sigma": chart.sigma,
        "LCL": chart.lower,
        "UCL": chart.upper,
        "UCL_MR": chart.upper_moving_range,
    }
    # The limits are printed with four decimals; the moving-range limit is 3.267 MRbar rounded there.
    assert printed == pytest.approx(found, abs=row.within)


def test_cumulative_sum_of_the_oil_can_means():
    # SAS/QC sample CUSONES: means and sums printed (looked up). Means of 4 with sigma 0.05.
    row = record("spc-cusum-oil")
    assert row.value == pytest.approx(cumulative_sum(row.inputs["xbar"], 8.1, unit=0.05 / np.sqrt(4)), abs=1e-9)


def test_one_sided_cusum_of_the_oil_can_means():
    row = record("spc-cusum-oil-os")
    x = record("spc-cusum-oil").inputs["xbar"]
    chart = cusum(x, 8.1, 0.05 / np.sqrt(4), k=row.inputs["k"], h=row.inputs["h"])
    assert row.value["C_plus"] == pytest.approx(chart.plus, abs=1e-9)
    assert row.value["signal_at"] == chart.signals_plus[0] + 1


def test_tabular_cusum_of_single_cans():
    row = record("spc-cusum-cans")
    chart = cusum(row.inputs["x"], 8.1, 0.05, k=0.5, h=3)
    assert row.value["C_plus"] == pytest.approx(chart.plus, abs=1e-9)
    assert row.value["C_minus"] == pytest.approx(chart.minus, abs=1e-9)
    assert (row.value["signal_plus_at"], row.value["signal_minus_at"]) == (
        chart.signals_plus[0] + 1,
        chart.signals_minus[0] + 1,
    )


def test_plain_cusum_of_the_chemical_concentration():
    # Montgomery & Runger, Table 16-7 (looked up; the scan lost the minus signs).
    row = record("spc-cusum-conc")
    assert row.value == pytest.approx(cumulative_sum(row.inputs["x"], 99.0), abs=1e-9)


def test_ewma_limits_and_series():
    # NIST/SEMATECH e-Handbook 6.3.2.4: limits looked up, the data series from memory.
    limits, series = record("spc-ewma-nist"), record("spc-ewma-nist-data")
    chart = ewma(series.inputs["x"], 50.0, 2.0539, weight=0.3)
    assert limits.value["UCL"] == pytest.approx(chart.upper_limit, abs=limits.within)
    assert limits.value["LCL"] == pytest.approx(chart.lower_limit, abs=limits.within)
    assert series.value == pytest.approx(chart.average, abs=series.within)
    assert () == chart.signals, "the handbook finds this process in control"


def test_false_alarms_of_the_first_rule_come_one_in_370():
    # Looked up (371, a help page) and 1 / (2 Phi(-3)).
    assert record("spc-rules").value["arl0_3sigma"] == pytest.approx(1 / (2 * norm.cdf(-3)), abs=0.2)
    z = np.random.default_rng(5).standard_normal(200_000)
    alarms = sum(signal.rule == 1 for signal in run_rules(z, 0, 1))
    # Poisson: 540 expected, sd 23.
    assert 200_000 / 370.4 == pytest.approx(alarms, abs=4 * np.sqrt(540))


@pytest.mark.parametrize(
    ("z", "expected"),
    [
        ([0, 3.1], [(1, 1)]),
        ([2.1, 0, 2.1], [(2, 2)]),
        ([2.1, 0, -2.1], []),
        ([1.1, 1.1, -1.1, 1.1, 1.1], [(4, 3)]),
        ([0.1] * 8, [(7, 4)]),
        ([0.1] * 7 + [-0.1], []),
    ],
)
def test_each_rule_speaks_at_the_reading_that_completes_it(z, expected):
    assert expected == [(signal.index, signal.rule) for signal in run_rules(z, 0, 1)]


def test_a_chart_without_spread_or_readings_is_refused():
    for work in (lambda: cusum([1, 2], 1, 0), lambda: individuals_chart([1]), lambda: ewma([1, float("nan")], 0, 1)):
        with pytest.raises(InputError):
            work()
