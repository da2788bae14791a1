"""Numbers for the made balls: digits as strokes of our own, rasterised into an atlas.

No font is read. Each digit is a polyline in a box 1 wide and 2 high (x right, y up); a number is
its digits side by side, drawn with a pen of some thickness and slant. `atlas` gives opacity maps
[style, number 0..15, size, size] in which the number fills the disc's inscribed square; row 0 is
the upper edge as the reader sees it.
"""

import math

import torch


def _arc(cx, cy, rx, ry, start_deg, end_deg, steps=10):
    out = []
    for i in range(steps + 1):
        a = math.radians(start_deg + (end_deg - start_deg) * i / steps)
        out.append((cx + rx * math.cos(a), cy + ry * math.sin(a)))
    return out


STROKES = {
    0: [_arc(0.5, 1.0, 0.5, 1.0, 90, 450, 20)],
    1: [[(0.15, 1.6), (0.55, 2.0), (0.55, 0.0)]],
    2: [_arc(0.5, 1.5, 0.48, 0.5, 170, -35) + [(0.02, 0.0), (1.0, 0.0)]],
    3: [_arc(0.45, 1.5, 0.48, 0.5, 160, -90), _arc(0.45, 0.52, 0.53, 0.52, 90, -160)],
    4: [[(0.75, 0.0), (0.75, 2.0), (0.0, 0.6), (1.0, 0.6)]],
    5: [[(0.92, 2.0), (0.15, 2.0), (0.08, 1.1)] + _arc(0.45, 0.66, 0.53, 0.66, 120, -150)],
    6: [[(0.8, 1.95), (0.3, 1.4), (0.05, 0.8)], _arc(0.5, 0.58, 0.48, 0.58, 0, 360, 16)],
    7: [[(0.0, 2.0), (1.0, 2.0), (0.35, 0.0)]],
    8: [_arc(0.5, 1.52, 0.42, 0.48, 0, 360, 16), _arc(0.5, 0.54, 0.5, 0.54, 0, 360, 16)],
    9: [_arc(0.5, 1.42, 0.48, 0.58, 0, 360, 16), [(0.95, 1.2), (0.7, 0.6), (0.2, 0.05)]],
}


def _segments(number, underline):
    """Line segments of a number in a box centred on 0, in units of half the digit height."""
    digits = [int(c) for c in str(number)]
    gap = 0.35
    wide = len(digits) + gap * (len(digits) - 1)
    out = []
    for i, d in enumerate(digits):
        x0 = i * (1.0 + gap) - wide / 2.0
        for line in STROKES[d]:
            for (ax, ay), (bx, by) in zip(line[:-1], line[1:]):
                out.append((ax + x0, ay - 1.0, bx + x0, by - 1.0))
    if underline and number in (6, 9):
        out.append((-0.5, -1.35, 0.5, -1.35))
    return out


def atlas(styles=12, size=32, seed=5):
    """Opacity maps [styles, 16, size, size]; number 0 (the cue ball) is empty."""
    rng = torch.Generator().manual_seed(seed)
    axis = (torch.arange(size) + 0.5) / size * 2.0 - 1.0
    px, py = axis[None, :].expand(size, size), -axis[:, None].expand(size, size)
    out = torch.zeros(styles, 16, size, size)
    for s in range(styles):
        pen = 0.14 + 0.24 * torch.rand(1, generator=rng).item()
        slant = 0.25 * torch.rand(1, generator=rng).item() - 0.08
        narrow = 0.6 + 0.35 * torch.rand(1, generator=rng).item()
        height = 0.50 + 0.16 * torch.rand(1, generator=rng).item()
        underline = s % 2 == 0
        for number in range(1, 16):
            h = height * (0.88 if number > 9 else 1.0)
            y = py / h
            x = (px / h - slant * y) / (narrow * (0.85 if number > 9 else 1.0))
            best = torch.full((size, size), 1e9)
            for ax, ay, bx, by in _segments(number, underline):
                dx, dy = bx - ax, by - ay
                t = ((x - ax) * dx + (y - ay) * dy) / max(dx * dx + dy * dy, 1e-9)
                t = t.clamp(0, 1)
                away_x, away_y = (x - ax - t * dx) * narrow, y - ay - t * dy
                best = torch.minimum(best, (away_x**2 + away_y**2).sqrt())
            soft = 2.0 / size / h
            out[s, number] = ((pen - best) / soft + 0.5).clamp(0, 1)
    return out
