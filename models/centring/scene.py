"""What a made crop shows: one ball or none, what stands beside it, lamps, cloth and camera.

`draw` gives a dict of tensors, one row a crop. Lengths are in ball radii; the table frame has z up,
the cloth at z = 0 and the crop's own ball at (0, 0, 1). Ranges are choices of ours that aim to be
wider than what a hall shows; no picture was fitted. Ball sets' colours come from `naming`.
"""

import math
import os
import sys

import torch

sys.path.append(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "naming"))

from world import PAINT, from_hsv, linear, turns  # noqa: E402

RADIUS_MM = 28.575
# Points of light a crop, spheres a crop (its own first), cushions, specks.
LIGHTS = 12
SPHERES = 9
CUSHIONS = 2
SPECKS = 3
NOSE = 0.635 * 2.0
# A ball's centre stays this far from the nose line it touches.
TOUCHING = math.sqrt(1.0 - (NOSE - 1.0) ** 2)
FAR = 90.0


def _mm(d, n, low, high):
    return d.uniform(n, low / RADIUS_MM, high / RADIUS_MM)


def _pick(d, n, shares):
    p = torch.tensor(shares, device=d.device)
    return torch.multinomial(p, n, True, generator=d.rng)


def draw(d, n, radius_px):
    """Parameters of n crops whose balls have about the radius `radius_px` (low, high)."""
    out = {"has_ball": ~d.chance((n,), 0.08)}
    _camera(d, n, out, radius_px)
    _lights(d, n, out)
    _surfaces(d, n, out)
    _spheres(d, n, out)
    _furniture(d, n, out)
    return out


def _camera(d, n, out, radius_px):
    """`eye` [n, 3], `turn` [n, 3, 3] (rows right, down, forward), `focal` [n] in pixels."""
    kind = _pick(d, n, [0.62, 0.38])
    height = _mm(d, (n,), 1400, 3600)
    away = torch.where(kind == 0, 0.62 * d.uniform((n,)) ** 0.7, 0.25 + 0.95 * d.uniform((n,))) * height
    side = d.uniform((n,), 0, 2 * math.pi)
    eye = torch.stack([away * side.cos(), away * side.sin(), height + 1.0], -1)
    # The optical axis meets the cloth somewhere on the table, not at this ball.
    look = d.uniform((n,), 0, 2 * math.pi)
    by = _mm(d, (n,), 0, 1250)
    aim = torch.stack([by * look.cos(), by * look.sin(), torch.zeros(n, device=d.device)], -1)
    forward = aim - eye
    forward = forward / forward.norm(dim=-1, keepdim=True)
    roll = torch.where(
        d.chance((n,), 0.6),
        d.pick((n,), 4) * (math.pi / 2) + 0.08 * d.normal((n,)) + side,
        d.uniform((n,), 0, 2 * math.pi),
    )
    hint = torch.stack([roll.cos(), roll.sin(), torch.zeros_like(roll)], -1)
    right = torch.linalg.cross(forward, hint)
    right = right / right.norm(dim=-1, keepdim=True)
    down = torch.linalg.cross(forward, right)
    out["eye"] = eye
    out["turn"] = torch.stack([right, down, forward], 1)
    depth = (torch.tensor([0.0, 0.0, 1.0], device=d.device) - eye).mul(forward).sum(-1)
    out["focal"] = d.uniform((n,), *radius_px) * depth


