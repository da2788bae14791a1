"""From linear light to what a stored frame shows, and from there to the network's patch.

Blur of lens and focus, sampling to a frame's pixels at the ball's true size there (radius 8.5 to
24 px), white balance, exposure, tone, clipping, noise, sharpening, block compression (8 x 8 DCT,
chroma halved: ITU-T T.81), 8 bits; then the patch the program cuts: PATCH x PATCH with the ball's
outline at radius EDGE, off by a little, as a finder is.
"""

import math

import torch
import torch.nn.functional as F

from shade import GRID, REACH
from world import SLOTS

FRAME = 80
PATCH = 32
# The outline's radius in the patch: a margin of a quarter of the radius around it.
EDGE = PATCH / 2 / 1.25

_Q_LUMA = torch.tensor(
    [
        [16, 11, 10, 16, 24, 40, 51, 61],
        [12, 12, 14, 19, 26, 58, 60, 55],
        [14, 13, 16, 24, 40, 57, 69, 56],
        [14, 17, 22, 29, 51, 87, 80, 62],
        [18, 22, 37, 56, 68, 109, 103, 77],
        [24, 35, 55, 64, 81, 104, 113, 92],
        [49, 64, 78, 87, 103, 121, 120, 101],
        [72, 92, 95, 98, 112, 100, 103, 99],
    ],
    dtype=torch.float32,
)
_Q_CHROMA = torch.full((8, 8), 99.0)
_Q_CHROMA[:4, :4] = torch.tensor(
    [[17, 18, 24, 47], [18, 21, 26, 66], [24, 26, 56, 99], [47, 66, 99, 99]], dtype=torch.float32
)


def _dct_matrix():
    k, i = torch.meshgrid(torch.arange(8.0), torch.arange(8.0), indexing="ij")
    m = torch.cos((2 * i + 1) * k * math.pi / 16) / 2
    m[0] /= math.sqrt(2)
    return m


