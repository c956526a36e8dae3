"""A path turned round: the same parts as they are met from the antenna."""

from __future__ import annotations

from bouncesim.scenario.components import Element, Network, Part, Transformer


def mirrored(path: tuple[Part, ...]) -> tuple[Part, ...]:
    """The parts in order from the antenna, each turned round; names and losses stay where they are."""
    return tuple(turned for part in reversed(path) for turned in _turned(part))


def _turned(part: Part) -> tuple[Part, ...]:
    if isinstance(part, Network):
        return (part.model_copy(update={"elements": tuple(reversed(part.elements))}),)
    if isinstance(part, Transformer):
        return _turned_transformer(part)
    return (part,)


def _turned_transformer(part: Transformer) -> tuple[Part, ...]:
    """The ratio first, then what stood in front of it, in a network that keeps the name: it is what makes heat."""
    ratio = Transformer(name=part.name, impedance_ratio=1 / part.impedance_ratio)
    elements: list[Element] = []
    if part.magnetising_inductance_h is not None:
        elements.append(Element(position="shunt", kind="inductor", value=part.magnetising_inductance_h))
    if part.core_resistance_ohm is not None:
        elements.append(Element(position="shunt", kind="resistor", value=part.core_resistance_ohm))
    if part.leakage_inductance_h > 0:
        elements.append(Element(position="series", kind="inductor", value=part.leakage_inductance_h))
    if part.winding_resistance_ohm > 0:
        elements.append(Element(position="series", kind="resistor", value=part.winding_resistance_ohm))
    if not elements:
        return (ratio,)
    return ratio.model_copy(update={"name": f"{part.name}, ratio"}), Network(name=part.name, elements=tuple(elements))
