"""What a march takes is estimated before it starts, and refused where it would be too much."""

import pytest

import bouncesim
from bouncesim import budget, perform
from bouncesim.errors import ScenarioError, TooMuchWork
from bouncesim.march import expected, simulation
from bouncesim.march.expected import expected_s
from bouncesim.march.simulation import run_work, simulate, simulate_steady, steady_work
from bouncesim.perform.start_up import start_up_work
from bouncesim.scenario import Antenna, Element, Event, Keying, Line, Network, Scenario, Transmitter

FACTOR = 3  # that an estimate may be off by


@pytest.fixture(autouse=True)
def usual():
    yield
    budget.allow_work(1)


def station(length_m: float, frequency_hz: float = 10e6, rise_s: float = 1e-6, **more) -> Scenario:
    fields = {
        "title": "work",
        "transmitter": Transmitter(frequency_hz=frequency_hz, power_w=10.0),
        "keying": Keying(rise_s=rise_s),
        "path": (Line(length_m=length_m, impedance_ohm=50.0, velocity_factor=0.66),),
        "antenna": Antenna(impedance_ohm=30 + 5j),
    }
    return Scenario(**fields | more)


def test_an_endless_line_is_refused_at_once() -> None:
    """900 km at 10 GHz: 900e3/(0.66 c) s of 200 cells a period and more are 9e9 to 1.2e10."""
    with pytest.raises(TooMuchWork) as caught:
        perform.simulate(station(900e3, 10e9))
    told = str(caught.value)
    assert told.startswith(("The simulation takes 9e9 cells along the lines", "The simulation takes 1e10 cells along the lines"))
    assert "years" in told
    assert "--most-work" not in told  # nobody waits for that


def test_much_work_says_how_to_allow_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """A key of a second at 60 MHz through 300 m: 1.2e10 steps of 18,000 cells are 2.2e14, some 90 hours at 1.5 ns each."""
    scenario = station(300.0, 60e6, 1.0)
    with pytest.raises(TooMuchWork, match=r"hours|days") as caught:
        perform.simulate(scenario)
    times = float(str(caught.value).rpartition("bouncesim.allow_work(")[2].split(")")[0])
    assert f"--most-work {times:g} " in str(caught.value)
    monkeypatch.setattr(budget, "memory_bytes", lambda: 1e15)
    bouncesim.allow_work(times)
    budget.check(run_work(scenario))  # now it would start


def test_a_pulse_into_a_line_beyond_all_keys_is_too_much_work() -> None:
    """A round trip of more than half a second, of which a soft key takes two: longer than any key that may be typed."""
    slowest = (Line(length_m=1e6, impedance_ohm=50.0, velocity_factor=0.01),)
    pulse = station(31.0, path=slowest, keying=Keying(shape="pulse", width_s=40e-9))
    assert simulation.soft_key(pulse, 0.7).rise_s == pytest.approx(1.4)
    with pytest.raises(TooMuchWork):
        perform.simulate(pulse)


def test_less_may_be_allowed_too() -> None:
    budget.allow_work(1e-6)
    with pytest.raises(TooMuchWork, match="Allowed"):
        perform.simulate(station(31.0))
    with pytest.raises(ValueError, match="above 0"):
        budget.allow_work(0)


def test_an_ordinary_station_is_no_work() -> None:
    assert perform.simulate(station(31.0)).readings.transmitter.power_w > 0


def counted(monkeypatch: pytest.MonkeyPatch, estimate) -> list[tuple[float, float]]:
    """(steps, snapshots) of every march that an estimate looks at."""
    seen = []
    real = simulation.march_work

    def spy(plan, steps, doing, entries=0.0, snapshot_bytes=0.0):
        seen.append((steps, entries))
        return real(plan, steps, doing, entries, snapshot_bytes)

    with monkeypatch.context() as patch:
        patch.setattr(simulation, "march_work", spy)
        estimate()
    return seen


CONTROLLED = Transmitter(frequency_hz=10e6, power_w=10.0, behaviour="fold-back", attack_s=5e-6, release_s=2e-5)
SHORTED = Event(at_s=4e-6, happens="antenna shorts")
KEY_UP = Event(at_s=6e-6, happens="key up")


