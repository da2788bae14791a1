"""The networks: a crop in, where the ball's middle lies, how sure, and whether there is a ball.

Input: [N, 3, 40, 40] sRGB in 0..1 for `CentreNet`, the same crop at half the size for `SpotNet`,
which is a fifth of the work: it sorts out what is no ball and steps near enough for the other. Output: [N, 6]: dx, dy in outline radii (patch axes, x right, y
down), log of the scale along x, log of the scale of y given x, the pull of x on y, and the logit of
"a ball's middle lies within 0.47 radii". The crop is made even first: mean of each channel off, one
spread for all.
"""

import torch
import torch.nn as nn

LEAST_SPREAD = 0.02


class Regressor(nn.Module):
    """A body that ends in six numbers, on a crop that is made even first."""

    def __init__(self, body):
        super().__init__()
        self.body = body
        # Added to both log scales: found on held-out made crops after training.
        self.register_buffer("log_factor", torch.zeros(6))

    def forward(self, patch):
        even = patch - patch.mean((2, 3), keepdim=True)
        spread = (even * even).mean((1, 2, 3), keepdim=True)
        return self.body(even / torch.sqrt(spread + LEAST_SPREAD**2)) + self.log_factor


class CentreNet(Regressor):
    shrink = 1

    def __init__(self, widths=(16, 24, 32, 48), hidden=72):
        a, b, c, e = widths
        super().__init__(nn.Sequential(
            nn.Conv2d(3, a, 5, 2, 2), nn.ReLU(),
            nn.Conv2d(a, b, 3, 2, 1), nn.ReLU(),
            nn.Conv2d(b, c, 3, 1, 1), nn.ReLU(),
            nn.Conv2d(c, e, 3, 2, 1), nn.ReLU(),
            nn.Flatten(),
            nn.Linear(e * 25, hidden), nn.ReLU(),
            nn.Linear(hidden, 6),
        ))


class SpotNet(Regressor):
    shrink = 2

    def __init__(self, widths=(12, 16, 24), hidden=32):
        a, b, c = widths
        super().__init__(nn.Sequential(
            nn.Conv2d(3, a, 5, 2, 2), nn.ReLU(),
            nn.Conv2d(a, b, 3, 1, 1), nn.ReLU(),
            nn.Conv2d(b, c, 3, 2, 1), nn.ReLU(),
            nn.Flatten(),
            nn.Linear(c * 25, hidden), nn.ReLU(),
            nn.Linear(hidden, 6),
        ))


def whitened(out, target):
    """The error of the middle in units of the scales [N, 2] and the log of the scales' product."""
    e = target - out[:, :2]
    ls, lt = out[:, 2].clamp(-7, 3), out[:, 3].clamp(-7, 3)
    zx = e[:, 0] * torch.exp(-ls)
    zy = e[:, 1] * torch.exp(-lt) - out[:, 4] * zx
    return torch.stack([zx, zy], -1), ls + lt


NU = 4.0


def loss(out, target, ball, known):
    """Student's t of the middle where there is a ball, cross entropy of there being one."""
    z, log_area = whitened(out, target)
    m2 = z.square().sum(-1)
    place = log_area + (NU + 2) / 2 * torch.log1p(m2 / NU)
    place = (place * ball).sum() / ball.sum().clamp(min=1)
    there = nn.functional.binary_cross_entropy_with_logits(out[:, 5], ball.float(), reduction="none")
    there = (there * known).sum() / known.sum().clamp(min=1)
    return place + 0.5 * there, place, there
