"""How far apart colours stand, for an eye as it is and for a colour-blind one.

Contrast: WCAG 2.2, "contrast ratio" and "relative luminance" (w3.org/TR/WCAG22). Colour-blindness: Machado, Oliveira, Fernandes, "A
physiologically-based model for simulation of color vision deficiency", IEEE TVCG 15 (2009), table 1, severity 1.0 (matrices from memory;
each row is checked to keep white). Colour difference: CIE 1976 L*a*b*, D65 white.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SIGHTS: dict[str, Floats] = {
    "full": np.eye(3),
    "protan": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]),
    "deutan": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]),
    "tritan": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]),
}
TO_XYZ = np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]])
WHITE = TO_XYZ @ np.ones(3)


def linear(colour: str) -> Floats:
    """#RRGGBB to linear light, shape (3,)."""
    c = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """WCAG contrast ratio, 1 to 21."""
    lights = sorted(float(np.array([0.2126, 0.7152, 0.0722]) @ linear(colour)) for colour in (one, other))
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def lab(light: Floats) -> Floats:
    """Linear light to CIE L*a*b*."""
    t = TO_XYZ @ np.clip(light, 0, 1) / WHITE
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def difference(one: str, other: str, sight: str) -> float:
    """Distance in L*a*b* as the eye `sight` sees both."""
    matrix = SIGHTS[sight]
    return float(np.linalg.norm(lab(matrix @ linear(one)) - lab(matrix @ linear(other))))