def _lights(d, n, out):
    """Points of light: place, half width of the disc each stands for, and glow (rgb).

    Kinds: bars along the table, a row of shades, lamps in the room's ceiling, panels, a window.
    """
    dev = d.device
    kind = _pick(d, n, [0.36, 0.24, 0.14, 0.10, 0.16])[:, None]
    i = torch.arange(LIGHTS, device=dev)[None, :].expand(n, LIGHTS)
    yaw = d.uniform((n, 1), 0, math.pi)
    # The table's middle as this ball sees it.
    mid_along, mid_across = _mm(d, (n, 1), -1150, 1150), _mm(d, (n, 1), -550, 550)
    height = _mm(d, (n, 1), 600, 1600)
    zero = torch.zeros(n, LIGHTS, device=dev)

    bars = 1 + d.pick((n, 1), 3)
    segment = LIGHTS // bars
    which, part = i // segment, i % segment
    half = _mm(d, (n, 1), 450, 1300)
    bar = (
        mid_along + half * ((part + 0.5) / segment * 2 - 1),
        mid_across + (which - (bars - 1) / 2) * _mm(d, (n, 1), 120, 420),
        height + zero,
    )
    bar_soft = 0.6 * half / segment + _mm(d, (n, 1), 10, 100) + zero

    shades = 2 + d.pick((n, 1), 3)
    per = LIGHTS // shades
    s = i // per
    spread = _mm(d, (n, 1), 40, 230)
    turn = (i % per) * (2 * math.pi / per)
    row = (
        mid_along + (s - (shades - 1) / 2) * _mm(d, (n, 1), 420, 900) + 0.55 * spread * turn.cos(),
        mid_across + 0.55 * spread * turn.sin(),
        height + zero,
    )
    row_soft = 0.55 * spread + zero

    room = (_mm(d, (n, LIGHTS), -2500, 2500), _mm(d, (n, LIGHTS), -2000, 2000), _mm(d, (n, 1), 1700, 3000) + zero)
    room_soft = _mm(d, (n, 1), 30, 160) + zero
    panel_soft = _mm(d, (n, LIGHTS), 160, 420)

    away = _mm(d, (n, 1), 1800, 4500)
    window = (
        _mm(d, (n, 1), -900, 900) + _mm(d, (n, 1), 300, 1000) * ((i % 4) / 3.0 * 2 - 1),
        away + zero,
        _mm(d, (n, 1), 900, 2200) + _mm(d, (n, 1), 300, 800) * ((i // 4) / 2.0 * 2 - 1),
    )
    window_soft = _mm(d, (n, 1), 170, 400) + zero

    def choose(*of):
        out = of[0]
        for k, v in enumerate(of[1:], 1):
            out = torch.where(kind == k, v, out)
        return out

    x, y, z = (choose(bar[c], row[c], room[c], room[c], window[c]) for c in range(3))
    soft = choose(bar_soft, row_soft, room_soft, panel_soft, window_soft)
    lit = choose(i < bars * segment, i < shades * per, i < 1 + d.pick((n, 1), 6), i < 1 + d.pick((n, 1), 4), i < 12)
    at = torch.stack([x * yaw.cos() - y * yaw.sin(), x * yaw.sin() + y * yaw.cos(), z.clamp(min=12)], -1)
    dist = at.norm(dim=-1)
    strength = d.uniform((n, LIGHTS), 0.75, 1.0) * torch.where((kind == 0) | (kind == 1), torch.ones_like(zero), d.uniform((n, LIGHTS), 0.3, 1.0))
    warm = d.uniform((n, 1, 1), -0.25, 0.25) + torch.where(kind[..., None] >= 2, d.uniform((n, LIGHTS, 1), -0.08, 0.08), 0.0)
    tint = torch.cat([1 + warm, torch.ones_like(warm), 1 - warm], -1)
    # Irradiance that each point gives a small plane facing it, the open cloth's sum being one.
    level = strength * lit / dist**2 * (at[..., 2] / dist)
    cosine = at[..., 2] / dist
    share = d.uniform((n, 1), 0.03, 0.8) ** 1.4
    scale = (1 - share) / (level * cosine).sum(-1, keepdim=True)
    out["light_at"], out["light_soft"] = at, soft
    out["light"] = (level * scale)[..., None] * tint
    # The lamp's face is this bright in a mirror.
    out["face"] = out["light"] / (math.pi * (soft / dist) ** 2)[..., None].clamp(min=1e-4) * math.pi
    out["sky"] = share * (1 + d.uniform((n, 3), -0.15, 0.15))


def _paints(d, n, count):
    """Linear paints and kinds of balls [n, count]: 0 the cue ball, 1..8 full, 9..15 striped."""
    number = d.pick((n, count), 16)
    paint = torch.zeros(n, count, 3, device=d.device)
    for colour, (h, s, v) in PAINT.items():
        this = from_hsv(d.uniform((n, count), *h), d.uniform((n, count), *s), d.uniform((n, count), *v))
        on = (number == colour) | (number == colour + 8)
        paint = torch.where(on[..., None], this, paint)
    odd = from_hsv(d.uniform((n, count), 0, 360), d.uniform((n, count)), d.uniform((n, count), 0.08, 1.0))
    paint = torch.where(d.chance((n, count), 0.2)[..., None], odd, paint)
    black = d.uniform((n, count, 1), 0.02, 0.15) * d.uniform((n, count, 3), 0.85, 1.15)
    paint = torch.where((number == 8)[..., None], black, paint)
    return linear(paint.clamp(0, 1)), number


def _surfaces(d, n, out):
    """Cloth and the balls' paint; some balls have nearly the cloth's own colour."""
    hue = torch.tensor([150.0, 205.0, 222.0, 355.0, 35.0, 275.0, 165.0, 192.0], device=d.device)
    h = hue[d.pick((n,), 8)] + d.uniform((n,), -14, 14)
    h = torch.where(d.chance((n,), 0.15), d.uniform((n,), 0, 360), h)
    s, v = d.uniform((n,), 0.3, 0.92), d.uniform((n,), 0.2, 0.8)
    s = torch.where(d.chance((n,), 0.15), s * 0.2, s)
    cloth = linear(from_hsv(h % 360, s, v))
    out["cloth"] = cloth
    paint, number = _paints(d, n, SPHERES)
    near = d.chance((n,), 0.14)
    like = (cloth * torch.exp(0.35 * d.normal((n, 1))) * torch.exp(0.12 * d.normal((n, 3)))).clamp(0, 1)
    paint[:, 0] = torch.where(near[:, None], like, paint[:, 0])
    out["paint"], out["number"] = paint, number
    white = from_hsv(d.uniform((n,), 30, 60), d.uniform((n,)) ** 2 * 0.25, d.uniform((n,), 0.84, 0.98))
    out["white"] = linear(white)
    out["band"] = torch.where(d.chance((n,), 0.3), d.uniform((n,), 0.72, 0.9), d.uniform((n,), 0.42, 0.8))
    out["disc"] = torch.where(d.chance((n,), 0.06), 0.0, d.uniform((n,), 0.22, 0.44))
    out["spots"] = torch.where(d.chance((n,), 0.5), 0, 1 + d.pick((n,), 6))
    spots = d.normal((n, 6, 3))
    out["spot_at"] = spots / spots.norm(dim=-1, keepdim=True)
    out["spot_size"] = d.uniform((n,), 0.06, 0.17)
    out["spot_paint"] = linear(from_hsv(d.uniform((n,), -10, 10), d.uniform((n,), 0.3, 0.95), d.uniform((n,), 0.1, 0.85)))
    out["orient"] = turns(d, n * SPHERES).reshape(n, SPHERES, 4)
    out["style"] = d.pick((n,), 12)
    out["fresnel"] = d.uniform((n,), 0.025, 0.06)
    out["rough"] = d.uniform((n,), 0.005, 0.08)
    out["grain"] = d.uniform((n,), 0.0, 0.05) * d.uniform((n,))
    for k, spread in (("speck_at", 1.3), ("speck_size", None)):
        out[k] = d.normal((n, SPECKS, 2)) * spread if spread else torch.exp(d.uniform((n, SPECKS), math.log(0.04), math.log(0.6)))
    shown = d.chance((n, SPECKS), 0.14)
    out["speck_at"] = torch.where(shown[..., None], out["speck_at"], torch.full_like(out["speck_at"], 50.0))
    dark = d.chance((n, SPECKS), 0.35)
    out["speck_paint"] = torch.where(dark[..., None], d.uniform((n, SPECKS, 3), 0.0, 0.06), d.uniform((n, SPECKS, 1), 0.25, 0.9) * d.uniform((n, SPECKS, 3), 0.8, 1.0))


def _spheres(d, n, out):
    """Centres [n, SPHERES, 3]: the crop's ball first, then neighbours, as in a rack or loose."""
    dev = d.device
    k = torch.arange(SPHERES - 1, device=dev)[None]
    rack = d.chance((n, 1), 0.3)
    loose_angle = d.uniform((n, SPHERES - 1), 0, 2 * math.pi)
    touch = d.chance((n, SPHERES - 1), 0.5)
    loose_apart = torch.where(touch, 2.0 + 0.03 * d.uniform((n, SPHERES - 1)), d.uniform((n, SPHERES - 1), 2.0, 4.6))
    turn = d.uniform((n, 1), 0, 2 * math.pi)
    ring_apart = torch.where(k < 6, torch.full_like(loose_apart, 2.0), torch.full_like(loose_apart, 2.0 * math.sqrt(3.0)))
    ring_angle = turn + torch.where(k < 6, k * (math.pi / 3), (k - 6) * (math.pi / 3) + math.pi / 6)
    slack = 1.0 + 0.012 * d.uniform((n, 1)) * d.uniform((n, SPHERES - 1))
    angle = torch.where(rack, ring_angle, loose_angle)
    apart = torch.where(rack, ring_apart * slack, loose_apart)
    count = torch.where(rack, 9, _pick(d, n, [0.45, 0.25, 0.16, 0.09, 0.05])[:, None])
    keep = torch.where(rack, d.chance((n, SPHERES - 1), 0.72), k < count)
    centre = torch.stack([angle.cos() * apart, angle.sin() * apart, torch.ones_like(apart)], -1)
    own = torch.zeros(n, 1, 3, device=dev)
    own[..., 2] = 1.0
    own[:, 0, 0] = torch.where(out["has_ball"], 0.0, 60.0)
    kept = [own]
    for j in range(SPHERES - 1):
        c = centre[:, j : j + 1]
        clear = (torch.cat(kept, 1) - c).norm(dim=-1).amin(1) >= 1.995
        # Where there is no ball none may come near the middle either.
        ok = keep[:, j] & clear
        away = torch.tensor([[[60.0 + 5 * j, 60.0, 1.0]]], device=dev)
        kept.append(torch.where(ok[:, None, None], c, away))
    out["centre"] = torch.cat(kept, 1)


def _furniture(d, n, out):
    """Cushions (half planes with an end) and a pocket.

    A cushion fills past > 0, past = p . dir - at, as far as its end along the rail.
    """
    dev = d.device
    c = out["centre"][..., :2]
    yaw = d.uniform((n,), 0, 2 * math.pi)
    lean = torch.where(d.chance((n,), 0.5), math.pi / 2, -math.pi / 2)
    angles = torch.stack([yaw, yaw + lean], 1)
    dirs = torch.stack([angles.cos(), angles.sin()], -1)
    first = d.chance((n,), 0.24)
    second = first & d.chance((n,), 0.25)
    shown = torch.stack([first, second], 1)
    near = d.chance((n, CUSHIONS), 0.5)
    at = torch.where(near, TOUCHING + 0.05 * d.uniform((n, CUSHIONS)) ** 2, d.uniform((n, CUSHIONS), TOUCHING, 3.6))
    # Neighbours behind the nose push the cushion back.
    beyond = torch.einsum("nkc,nsc->nks", dirs, c)
    is_near = (c.norm(dim=-1) < 10)[:, None, :]
    need = torch.where(is_near, beyond + TOUCHING, torch.full_like(beyond, -50.0)).amax(-1)
    at = torch.maximum(at, need)
    out["cushion_at"] = torch.where(shown, at, torch.full_like(at, 200.0))
    # Without a ball the nose may run anywhere.
    free = ~out["has_ball"][:, None] & shown
    out["cushion_at"] = torch.where(free, d.uniform((n, CUSHIONS), -3.0, 2.0), out["cushion_at"])
    out["cushion_dir"] = dirs
    out["cushion_rise"] = d.uniform((n, CUSHIONS), 0.0, 0.25)
    out["cushion_back"] = d.uniform((n, CUSHIONS), 0.15, 0.6)
    out["cushion_gain"] = d.uniform((n, 1), 0.8, 1.2).expand(n, CUSHIONS)
    out["rail_from"] = d.uniform((n, CUSHIONS), 1.5, 2.2)
    out["rail"] = linear(from_hsv(d.uniform((n,), 0, 40), d.uniform((n,), 0, 0.8), d.uniform((n,), 0.08, 0.8)))
    # A pocket: the cushion ends there, cut at a slant.
    pocket = d.chance((n,), 0.09)
    along = torch.stack([-dirs[:, 0, 1], dirs[:, 0, 0]], -1)
    hole = d.uniform((n,), 1.95, 2.25)
    at0 = torch.where(pocket & out["has_ball"], d.uniform((n,), TOUCHING, 2.5), out["cushion_at"][:, 0])
    at0 = torch.maximum(at0, torch.where(pocket, need[:, 0], torch.full_like(at0, -50)))
    out["cushion_at"][:, 0] = at0
    deep = at0 + d.uniform((n,), 0.2, 1.7)
    reach = ((hole + d.uniform((n,), 0.02, 2.0)) ** 2 - deep**2).clamp(min=0.0).sqrt()
    slide = torch.where(d.chance((n,), 0.3), reach * d.uniform((n,), -1, 1), reach)
    clear = (deep**2 + slide**2).sqrt() > hole * 0.98
    slide = torch.where(clear, slide, (hole**2 - deep**2).clamp(min=0).sqrt() + 0.05)
    place = dirs[:, 0] * deep[:, None] + along * slide[:, None]
    out["hole_at"] = torch.where(pocket[:, None], place, torch.full_like(place, FAR))
    out["hole_size"] = hole
    out["hole_dark"] = d.uniform((n,), 0.0, 0.03)
    mouth = slide - hole * d.uniform((n,), 0.95, 1.1)
    out["cushion_end"] = torch.stack([torch.where(pocket, mouth, torch.full_like(mouth, 300.0)), torch.full_like(mouth, 300.0)], 1)
    out["cushion_cut"] = d.uniform((n, CUSHIONS), 0.0, 1.0)