@pytest.mark.parametrize(
    "scenario",
    [
        station(31.0),
        station(400.0),
        station(31.0, antenna=Antenna(impedance_ohm=8 + 0j)),
        station(31.0, rise_s=3e-4),
        station(31.0, transmitter=CONTROLLED, antenna=Antenna(impedance_ohm=8 + 0j)),
        station(31.0, events=(SHORTED,)),
        station(31.0, events=(KEY_UP,)),
        station(31.0, keying=Keying(shape="pulse", width_s=5e-8)),
        station(31.0, keying=Keying(shape="morse", rise_s=1e-7, text="e t", dot_s=2e-6)),
    ],
    ids=["short", "long", "echoes", "slow key", "controlled", "event", "key up", "pulse", "morse"],
)
def test_the_estimate_is_near_the_steps_that_are_taken(monkeypatch: pytest.MonkeyPatch, scenario: Scenario) -> None:
    resolved = perform.resolve(scenario)
    steps, snapshots = counted(monkeypatch, lambda: run_work(resolved))[-1]
    done = simulate(resolved)
    assert steps / FACTOR < done.stepper.step < steps * FACTOR
    assert done.recorder is not None
    assert snapshots / FACTOR < len(done.recorder.shots) < snapshots * FACTOR or len(done.recorder.shots) < 1000


@pytest.mark.parametrize("refine", [1, 4])
def test_so_it_is_of_a_check(monkeypatch: pytest.MonkeyPatch, refine: int) -> None:
    resolved = perform.resolve(station(31.0))
    ((steps, _),) = counted(monkeypatch, lambda: steady_work(resolved, refine))
    assert steps / FACTOR < simulate_steady(resolved, refine).stepper.step < steps * FACTOR


def test_the_memory_counts_the_cells_and_the_snapshots() -> None:
    """Every array of the stepper and every snapshot is within the estimate, which is no more than three times as much."""
    resolved = perform.resolve(station(400.0))
    done = simulate(resolved)
    assert done.recorder is not None
    arrays = [value for value in vars(done.stepper).values() if hasattr(value, "nbytes")]
    books = [*done.stepper.row_j, *done.stepper.line_j]
    found = (
        sum(a.nbytes for a in arrays) + sum(b.nbytes for b in books) + 2 * sum(part.nbytes for shot in done.recorder.shots for part in shot)
    )
    assert found / FACTOR < run_work(resolved).memory < FACTOR * found


def test_a_large_network_is_a_matter_of_its_elements() -> None:
    """A thousand elements without a line between them: every step multiplies some thousand rows by a thousand inputs."""
    pair = (Element(position="series", kind="inductor", value=1e-7), Element(position="shunt", kind="capacitor", value=1e-11))
    networks = tuple(Network(name=f"network {k}", elements=pair * 10) for k in range(50))
    small, large = (run_work(perform.resolve(station(31.0, path=(*station(31.0).path, *networks[:n])))) for n in (5, 50))
    assert 30 < large.seconds / small.seconds < 3000  # ten times the elements: a hundred times a step, a thousand times to make
    assert large.memory > 5 * small.memory
    assert "a network of 1," in large.takes


def test_a_station_that_rings_longer_than_expected_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    """Almost no loss, in a station that was not looked into: it is stopped once it has had what is allowed."""
    monkeypatch.setattr(expected, "modes_of", lambda scenario: None)
    ringing = perform.resolve(station(31.0, antenna=Antenna(impedance_ohm=0.02 + 0j), transmitter=SOFT))
    monkeypatch.setattr(budget, "MOST_MINUTES", 1.5 * simulation.rest_work(ringing, 160).seconds / 60)
    with pytest.raises(TooMuchWork, match="rings longer than expected"):
        simulate_steady(ringing, 1)


SOFT = Transmitter(frequency_hz=10e6, power_w=10.0, source_impedance_ohm=1.0, rated_load_ohm=50.0)


def test_a_pulse_too_short_for_any_grid_is_refused() -> None:
    with pytest.raises(ScenarioError, match=r"keying.width: it is so short .* Make it 300 ps or longer"):
        perform.simulate(station(31.0, keying=Keying(shape="pulse", width_s=1e-10)))


def test_keys_that_take_long_do_not_count() -> None:
    """A start under a key is left out where it takes far longer than the station's own; a step never is."""
    works = start_up_work(station(3000.0, 30e6))
    assert 1 <= len(works) < 4
    assert start_up_work(station(31.0, keying=Keying(shape="pulse", width_s=5e-8))) == ()


def test_what_is_expected_covers_key_events_and_echoes() -> None:
    own = station(31.0)
    assert expected_s(own, 1e-6) > own.keying.rise_s + 2 * 1e-6 * 9
    assert expected_s(station(31.0, events=(Event(at_s=0.5, happens="antenna opens"),)), 1e-6) > 0.5
