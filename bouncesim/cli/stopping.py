"""Ctrl-C, a request to end (SIGTERM) and a closed terminal (SIGHUP) end a command as an error does: what was begun is cleaned up, then one
line is told. Loads nothing, as it comes before all else."""

from __future__ import annotations

import _thread
import signal
import sys
import time
from contextlib import suppress
from types import FrameType
from typing import Any

SIGNALS = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
PATIENCE_S = 5.0  # a second Ctrl-C within it does not disturb the cleaning up
AGAIN_S = 0.01


class Stopped(KeyboardInterrupt):
    """A class of its own: of a bare KeyboardInterrupt Python remembers that it passed compiled text, and dies of it at the end."""


_first: tuple[int, float] | None = None  # what stopped the program, and when


def listen() -> None:
    """From now on each of these signals raises a KeyboardInterrupt, once; one that is ignored, as under nohup, stays so."""
    for number in SIGNALS:
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _stop)
    sys.unraisablehook = _again


def stopped() -> int:
    """Tell that the program was stopped. Returns its exit code: 128 and the number of the signal, as shells have it."""
    with suppress(OSError, AttributeError):  # with the terminal gone there is nobody to tell
        print("\nStopped. Nothing half-written is left behind.", file=sys.stderr, flush=True)
    return 128 + (_first[0] if _first else signal.SIGINT)


def is_stopping() -> bool:
    """True for some seconds after a signal: some compiled text makes an error of its own of the interrupt that passes it."""
    return _first is not None and time.monotonic() - _first[1] < PATIENCE_S


def leave() -> None:
    """The command is over: nothing disturbs the end of the interpreter, a moment later."""
    for number in SIGNALS:
        signal.signal(number, signal.SIG_IGN)


def _stop(number: int, frame: FrameType | None) -> None:
    global _first
    if is_stopping():
        return
    _first = (_first[0] if _first else number, time.monotonic())
    raise Stopped


def _again(lost: Any) -> None:
    """An interrupt is lost where Python itself calls back, as in a destructor: it is raised anew a moment later, when that is over."""
    global _first
    if isinstance(lost.exc_value, KeyboardInterrupt) and _first:
        import threading

        number, _first = signal.Signals(_first[0]), None
        threading.Timer(AGAIN_S, _thread.interrupt_main, (number,)).start()
    else:
        sys.__unraisablehook__(lost)
