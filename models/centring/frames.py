"""From made scenes to what the network gets: a tile of a frame, then the crop the program cuts.

The tile lies on the frame's 16-pixel grid, so that block compression (8 x 8, chroma halved:
ITU-T T.81) falls on it as on a frame. The crop: the outline of a ball at the PROPOSED centre, as
the camera sees it, is fitted by an affine map of the unit circle; its symmetric root times the
patch's scale takes patch places to the picture, so that the outline becomes a circle of radius
`EDGE` and the patch keeps the picture's up and right. The target is where the true outline's
middle lies in that patch, in outline radii.
"""

import math

import torch
import torch.nn.functional as F

import rays
import scene
from sensor import blur, compress

PATCH = 40
EDGE = 11.0
# Proposals are off by up to this, in radii; beyond it a crop counts as empty.
JITTER = 0.42
NEAR = 0.15
SUPER = 2


def project(w, points):
    """Table points [N, K, 3] to pixels about the optical axis [N, K, 2]."""
    p = torch.einsum("nij,nkj->nki", w["turn"], points - w["eye"][:, None])
    return p[..., :2] / p[..., 2:] * w["focal"][:, None, None]


def outline(w, at):
    """Middle [N, 2] and affine map [N, 2, 2] from the unit circle of a ball's outline.

    `at` [N, 2]: the ball's place on the cloth.
    """
    c = torch.cat([at, torch.ones_like(at[:, :1])], -1)
    v = c - w["eye"]
    d2 = v.square().sum(-1, keepdim=True)
    middle = c - v / d2
    size = (1 - 1 / d2).sqrt()
    sight = v / d2.sqrt()
    x = torch.zeros_like(v)
    x[:, 0] = 1.0
    a = torch.linalg.cross(sight, x)
    a = a / a.norm(dim=-1, keepdim=True)
    b = torch.linalg.cross(sight, a)
    t = torch.arange(32, device=v.device) / 32 * 2 * math.pi
    ring = t.cos()[None, :, None] * a[:, None] + t.sin()[None, :, None] * b[:, None]
    px = project(w, middle[:, None] + size[:, None] * ring)
    mean = px.mean(1)
    circle = torch.stack([t.cos(), t.sin()], -1)
    return mean, torch.einsum("nki,kj->nij", px - mean[:, None], circle) * (2 / 32)


def root(a):
    """The symmetric root of a aᵀ [N, 2, 2], in closed form."""
    m = a @ a.transpose(1, 2)
    s = (m[:, 0, 0] * m[:, 1, 1] - m[:, 0, 1] ** 2).clamp(min=1e-12).sqrt()
    t = (m[:, 0, 0] + m[:, 1, 1] + 2 * s).sqrt()
    return (m + s[:, None, None] * torch.eye(2, device=a.device)) / t[:, None, None]


def _srgb(x):
    return torch.where(x <= 0.0031308, x * 12.92, 1.055 * x.clamp(min=1e-6) ** (1 / 2.4) - 0.055)


def develop(light, w, d):
    """Linear light at SUPER times the tile's pixels to 8-bit tiles in 0..1."""
    n = light.shape[0]
    one = (n, 1, 1, 1)
    soft = 0.15 + 1.35 * d.uniform((n,)) ** 1.6
    light = F.avg_pool2d(light, SUPER)
    light = blur(light, soft)
    level = torch.exp(d.uniform(one, math.log(0.35), math.log(1.7)))
    gain = torch.exp(d.uniform((n, 3, 1, 1), -0.2, 0.2) * d.uniform(one))
    veil = 0.05 * d.uniform(one) ** 3
    x = light * level * gain + veil
    grey = x.mean(1, keepdim=True)
    x = (grey + (x - grey) * d.uniform(one, 0.7, 1.3)).clamp(min=0)
    rolled = torch.where(x > 0.6, 0.6 + 0.4 * torch.tanh((x - 0.6) / 0.6), x)
    x = torch.where(d.chance(one, 0.5), rolled, x)
    x = _srgb(x.clamp(0, 1)).clamp(0, 1) ** torch.exp(d.uniform(one, -0.3, 0.3))
    x = x + d.uniform(one, -0.1, 0.5) * (x * x * (3 - 2 * x) - x)
    grain = d.normal(x.shape) * 0.035 * d.uniform(one) ** 2
    smooth = F.avg_pool2d(grain, 3, 1, 1) * 2.0
    x = x + torch.where(d.chance(one, 0.4), smooth, grain)
    wide = F.avg_pool2d(F.pad(x, (1, 1, 1, 1), mode="replicate"), 3, 1)
    x = (x + d.uniform(one, -1.2, 1.0).clamp(min=0) * (x - wide)).clamp(0, 1)
    packed = compress(x, torch.exp(d.uniform((n,), math.log(0.03), math.log(1.5))))
    x = torch.where(d.chance(one, 0.9), packed, x)
    return torch.round(x.clamp(0, 1) * 255) / 255


