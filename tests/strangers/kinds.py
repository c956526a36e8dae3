"""The kinds of input: what a scenario file, a Touchstone file and a narration may come as."""

from __future__ import annotations

import functools
import random
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from tests.strangers import tables
from tests.strangers.words import MARKS, odd_number, odd_quantity, odd_word

ROOT = Path(__file__).parents[2]
S1P, VTT = "loaded-vertical.s1p", "spoken.vtt"
LONGEST = 1_200_000  # bytes: a little more than a scenario may have
LONGEST_FILE = 6_000_000  # and than a file beside it may
_NUMBER = re.compile(rb"[-+]?[0-9]+(?:\.[0-9]+)?(?:e[-+]?[0-9]+)?")
_QUANTITY = re.compile(rb'"[-+0-9][^"\n]*"')
_STRING = re.compile(rb'"[^"\n]*"')


@dataclass(frozen=True)
class Input:
    """One scenario file, and files beside it."""

    kind: str
    text: bytes
    files: dict[str, bytes] = field(default_factory=dict)


@functools.cache
def lessons() -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted((ROOT / "scenarios").glob("*.toml")))


@functools.cache
def malformed() -> tuple[bytes, ...]:
    """Every malformed scenario of the reader's tests."""
    found = []
    for path in sorted((ROOT / "tests" / "scenario").glob("malformed*.toml")):
        data = tomllib.loads(path.read_text("utf-8"))
        goods = [data["good"]] if "good" in data else [text for text in data.values() if isinstance(text, str)]
        found += [good.replace(case["old"], case["new"], 1).encode() for case in data["case"] for good in goods if case["old"] in good]
    return tuple(found)


def input_of(seed: int, number: int) -> Input:
    """One input; the same for the same seed and number."""
    chance = random.Random(f"{seed} {number}")
    kind = chance.choices(list(KINDS), [share for share, _ in KINDS.values()])[0]
    made = KINDS[kind][1](chance)
    text, files = made if isinstance(made, tuple) else (made, {})
    return Input(kind, text[:LONGEST], {name: content[:LONGEST_FILE] for name, content in files.items()})


def _bytes(chance: random.Random) -> bytes:
    return chance.randbytes(chance.choice((0, 1, 10, 100, 3000)))


def _sprinkled(chance: random.Random) -> bytes:
    """A lesson with raw bytes in it."""
    text = bytearray(chance.choice(lessons()))
    for _ in range(chance.choice((1, 2, 10))):
        place = chance.randrange(len(text))
        if chance.random() < 0.5:
            text[place] ^= 1 << chance.randrange(8)
        else:
            text[place:place] = chance.randbytes(chance.randrange(1, 4))
    return bytes(text)


def mutated(text: bytes, chance: random.Random) -> bytes:
    """A text with a few of its lines, values and tables changed."""
    for _ in range(chance.choice((1, 1, 2, 4))):
        text = chance.choice(MUTATIONS)(text, chance)
    return text


def _lines(text: bytes, chance: random.Random) -> bytes:
    lines = text.split(b"\n")
    at, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    act = chance.randrange(4)
    if act == 0:
        del lines[at]
    elif act == 1:
        lines.insert(other, lines[at])
    elif act == 2:
        lines[at], lines[other] = lines[other], lines[at]
    else:
        lines[at:] = []
    return b"\n".join(lines)


def _blocks(text: bytes, chance: random.Random) -> bytes:
    blocks = re.split(rb"(?m)^(?=\[)", text)
    at, other = chance.randrange(len(blocks)), chance.randrange(len(blocks))
    act = chance.randrange(4)
    if act == 0:
        blocks[at], blocks[other] = blocks[other], blocks[at]
    elif act == 1:
        del blocks[at]
    else:
        copies = 1 if act == 2 else chance.choice((30, 3000))
        fit = max(0, LONGEST_FILE - len(text)) // max(1, len(blocks[at]))
        blocks[at:at] = [blocks[at]] * min(copies, fit)
    return b"".join(blocks)


def _put(pattern: re.Pattern[bytes], new: Callable[[random.Random], str], text: bytes, chance: random.Random) -> bytes:
    places = [match.span() for match in pattern.finditer(text)]
    if not places:
        return text
    start, end = chance.choice(places)
    return text[:start] + new(chance).encode("utf-8", "replace") + text[end:]


def _number(text: bytes, chance: random.Random) -> bytes:
    return _put(_NUMBER, odd_number, text, chance)


def _scaled(text: bytes, chance: random.Random) -> bytes:
    """One number some powers of ten off."""
    places = [match.span() for match in _NUMBER.finditer(text)]
    if not places:
        return text
    start, end = chance.choice(places)
    new = f"{float(text[start:end]) * 10 ** chance.uniform(-6, 6):.6g}" if end - start < 30 else "7"
    return text[:start] + new.encode() + text[end:]


def _quantity(text: bytes, chance: random.Random) -> bytes:
    return _put(_QUANTITY, lambda chance: tables.toml(odd_quantity(chance)), text, chance)


def _word(text: bytes, chance: random.Random) -> bytes:
    return _put(_STRING, lambda chance: tables.toml(odd_word(chance)), text, chance)


def _swapped(text: bytes, chance: random.Random) -> bytes:
    """A string in the place of another."""
    strings = _STRING.findall(text) or [b'""']
    return _put(_STRING, lambda chance: chance.choice(strings).decode("utf-8", "replace"), text, chance)


