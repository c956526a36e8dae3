"""Connectors that go bad: from that moment on a resistor sits on the wire, with its name under it where there is room."""

from __future__ import annotations

from bouncesim.scenario.events import Event
from bouncesim.show.scene import Scene
from bouncesim.show.signs import GAUGE
from bouncesim.show.symbols import WIRE
from bouncesim.show.text import width

ACROSS, HIGH = 30.0, 18.0  # px of the resistor
ROOM = 40.0  # px, least, from its name to what stands beside it


class Joints:
    """A mark for every connector that fails."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        for event in scene.live.run.scenario.events:
            if event.happens == "connector fails":
                self._mark(event)

    def _mark(self, event: Event) -> None:
        scene, palette, small = self.scene, self.scene.palette, self.scene.type.small
        x, top, free = self._place(event.behind)
        low = top + 3  # clear of the arrows between the rails

        def failed(k: int) -> bool:
            return scene.now(k) > event.at_s

        pad = scene.region((x - ACROSS / 2 - 4, low - HIGH - 4, ACROSS + 8, HIGH + 6), failed, lambda k: None)
        assert pad.region is not None
        pad.region.when = failed
        pad.box(x - ACROSS / 2, low - HIGH, ACROSS, HIGH, palette.panel, palette.text, WIRE)
        name = scene.words("bad_connector")
        if width(name, small) + ROOM <= 2 * free:
            box = (x - width(name, small) / 2 - 4, top + GAUGE + 16 + small, width(name, small) + 8)
            scene.number(box, lambda k: name if failed(k) else "", small, palette.text, ha="center")

    def _place(self, behind: str) -> tuple[float, float, float]:
        """Where the connector is: px, its upper wire, and px that are free to either side under it."""
        track = self.scene.track
        for i, span in enumerate(track.spans):
            if span.line.name == behind:
                lonely = self.scene.layout.is_wide and i + 1 < len(track.spans) and not track.rows[i + 1]
                return span.x1, track.top, min(span.x1 - span.x0, track.spans[i + 1].x1 - span.x1) if lonely else 0.0
        slot = next(slot for slot in track.slots if _holds(slot.what, behind))
        return slot.x + slot.w / 2, slot.top, 0.0


def _holds(what: object, name: str) -> bool:
    """Whether a thing of the path is, or has in it, the part of that name."""
    return any(part.name == name for part in getattr(what, "parts", (what,)) if hasattr(part, "name"))
