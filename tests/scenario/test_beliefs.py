"""What the lessons on common beliefs tell of one another, to the digits told; their own figures are claims, and judged."""

from __future__ import annotations

import pytest

from bouncesim import simulate, solve_exact
from bouncesim.show.live import Live
from bouncesim.show.story import default_beats
from tests.scenario.test_scenarios import lesson


@pytest.mark.parametrize(
    ("name", "reading", "told", "digits", "tellers"),
    [
        ("same-swr-thick-line", "feed line.heat_w", 2.8, 1, ("same-swr-thin-cable",)),
        ("same-swr-thick-line", "feed line.loss_db", 0.36, 2, ("same-swr-thin-cable",)),
        ("same-swr-thin-cable", "feed line.heat_w", 16, 0, ("same-swr-thick-line",)),
        ("same-swr-thin-cable", "feed line.loss_db", 2.6, 1, ("same-swr-thick-line",)),
        ("tuner-warm", "tuner.heat_w", 2.2, 1, ("tuner-cool",)),
        ("tuner-warm", "tuner.coil_a_peak", 3.3, 1, ("tuner-cool",)),
        ("tuner-cool", "tuner.heat_w", 0.27, 2, ("tuner-warm",)),
        ("both-ways-transmit", "feed line.swr_out", 7.0, 1, ("both-ways-receive",)),
        ("both-ways-transmit", "feed line.swr_in", 3.8, 1, ("both-ways-receive",)),
        ("both-ways-transmit", "antenna.power_share", 0.507, 3, ("both-ways-transmit", "both-ways-receive")),
        ("ground-takes-most", "antenna.radiated_w", 11.8, 1, ("ground-takes-most", "ground-takes-little")),
        ("ground-takes-little", "feed line.swr_out", 1.4, 1, ("ground-takes-little",)),
        ("low-band-harmless", "feed line.swr_out", 5.1, 1, ("low-band-costly",)),
        ("one-antenna-80-m", "antenna.power_w", 27, 0, ("one-antenna-40-m", "one-antenna-20-m")),
        ("one-antenna-160-m", "antenna.power_w", 3, 0, ("one-antenna-40-m", "one-antenna-20-m")),
        ("one-antenna-20-m", "antenna.power_w", 41, 0, ("one-antenna-160-m",)),
        ("tee-tuner", "tuner.heat_w", 9.0, 1, ("tuner-warm", "tuner-cool")),
    ],
)
def test_figures_that_one_lesson_tells_of_another(name: str, reading: str, told: float, digits: int, tellers: tuple[str, ...]) -> None:
    assert round(solve_exact(lesson(name)).numbers()[reading], digits) == told
    shown = f"{100 * told:g} %" if reading.endswith("_share") else f"{told:.{digits}f}".removesuffix(".0")
    for teller in tellers:
        words = lesson(teller).about + " ".join(beat.caption for beat in lesson(teller).beats)
        assert shown in words, (teller, shown)


def test_a_path_gives_as_much_of_its_power_one_way_as_the_other() -> None:
    """Of what the source has to give: 30 W out, 30 pW in. Reciprocity; the two engines know nothing of it."""
    out, back = (solve_exact(lesson(f"both-ways-{way}")).antenna.power_w for way in ("transmit", "receive"))
    assert out / 30 == pytest.approx(back / 30e-12, rel=1e-9)


@pytest.mark.parametrize(("source", "told"), [(8, [26.0, 13.2, 16.4]), (420, [26.0, 44.9, 51.8])])
def test_the_steps_that_the_echo_lessons_tell(source: int, told: list[float]) -> None:
    one = lesson(f"echo-meets-{source}-ohm")
    echoes = solve_exact(one).echoes
    assert echoes is not None
    assert [round(power, 1) for power in echoes.forward_after_round_trips_w[:3]] == told
    assert all(f"{power:.1f} W".replace(".0 W", " W") in one.about for power in told)


def test_captions_of_a_station_that_receives_are_live() -> None:
    run = simulate(lesson("both-ways-receive"))
    live = Live(run)
    early, late = (live.value("receiver.power_w", run.moments[moment]) for moment in ("first echo", "settled"))
    assert 0 < early < 0.1 * late
    assert late == pytest.approx(run.readings.antenna.power_w, rel=0.02)  # settled: within 1 % of the largest power


def test_a_station_that_receives_has_a_story_of_its_own() -> None:
    run = simulate(lesson("received-wave-comes-back").model_copy(update={"beats": ()}))
    told = " ".join(beat.caption for beat in default_beats(run))
    assert "${receiver.power_w} go into the receiver" in told
    assert "transmitter" not in told
    assert Live(run).value("antenna.power_w", 1.0) == pytest.approx(run.readings.transmitter.power_w, rel=1e-6)
