"""The readings of solved stations as columns of a table, under the names of account.readings: "antenna.power_w", "feed line.loss_db"."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from bouncesim.exact.phasor import Complex, Real
from bouncesim.exact.solve import DB_PER_NEPER
from bouncesim.scenario import Meter, Network, Stub, Transformer, Transmitter, Tuner
from bouncesim.survey.path import SOLVED, Batch, Span
from bouncesim.survey.standing import Standing
from bouncesim.survey.tuners import ABSENT, MOST_PARTS

Column = tuple[str, NDArray[np.float64]]
_LIKE_POWER, _LIKE_VOLTAGE = ("_w",), ("_v_peak", "_v_rms", "_a_peak", "_a_rms")


def readings(batch: Batch, transmitter: Transmitter) -> dict[str, Real]:
    """Every reading of the batch, (n,) each, nan where a station could not be solved; in the order of account.readings."""
    with np.errstate(all="ignore"):
        found = dict(_ends(batch, transmitter))
        spans = batch.spans
        for span in (span for span in spans if isinstance(span.part, Tuner | Network | Transformer | Stub)):
            found |= _named(span, _part(batch, span))
        for span in (span for span in spans if isinstance(span.part, Meter)):
            found |= _named(span, _meter(batch, span))
        for span in (span for span in spans if span.line is not None):
            found |= _named(span, _line(batch, span))
        found = _driven(batch, transmitter, found)
        left = found["transmitter.power_w"]
        for name in [name for name in found if name.endswith(".heat_w") and not name.startswith("antenna.")]:
            found[name.removesuffix("_w") + "_share"] = np.where(left > 0, found[name] / left, np.nan)
        found["antenna.power_share"] = np.where(left > 0, found["antenna.power_w"] / left, np.nan)
    for span in (span for span in spans if span.tuner is not None):
        found |= _named(span, _settings(span))
    return {name: np.where(batch.outcome == SOLVED, values, np.nan) for name, values in found.items()}


def _named(span: Span, columns: Iterator[Column]) -> dict[str, Real]:
    there = np.True_ if span.there is None else span.there
    return {f"{span.part.name}.{field}": np.where(there, values, np.nan) for field, values in columns}


def _directional(v: Complex, i: Complex, reference: Real | float) -> tuple[Real, Real]:
    """exact.solve.directional, over arrays."""
    plus, minus = v + reference * i, v - reference * i
    return np.abs(plus) ** 2 / (8 * reference), np.abs(minus) ** 2 / (8 * reference)


def _swr(forward: Real, reflected: Real, power: Real) -> Real:
    """exact.solve._swr, over arrays."""
    return np.where(power > 0, np.maximum(1.0, (np.sqrt(forward) + np.sqrt(reflected)) ** 2 / power), np.inf)


def _ends(batch: Batch, transmitter: Transmitter) -> Iterator[Column]:
    walk = batch.walk
    v, i, power = walk.voltage[0], walk.current[0], walk.power[0]
    seen = np.where(i != 0, v / i, np.inf)
    forward, reflected = _directional(v, i, transmitter.rated_load_ohm)
    yield "transmitter.power_w", power
    yield "transmitter.impedance_ohm.real", seen.real
    yield "transmitter.impedance_ohm.imag", seen.imag
    yield "transmitter.swr", _swr(forward, reflected, power)
    yield "transmitter.voltage_v_rms", np.abs(v) / np.sqrt(2)
    yield "transmitter.current_a_rms", np.abs(i) / np.sqrt(2)
    yield "transmitter.drive", np.ones(len(power))
    yield "transmitter.dump_load_w", reflected if transmitter.behaviour == "isolated" else np.zeros(len(power))
    v, i, power = walk.voltage[-1], walk.current[-1], walk.power[-1]
    feeding = [span.line for span in batch.spans if span.line is not None][-1]
    heat = power * batch.heat_share
    yield "antenna.power_w", power
    yield "antenna.voltage_v_rms", np.abs(v) / np.sqrt(2)
    yield "antenna.current_a_rms", np.abs(i) / np.sqrt(2)
    yield "antenna.swr", _swr(*_directional(v, i, feeding.reference), power)
    yield "antenna.radiated_w", power - heat
    yield "antenna.heat_w", heat


def _part(batch: Batch, span: Span) -> Iterator[Column]:
    walk, first, last = batch.walk, span.first, span.last
    count = len(batch.frequency)
    heat, coil, capacitor = np.zeros(count), np.zeros(count), np.zeros(count)
    if isinstance(span.part, Stub):
        heat = np.abs(walk.voltage[first]) ** 2 * span.impedances[0].real / 2
    elif isinstance(span.part, Transformer):
        series, shunt = span.impedances
        heat = (np.abs(walk.current[first]) ** 2 * series.real + np.abs(walk.voltage[first + 1]) ** 2 * shunt.real) / 2
    for place, (z, in_series, is_coil, is_capacitor) in enumerate(_elements(batch, span)):
        v, i = walk.voltage[first + place], walk.current[first + place]
        current = np.where(in_series, np.abs(i), np.abs(v / z))
        heat = heat + current**2 * z.real / 2 * (is_coil | is_capacitor | isinstance(span.part, Network))
        coil = np.where(is_coil, np.maximum(coil, current), coil)
        capacitor = np.where(is_capacitor, np.maximum(capacitor, current * np.abs(z.imag)), capacitor)
    yield "power_in_w", walk.power[first]
    yield "power_out_w", walk.power[last]
    yield "heat_w", heat
    yield "coil_a_peak", coil
    yield "capacitor_v_peak", capacitor


def _elements(batch: Batch, span: Span) -> Iterator[tuple[Complex, NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]]:
    """Impedance of each element, whether it is in series, a coil, a capacitor."""
    if span.tuner is not None:
        tuner = span.tuner
        z, there = tuner.impedance(batch.frequency), tuner.code != ABSENT
        for k in range(MOST_PARTS):
            yield z[k], tuner.in_series[k], tuner.is_coil[k], there[k] & ~tuner.is_coil[k]
    elif isinstance(span.part, Network):
        for z, element in zip(span.impedances, span.part.elements, strict=True):
            is_coil, is_capacitor = (np.full(len(z), element.kind == kind) for kind in ("inductor", "capacitor"))
            yield z, np.full(len(z), element.position == "series"), is_coil, is_capacitor


def _settings(span: Span) -> Iterator[Column]:
    """A tuner's parts, in order from the transmitter."""
    assert span.tuner is not None
    for k in range(MOST_PARTS):
        yield f"part_{k + 1}", span.tuner.code[k].astype(float)
        yield f"part_{k + 1}_value", np.where(span.tuner.code[k] == ABSENT, np.nan, span.tuner.value[k])


