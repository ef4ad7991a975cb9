"""Pictures for the demo, drawn by reckoning: a heap of soil, and a block as it came out of the press broken."""

import struct
import zlib

import numpy as np
from numpy.typing import NDArray

Grid = NDArray[np.float64]

WIDTH, HEIGHT = 640, 480
BENCH = (176.0, 170.0, 160.0)
ACROSS, DOWN = np.meshgrid(np.arange(WIDTH) / WIDTH, np.arange(HEIGHT) / HEIGHT)


def heap(colour: str) -> bytes:
    """Return a heap of soil on a bench, as a PNG file."""
    dice = np.random.default_rng(zlib.crc32(colour.encode()))
    picture = _bench(dice)
    ridge = 0.74 - 0.46 * np.exp(-(((ACROSS - 0.5) / 0.21) ** 2)) + 0.012 * _clods(dice, 40)
    foot = 0.80 - 0.35 * (ACROSS - 0.5) ** 2
    inside = (ridge < DOWN) & (foot > DOWN) & (np.abs(ACROSS - 0.5) < 0.40 - 0.2 * np.abs(DOWN - 0.77))
    light = 0.78 + 0.30 * (0.55 - ACROSS) + 0.22 * _clods(dice, 90) + 0.10 * dice.standard_normal(DOWN.shape)
    return _png(_painted(picture, inside, colour, light))


def broken_block(colour: str, number: int) -> bytes:
    """Return a block after crushing: worn to an hourglass, its sides fallen beside it, as a PNG file."""
    dice = np.random.default_rng(number)
    picture = _bench(dice)
    waist = 0.20 + 0.045 * dice.random() - 0.10 * np.exp(-(((DOWN - 0.50) / 0.11) ** 2)) + 0.014 * _clods(dice, 30)
    front = (np.abs(ACROSS - 0.47) < waist) & (DOWN > 0.30) & (DOWN < 0.72)
    top = (np.abs(ACROSS - 0.47 - 0.35 * (0.30 - DOWN)) < 0.21) & (DOWN > 0.20) & (DOWN <= 0.30)
    grain = 0.09 * _clods(dice, 120) + 0.06 * dice.standard_normal(DOWN.shape)
    layers = 0.05 * np.sin(DOWN * 70)
    picture = _painted(picture, front, colour, 0.80 + layers + grain)
    picture = _painted(picture, top, colour, 1.02 + 0.5 * grain)
    crack = np.abs(ACROSS - 0.47 - 0.05 * np.sin(DOWN * 19 + number) - 0.012 * _clods(dice, 25)) < 0.0035
    picture = _painted(picture, front & crack, colour, np.full(DOWN.shape, 0.34))
    for _ in range(30):
        across, down = 0.47 + 0.17 * dice.standard_normal(), 0.725 + 0.05 * dice.random()
        size = 0.005 + 0.017 * dice.random()
        # Only what is near a crumb is looked at: thirty looks at the whole picture would take most of a second.
        near = _window(across, size * HEIGHT / WIDTH, WIDTH), _window(down, size, HEIGHT)
        here = near[1], near[0]
        crumb = ((ACROSS[here] - across) * WIDTH / HEIGHT) ** 2 + (DOWN[here] - down) ** 2 < size**2
        light = 0.70 + (down - DOWN[here]) / size * 0.16 + grain[here]
        picture[here] = _painted(picture[here], crumb, colour, light)
    return _png(picture)


def _window(middle: float, reach: float, long: int) -> slice:
    return slice(max(0, int((middle - reach) * long) - 1), max(0, int((middle + reach) * long) + 2))


def _bench(dice: np.random.Generator) -> Grid:
    light = 1.0 - 0.25 * DOWN + 0.02 * dice.standard_normal(DOWN.shape)
    return np.array(BENCH) * light[..., None]


def _clods(dice: np.random.Generator, many: int) -> Grid:
    """Return lumps of about a size, some ``many`` across the picture, from -1 to 1."""
    lumps = dice.uniform(-1.0, 1.0, (many * HEIGHT // WIDTH + 2, many + 2))
    rows, columns = DOWN * (lumps.shape[0] - 2), ACROSS * (lumps.shape[1] - 2)
    row, column = rows.astype(int), columns.astype(int)
    below, beside = rows - row, columns - column
    upper = lumps[row, column] * (1 - beside) + lumps[row, column + 1] * beside
    lower = lumps[row + 1, column] * (1 - beside) + lumps[row + 1, column + 1] * beside
    return np.asarray(upper * (1 - below) + lower * below)


def _painted(picture: Grid, where: NDArray[np.bool_], colour: str, light: Grid) -> Grid:
    inks = np.array([float(int(colour[place : place + 2], 16)) for place in (1, 3, 5)])
    return np.where(where[..., None], inks * light[..., None], picture)


def _png(picture: Grid) -> bytes:
    rows = np.clip(picture, 0, 255).astype(np.uint8).reshape(HEIGHT, WIDTH * 3)
    points = b"".join(b"\0" + row.tobytes() for row in rows)
    head = struct.pack(">IIBBBBB", WIDTH, HEIGHT, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(points, 1)), (b"IEND", b""))
    chunks = (
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in parts
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)