def _squeeze(plane, table, strength):
    """8 x 8 blocks of [N, H, W] quantised with a table scaled by `strength` [N]."""
    n, h, w = plane.shape
    m = _dct_matrix().to(plane.device)
    b = plane.reshape(n, h // 8, 8, w // 8, 8).permute(0, 1, 3, 2, 4)
    c = m @ b @ m.T
    step = (table.to(plane.device) * strength[:, None, None]).clamp(min=1.0)[:, None, None] / 255.0
    c = torch.round(c / step) * step
    b = m.T @ c @ m
    return b.permute(0, 1, 3, 2, 4).reshape(n, h, w)


def compress(rgb, strength):
    """Block compression of [N, 3, H, W] in 0..1."""
    r, g, b = rgb.unbind(1)
    y = 0.299 * r + 0.587 * g + 0.114 * b
    cb, cr = 0.564 * (b - y), 0.713 * (r - y)
    y = _squeeze(y - 0.5, _Q_LUMA, strength) + 0.5
    chroma = F.avg_pool2d(torch.stack([cb, cr], 1), 2)
    cb, cr = (_squeeze(chroma[:, i], _Q_CHROMA, strength) for i in (0, 1))
    chroma = F.interpolate(
        torch.stack([cb, cr], 1), scale_factor=2, mode="bilinear", align_corners=False
    )
    cb, cr = chroma.unbind(1)
    return torch.stack([y + 1.403 * cr, y - 0.344 * cb - 0.714 * cr, y + 1.773 * cb], 1)


def blur(img, sigma):
    """Gaussian blur of [N, C, H, W], one sigma (in its pixels) a row of [N]."""
    reach = 12
    tap = torch.arange(-reach, reach + 1, device=img.device, dtype=img.dtype)
    k = torch.exp(-0.5 * (tap[None] / sigma[:, None].clamp(min=0.05)) ** 2)
    k = k / k.sum(1, keepdim=True)
    h, w = img.shape[-2:]
    for dim in (2, 3):
        pad = (0, 0, reach, reach) if dim == 2 else (reach, reach, 0, 0)
        padded = F.pad(img, pad, mode="replicate")
        size = h if dim == 2 else w
        out = 0
        for i in range(2 * reach + 1):
            out = out + padded.narrow(dim, i, size) * k[:, i, None, None, None]
        img = out
    return img


def _cut(img, centre, matrix, size, parts):
    """Samples img [N, C, H, W] bilinearly at centre + matrix * (grid in -1..1), mean of parts².

    `centre` [N, 2] and `matrix` [N, 2, 2] are in the picture's continuous pixels.
    """
    h, w = img.shape[-2:]
    fine = size * parts
    axis = (torch.arange(fine, device=img.device) + 0.5) / fine * 2 - 1
    gy, gx = torch.meshgrid(axis, axis, indexing="ij")
    at = torch.einsum("nij,hwj->nhwi", matrix, torch.stack([gx, gy], -1)) + centre[:, None, None]
    at = at / torch.tensor([w, h], device=img.device) * 2 - 1
    out = F.grid_sample(img, at, mode="bilinear", padding_mode="border", align_corners=False)
    return F.avg_pool2d(out, parts) if parts > 1 else out


def _eye(n, scale, device):
    m = torch.zeros(n, 2, 2, device=device)
    m[:, 0, 0], m[:, 1, 1] = scale, scale
    return m


def _per_layout(d, n, low, high):
    """One draw for each pair of layouts, repeated for its crops [n]."""
    rows = n // (2 * SLOTS)
    return d.uniform((rows,), low, high).repeat_interleave(2 * SLOTS)


def settings(d, n):
    """All draws of the sensor for n crops; what belongs to the camera is one to a pair of layouts."""
    camera = lambda low, high: _per_layout(d, n, low, high)
    radius = (8.5 + 15.5 * camera(0, 1) ** 1.5) * d.uniform((n,), 0.88, 1.12)
    soft_px = (0.25 + 1.3 * camera(0, 1) ** 1.5) * d.uniform((n,), 0.8, 1.25)
    log = math.log
    gains = torch.stack(
        [camera(-0.28, 0.28).exp(), camera(-0.05, 0.05).exp(), camera(-0.32, 0.32).exp()], 1
    )
    scale = 1.25 * radius * torch.exp(d.normal((n,)) * 0.02)
    off = (d.normal((n, 2)) * 0.028).clamp(-0.09, 0.09) * radius[:, None]
    skew = d.normal((n, 2, 2)) * 0.015 * scale[:, None, None]
    return {
        "radius": radius,
        "soft_px": soft_px,
        "centre": FRAME / 2 + d.uniform((n, 2), -4, 4),
        # White under the lamps comes out at 0.35 to 1.5 in linear light.
        "level": camera(log(0.35), log(1.5)).exp(),
        "gains": 1 + (gains - 1) * camera(0, 1)[:, None],
        "veil": 0.06 * camera(0, 1) ** 3,
        "saturation": camera(0.7, 1.3),
        "rolled": camera(0, 1) < 0.5,
        "bend": camera(-0.3, 0.3).exp(),
        "curve": camera(-0.1, 0.5),
        "noise": 0.035 * camera(0, 1) ** 2,
        "smeared": camera(0, 1) < 0.4,
        "sharp": camera(-1.2, 1.0).clamp(min=0),
        "squeeze": camera(log(0.03), log(1.6)).exp(),
        "grain": d.normal((n, 3, FRAME, FRAME)),
        "off": off,
        "matrix": _eye(n, scale, d.device) + skew,
        "shrinks": (2 * scale / PATCH) > 1.0,
    }


def _wide(values):
    return values[:, None, None, None]


def develop(light, white, s):
    """Linear light [N, 3, GRID, GRID] to a frame's cut [N, 3, FRAME, FRAME] in 8-bit steps."""
    n, dev = light.shape[0], light.device
    per_px = GRID / (2 * REACH) / s["radius"]
    light = blur(light.clamp(max=40.0), (s["soft_px"] * per_px).clamp(max=5.5))
    # Frame pixel (x, y) lies at ((x - centre) / radius) ball radii.
    mid = (FRAME / 2 - s["centre"]) * per_px[:, None] + GRID / 2
    frame = _cut(light, mid, _eye(n, FRAME / 2 * per_px, dev), FRAME, 3)
    level = s["level"][:, None] * s["gains"]
    frame = frame / white[:, :, None, None] * level[:, :, None, None] + _wide(s["veil"])
    grey = frame.mean(1, keepdim=True)
    frame = (grey + (frame - grey) * _wide(s["saturation"])).clamp(min=0)
    # Tone: on some a soft shoulder, then sRGB with a bent mid and a curve.
    rolled = torch.where(frame > 0.6, 0.6 + 0.4 * torch.tanh((frame - 0.6) / 0.6), frame)
    frame = torch.where(_wide(s["rolled"]), rolled, frame).clamp(0, 1)
    bent = 1.055 * frame.clamp(min=1e-6) ** (1 / 2.4) - 0.055
    frame = torch.where(frame <= 0.0031308, frame * 12.92, bent).clamp(1e-6, 1) ** _wide(s["bend"])
    frame = frame + _wide(s["curve"]) * (frame * frame * (3 - 2 * frame) - frame)
    grain = s["grain"] * _wide(s["noise"])
    grain = torch.where(_wide(s["smeared"]), F.avg_pool2d(grain, 3, 1, 1) * 2.0, grain)
    frame = frame + grain
    around = F.avg_pool2d(F.pad(frame, (1, 1, 1, 1), mode="replicate"), 3, 1)
    frame = (frame + _wide(s["sharp"]) * (frame - around)).clamp(0, 1)
    frame = compress(frame, s["squeeze"])
    return torch.round(frame.clamp(0, 1) * 255) / 255


def patch(frame, s):
    """The network's input [N, 3, PATCH, PATCH], cut with a finder's small errors."""
    at = s["centre"] + s["off"]
    one, two = (_cut(frame, at, s["matrix"], PATCH, parts) for parts in (1, 2))
    return torch.where(_wide(s["shrinks"]), two, one)
