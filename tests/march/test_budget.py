"""Work is estimated before it starts, and refused where it would be too much."""

import pytest

from bouncesim import perform
from bouncesim.errors import ScenarioError
from bouncesim.march import budget
from bouncesim.scenario import Antenna, Keying, Line, Scenario, Transmitter


@pytest.fixture(autouse=True)
def usual():
    yield
    budget.allow(1)


def station(length_m: float, frequency_hz: float = 10e6, rise_s: float = 1e-6) -> Scenario:
    return Scenario(
        title="work",
        transmitter=Transmitter(frequency_hz=frequency_hz, power_w=10.0),
        keying=Keying(rise_s=rise_s),
        path=(Line(length_m=length_m, impedance_ohm=50.0, velocity_factor=0.66),),
        antenna=Antenna(impedance_ohm=30 + 5j),
    )


def test_an_endless_line_is_refused_at_once() -> None:
    """900 km at 10 GHz: 900e3/(0.66 c) s of 200 cells a period, 9e9 of them."""
    with pytest.raises(ScenarioError) as caught:
        perform.simulate(station(900e3, 10e9))
    told = str(caught.value)
    assert 9e9 < float(told.split(" cells")[0].split()[-1].replace(",", "")) < 12e9
    assert "years" in told
    assert "--most-work" not in told  # nobody waits for that


def test_much_work_says_how_to_allow_it() -> None:
    """A key of a second at 60 MHz through 300 m: 1.2e10 steps of 18,000 cells are 2.2e14, some 60 hours at 1e9 a second."""
    with pytest.raises(ScenarioError, match=r"hours|days") as caught:
        perform.simulate(station(300.0, 60e6, 1.0))
    times = float(str(caught.value).rpartition("--most-work ")[2].split()[0].rstrip("."))
    budget.allow(times)
    from bouncesim.march import grid
    from bouncesim.march.simulation import at_least_until

    sections = [grid.section(line, 60e6, 200) for line in station(300.0).lines]
    budget.check(sections, 1 / (60e6 * 200), at_least_until(station(300.0, 60e6, 1.0), sections))  # now it would start


def test_less_may_be_allowed_too() -> None:
    budget.allow(1e-6)
    with pytest.raises(ScenarioError, match="Allowed"):
        perform.simulate(station(31.0))


def test_an_ordinary_station_is_no_work() -> None:
    assert perform.simulate(station(31.0)).readings.transmitter.power_w > 0
