"""What stands at the end of the path: its symbol and figure, which change when an event changes it, and the power that it takes."""

from __future__ import annotations

from matplotlib.artist import Artist

from bouncesim.show.numbers import reading
from bouncesim.show.scene import Scene
from bouncesim.show.signs import GAUGE, LoadState, load_states
from bouncesim.show.symbols import OPEN_END, draw_load

LEAST = 1e-6  # share of the power that is small against, under which nothing goes in
AT_ONCE = 1e-9  # share of its moment by which an event counts as past: in a picture that rests at that moment it is still to come


class Ending:
    """Symbol and figure of what stands at the end: background, or live where something happens to it."""

    def __init__(self, scene: Scene) -> None:
        self.scene, self.states = scene, load_states(scene.live.run.scenario, scene.words)
        slot, palette, size = scene.track.slots[-1], scene.palette, scene.type
        base = slot.label_y + (len(slot.label) - 1) * 28 * size.unit
        if len(self.states) == 1:
            draw_load(scene.pad(), slot.x, slot.top, self.states[0], palette)
            scene.pad().text(slot.x, base, slot.label[-1], size.small, palette.secondary, ha="center")
            return
        reach = OPEN_END + 5
        pad = scene.region((slot.x - 20, slot.top - reach, 40, GAUGE + 2 * reach), self._state, self._update)
        assert pad.region is not None
        self.symbols: list[list[Artist]] = []
        for state in self.states:
            before = len(pad.region.artists)
            draw_load(pad, slot.x, slot.top, state, palette)
            self.symbols.append(pad.region.artists[before:])
        scene.number((slot.x - slot.w / 2, base, slot.w), self._figure, size.small, palette.secondary, ha="center")

    def _state(self, k: int) -> int:
        """Which of the states frame k shows."""
        t = self.scene.now(k)
        return max(i for i, state in enumerate(self.states) if i == 0 or state.since_s * (1 + AT_ONCE) < t)

    def _update(self, k: int) -> None:
        for i, artists in enumerate(self.symbols):
            for artist in artists:
                artist.set_visible(i == self._state(k))

    def _figure(self, k: int) -> str:
        state: LoadState = self.states[self._state(k)]
        return state.figure


class IntoLoad:
    """What stands at the end, and under it live the power that goes into it."""

    def __init__(self, scene: Scene) -> None:
        Ending(scene)
        slot, unit = scene.track.slots[-1], scene.type.unit
        x, _, w, _ = scene.layout.wave
        half = min(x + w - 6 - slot.x, slot.x - scene.track.x1 - 4)
        below = max(slot.label_y + (len(slot.label) - 1) * 28 * unit, scene.track.plot_top + 40 * unit) + 44 * unit
        scene.pad().text(slot.x, below, scene.words("takes"), scene.type.small, scene.palette.secondary, ha="center")
        self.live, self.scene = scene.live, scene
        self.floor = LEAST * scene.live.scale_w
        size = 32 * unit if scene.layout.is_wide else 30 * unit
        scene.number((slot.x - half, below + 40 * unit, 2 * half), self.power, size, scene.palette.antenna, bold=True, ha="center")

    def power(self, k: int) -> str:
        return reading(self.live.antenna_power(self.scene.now(k)), "W", self.floor)