def _marked(text: bytes, chance: random.Random) -> bytes:
    place = chance.randrange(len(text) + 1)
    return text[:place] + chance.choice(MARKS).encode("utf-8", "replace") + text[place:]


def _deep(text: bytes, chance: random.Random) -> bytes:
    """Something nested: stubs in stubs, lists in lists, tables in tables, a long dotted key."""
    depth = chance.choice((2, 4, 30, 500, 20_000))
    stub = '{ part = "stub", end = "open", path = ['
    return (
        text
        + chance.choice(
            (
                f"\n[[path]]\npart = 'stub'\nend = 'short'\npath = [{stub * depth}{{ part = 'meter' }}{'] }' * depth}]\n",
                f"\nabout = {'[' * depth}{']' * depth}\n",
                f"\n{'.'.join('a' * depth)} = 1\n",
                f"\nabout = {'{a=' * depth}1{'}' * depth}\n",
                f"\n[{'.'.join(['antenna'] * depth)}]\n",
                "\n" + "[[path.path]]\npart = 'meter'\n" * depth,
            )
        ).encode()
    )


MUTATIONS = (_lines, _lines, _blocks, _number, _scaled, _scaled, _quantity, _word, _word, _swapped, _marked, _deep)


def _lesson(chance: random.Random) -> bytes:
    return mutated(chance.choice(lessons()), chance)


def _malformed(chance: random.Random) -> bytes:
    text = chance.choice(malformed())
    return mutated(text, chance) if chance.random() < 0.7 else text


def _changed(chance: random.Random) -> bytes:
    return tables.document(tables.changed(tomllib.loads(chance.choice(lessons()).decode()), chance))


def _at_edges(chance: random.Random) -> bytes:
    return tables.document(tables.at_edges(tomllib.loads(chance.choice(lessons()).decode()), chance))


def _drawn(chance: random.Random) -> bytes:
    return tables.document(tables.drawn(chance))


@functools.cache
def measured() -> tuple[bytes, bytes]:
    folder = ROOT / "scenarios"
    return (folder / "measured-file.toml").read_bytes(), (folder / S1P).read_bytes()


def _touchstone(chance: random.Random) -> tuple[bytes, dict[str, bytes]]:
    """A measured file that was changed, or one written by chance."""
    scenario, content = measured()
    if chance.random() < 0.5:
        return scenario, {S1P: mutated(content, chance) if chance.random() < 0.8 else _bytes(chance)}
    words = [chance.choice(("Hz", "kHz", "MHz", "GHz", "")), chance.choice("SZYG"), chance.choice(("RI", "MA", "DB"))]
    head = (
        "[Version] 2.0\n# {} R {}\n[Number of Ports] 1\n[Number of Frequencies] {}\n[Network Data]\n"
        if chance.random() < 0.3
        else "# {} R {}\n"
    )
    size, rows = chance.choice((1e-300, 1e-3, 1, 1, 1, 1e3, 1e150, 1e300)), chance.choice((0, 1, 2, 3, 5, 300))
    step = chance.choice((1e-9, 1e-3, 1, 1, 3, 1e6))
    lines = [f"{7 + step * (k - rows // 2):.12g} {chance.gauss(0, 1) * size:.6g} {chance.gauss(0, 1) * size:.6g}" for k in range(rows)]
    text = head.format(" ".join(words), chance.choice(("50", "50", "1e-9", "1e9", "0", odd_number(chance))), rows)
    text += "\n".join(lines) + ("\n[End]\n" if head.startswith("[") else "\n")
    return scenario, {S1P: (mutated(text.encode(), chance) if chance.random() < 0.3 else text.encode())}


def _narration(chance: random.Random) -> tuple[bytes, dict[str, bytes]]:
    """A lesson whose beats are timed by a narration."""
    lesson = chance.choice(lessons())
    beats = lesson.count(b"\n[[beat]]") or 1
    if chance.random() < 0.8:
        lesson = re.sub(rb"(?m)^(lasts|slowed|pause) = .*\n", b"", lesson)
    at, cues = 0.0, []
    for k in range(beats + chance.choice((0, 0, 0, 0, 1, 60))):
        start, end = at, at + chance.choice((0.5, 3.0, 3.0, 8.0, 500.0))
        cues.append(f"{_stamp(start)} --> {_stamp(end)}\n{odd_word(chance) if k % 3 else 'Words'}\n")
        at = end + chance.choice((0.0, 0.0, 1.0, 500.0))
    content = ("WEBVTT\n\n" + "\n".join(cues)).encode("utf-8", "replace")
    return f'narration = "{VTT}"\n'.encode() + lesson, {VTT: mutated(content, chance) if chance.random() < 0.4 else content}


def _stamp(seconds: float) -> str:
    ms = round(seconds * 1000)
    return f"{ms // 3600000:02d}:{ms // 60000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"


KINDS: dict[str, tuple[float, Callable[[random.Random], bytes | tuple[bytes, dict[str, bytes]]]]] = {
    "raw bytes": (2, _bytes),
    "raw bytes in a lesson": (6, _sprinkled),
    "lesson, changed as text": (24, _lesson),
    "malformed scenario": (14, _malformed),
    "lesson, changed key by key": (26, _changed),
    "lesson, at the edges": (8, _at_edges),
    "drawn from the schema": (16, _drawn),
    "Touchstone file": (7, _touchstone),
    "narration": (5, _narration),
}
