"""What a station that receives hears: the signal, the noise with it, and what the way from the antenna costs."""

from __future__ import annotations

from dataclasses import dataclass

from bouncesim.account.s_units import DB_PER_UNIT


@dataclass(frozen=True)
class Reception:
    """Powers in W; gains and ratios in dB. The noise figures are None outside of the frequencies for which external noise is tabulated."""

    available_w: float  # what the antenna could give to a matched load
    received_w: float  # what the receiver gets
    gain_db: float  # received over available: the transducer gain
    gain_other_way_db: float  # of the same path from a transmitter with the receiver's impedance into the antenna
    external_noise_db: float | None  # median external noise figure at the antenna, above k T0 b
    signal_to_noise_db: float | None  # in the receiver's bandwidth
    without_loss_db: float | None  # the same with a matched path that loses nothing

    @property
    def s_units_lost(self) -> float:
        """What the way costs on the S-meter, at 6 dB a unit."""
        return -self.gain_db / DB_PER_UNIT

    @property
    def noise_cost_db(self) -> float | None:
        """What the way costs in signal to noise, dB: what one hears of it."""
        if self.signal_to_noise_db is None or self.without_loss_db is None:
            return None
        return self.without_loss_db - self.signal_to_noise_db
