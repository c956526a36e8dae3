"""Circuits of resistors, coils and capacitors that stand for an antenna: at the carrier, and over a band."""

from bouncesim.exact.circuits.carrier import CarrierCircuit, carrier_circuit
from bouncesim.exact.circuits.wideband import wideband_circuit

__all__ = ["CarrierCircuit", "carrier_circuit", "wideband_circuit"]
