"""Made crops: world, shading and sensor put together into one batch."""

import torch

from sensor import develop, patch
from shade import GRID, shade
from world import draw


def make(d, pairs, digits, shader=shade):
    """A batch of 2 * pairs layouts: patch, number, valid, usual, each one row a crop."""
    w = draw(d, pairs)
    n = w["number"].shape[0]
    noise = d.normal((n, 1, GRID, GRID))
    light, glow = shader(w, digits, noise)
    # White under this light: the open cloth's light over its albedo, at the pair's first crop.
    first = glow / w["cloth"].clamp(min=1e-3)
    per_pair = first.reshape(pairs, -1, 3).mean(1).mean(-1, keepdim=True).clamp(min=1e-3)
    white = per_pair.repeat_interleave(n // pairs, 0).expand(-1, 3)
    frame, centre, radius = develop(light, white, d)
    return {
        "patch": patch(frame, centre, radius, w["number"], d),
        "number": w["number"],
        "valid": w["valid"],
        "usual": w["usual"],
    }