def cut(tile, middle, matrix):
    """The patch [N, 3, PATCH, PATCH]: bilinear samples, means of 2 x 2 where it shrinks.

    `matrix` [N, 2, 2] takes radii in the patch to the tile's pixels about `middle` [N, 2].
    """
    h, w = tile.shape[-2:]
    scale = torch.linalg.matrix_norm(matrix, 2) / EDGE

    def take(parts):
        axis = ((torch.arange(PATCH * parts, device=tile.device) + 0.5) / parts - PATCH / 2) / EDGE
        gy, gx = torch.meshgrid(axis, axis, indexing="ij")
        at = torch.einsum("nij,hwj->nhwi", matrix, torch.stack([gx, gy], -1)) + middle[:, None, None]
        at = at / torch.tensor([w, h], device=tile.device) * 2 - 1
        out = F.grid_sample(tile, at, mode="bilinear", padding_mode="border", align_corners=False)
        return F.avg_pool2d(out, parts) if parts > 1 else out

    return torch.where((scale > 1.0)[:, None, None, None], take(2), take(1))


def _proposals(d, n, w):
    """Where the finder says the ball is [N, 2], in the table's radii about the true place."""
    part = d.uniform((n,))
    reach = torch.where(part < 0.62, NEAR, JITTER)
    off = reach * d.uniform((n,)).sqrt()
    off = torch.where(part > 0.91, d.uniform((n,), 0.5, 2.0), off)
    turn = d.uniform((n,), 0, 2 * math.pi)
    return torch.stack([off * turn.cos(), off * turn.sin()], -1)


def make(d, n, digits, radius_px):
    """A batch: patch, target [n, 2] in radii, ball (within reach), known (counts for the logit)."""
    w = scene.draw(d, n, radius_px)
    dev = d.device
    side = int(math.ceil(2 * 2.15 * radius_px[1] * 1.12 / 16) * 16)
    proposed = _proposals(d, n, w)
    true, _ = outline(w, torch.zeros(n, 2, device=dev))
    start, shape = outline(w, proposed)
    # The tile: on the frame's grid, about midway between proposal and ball.
    corner = torch.floor(start - side / 2 + d.uniform((n, 2), -3, 3))
    axis = (torch.arange(side * SUPER, device=dev) + 0.5) / SUPER
    gy, gx = torch.meshgrid(axis, axis, indexing="ij")
    px = torch.stack([gx, gy], -1).reshape(1, -1, 2) + corner[:, None]
    ray = torch.cat([px / w["focal"][:, None, None], torch.ones_like(px[..., :1])], -1)
    ray = torch.einsum("nij,nki->nkj", w["turn"], ray)
    ray = ray / ray.norm(dim=-1, keepdim=True)
    fine = side * SUPER
    grain = blur(d.normal((n, 1, fine, fine)), d.uniform((n,), 0.6, 3.0)) * 4.0
    light = rays.shade(w, ray, grain.reshape(n, -1), digits)
    tile = develop(light.reshape(n, fine, fine, 3).permute(0, 3, 1, 2), w, d)
    # A camera known a little wrong: the outline's map is off by some per cent.
    matrix = root(shape)
    matrix = matrix * torch.exp(0.015 * d.normal((n, 1, 1)))
    matrix = matrix + 0.012 * matrix.mean((1, 2), keepdim=True) * d.normal((n, 2, 2))
    patch = cut(tile, start - corner, matrix)
    target = torch.linalg.solve(matrix, (true - start)[..., None])[..., 0]
    off = target.norm(dim=-1)
    ball = w["has_ball"] & (off < 0.47)
    known = ~(w["has_ball"] & (off > 0.43) & (off < 0.55))
    return {"patch": patch, "target": target, "ball": ball, "known": known}