def _meter(batch: Batch, span: Span) -> Iterator[Column]:
    """account.meters, over arrays."""
    assert isinstance(span.part, Meter)
    v, i = batch.walk.voltage[span.first], batch.walk.current[span.first]
    forward, reflected = _directional(v, i, span.part.reference_ohm)
    rho = np.where((forward > 0) & (reflected > 0), np.sqrt(reflected / forward), 0.0)
    swr = np.where(forward > 0, _swr_of(np.sqrt(np.maximum(reflected, 0.0) / forward)), np.where(reflected <= 0, 1.0, np.inf))
    leak = 0.0 if span.part.directivity_db is None else 10 ** (-span.part.directivity_db / 20)
    least, most = np.abs(rho - leak), rho + leak
    yield "forward_w", forward
    yield "reflected_w", reflected
    yield "swr", swr
    yield "reflected_least_w", forward * least**2 if leak else reflected
    yield "reflected_most_w", forward * most**2 if leak else reflected
    yield "swr_least", _swr_of(least) if leak else swr
    yield "swr_most", _swr_of(most) if leak else swr


def _swr_of(rho: Real) -> Real:
    """account.readings.swr_of, over arrays."""
    return np.where(rho < 1, (1 + rho) / (1 - rho), np.inf)


def _line(batch: Batch, span: Span) -> Iterator[Column]:
    line, walk = span.line, batch.walk
    assert line is not None
    v_in, i_in, power_in = (values[span.first] for values in walk)
    v_out, i_out, power_out = (values[span.last] for values in walk)
    forward, back = (v_in + line.impedance * i_in) / 2, (v_out - line.impedance * i_out) / 2
    waves = Standing(forward, back, line.gamma, line.impedance, line.length)
    heat = waves.heat_w(line.resistance, line.conductance)
    forward_in, reflected_in = _directional(v_in, i_in, line.reference)
    forward_out, reflected_out = _directional(v_out, i_out, line.reference)
    loss = np.where(heat == 0, 0.0, np.where(power_out > 0, 10 * np.log1p(heat / power_out) / np.log(10), np.inf))
    yield "reference_ohm", line.reference
    yield "power_in_w", power_in
    yield "power_out_w", power_out
    yield "heat_w", heat
    yield "forward_in_w", forward_in
    yield "reflected_in_w", reflected_in
    yield "forward_out_w", forward_out
    yield "reflected_out_w", reflected_out
    yield "swr_in", _swr(forward_in, reflected_in, power_in)
    yield "swr_out", _swr(forward_out, reflected_out, power_out)
    yield "matched_loss_db", DB_PER_NEPER * line.gamma.real * line.length
    yield "loss_db", loss
    for letter, (size, place) in (("v", waves.largest_voltage()), ("a", waves.largest_current())):
        yield f"largest_{letter}_peak", size
        yield f"largest_{letter}_at_m", place


def _driven(batch: Batch, transmitter: Transmitter, found: dict[str, Real]) -> dict[str, Real]:
    """The same where a control holds the drive: account.readings.Readings.driven, over arrays."""
    if not transmitter.is_controlled:
        return found
    v, i = batch.walk.voltage[0], batch.walk.current[0]
    pairs = zip(*_directional(v, i, transmitter.rated_load_ohm), batch.power, strict=True)
    rated = {float(power): transmitter.model_copy(update={"power_w": float(power)}) for power in np.unique(batch.power)}
    share = np.array([rated[float(power)].drive_at_rest(float(forward), float(reflected)) for forward, reflected, power in pairs])
    for name in found:
        factor = share if name.endswith(_LIKE_POWER) else np.sqrt(share) if name.endswith(_LIKE_VOLTAGE) else 1.0
        found[name] = found[name] * factor
    return found | {"transmitter.drive": share}
