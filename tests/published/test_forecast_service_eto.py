"""Hourly ETo as a forecast service computes it, so that its own column can be a cross-check."""

from __future__ import annotations

import pytest

from advisor.science import evapotranspiration as et

SOURCE = (
    "test vectors of the open-source server of Open-Meteo (temperature, wind, dew point, sun), second-hand"
)


@pytest.mark.parametrize(
    ("rs_w_m2", "ra_w_m2", "printed"),
    [(300.0, 626.4218, "0.23535295"), (0.0, 0.0, "0.05084415")],
    ids=["by day", "by night, where Rs/Rso follows the humidity"],
)
def test_an_hour_is_as_the_server_has_it(rs_w_m2: float, ra_w_m2: float, printed: str) -> None:
    # The server scales wind by the ratio of two logarithms; FAO-56 rounds the upper one to 4.87.
    scaled = 2.0 / float(
        et.wind_at_2m(wind_m_s=1.0, height_m=2.0) / et.wind_at_2m(wind_m_s=1.0, height_m=10.0)
    )
    eto = et.hourly_eto(
        temp_c=25.0,
        dew_c=13.8,
        u2_m_s=scaled,
        rs_mj_m2_h=rs_w_m2 * 0.0036,
        ra_mj_m2_h=ra_w_m2 * 0.0036,
        elevation_m=250.0,
    )
    assert f"{float(eto):.8f}" == printed


def test_watts_taken_for_megajoules_would_be_seen() -> None:
    eto = et.hourly_eto(
        temp_c=25.0, dew_c=13.8, u2_m_s=1.5, rs_mj_m2_h=300.0, ra_mj_m2_h=626.4, elevation_m=250.0
    )
    assert float(eto) > 10.0
