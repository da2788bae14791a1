"""Made crops: world, shading and sensor put together into one batch."""

from sensor import develop, patch, settings
from shade import GRID, shade
from world import draw


def picture(w, s, digits, noise, pairs):
    """From all that was drawn to the patches; nothing random in here, so that it compiles."""
    light, glow = shade(w, digits, noise)
    # White under this light: the open cloth's light over its albedo, a mean over the pair.
    white = (glow / w["cloth"].clamp(min=1e-3)).reshape(pairs, -1).mean(1).clamp(min=1e-3)
    white = white.repeat_interleave(light.shape[0] // pairs)[:, None].expand(-1, 3)
    return patch(develop(light, white, s), s)


def make(d, pairs, digits, pictured=picture):
    """A batch of 2 * pairs layouts: patch, number, valid, usual, each one row a crop."""
    w = draw(d, pairs)
    n = w["number"].shape[0]
    noise = d.normal((n, 1, GRID, GRID))
    return {
        "patch": pictured(w, settings(d, n), digits, noise, pairs),
        "number": w["number"],
        "valid": w["valid"],
        "usual": w["usual"],
    }
