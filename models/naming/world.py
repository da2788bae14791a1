"""What a made layout is: ball set, lamps, camera, cloth and where the balls lie.

`draw` gives random parameters for `pairs` pairs of layouts; both layouts of a pair share ball
set, lamps, camera and cloth and differ in places and turns, so that they serve as support and
query when looks are learned. Everything is a tensor on one device, one row a crop: N = pairs *
2 * SLOTS. Lengths: table and lamps in mm, a crop's own scene in ball radii. Ranges are choices
of ours that aim to be wider than what a hall shows; no picture was fitted.
"""

import math

import torch

SLOTS = 16
LAMPS = 6
NEAR = 6
NO_BALL = 16
RADIUS_MM = 28.575

# Hue (degrees), saturation, value of the trade's usual colours: low and high of each, sRGB.
PAINT = {
    1: ((45, 58), (0.72, 1.0), (0.80, 0.99)),
    2: ((208, 240), (0.62, 0.97), (0.33, 0.80)),
    3: ((-9, 8), (0.72, 0.97), (0.68, 0.95)),
    4: ((258, 293), (0.42, 0.85), (0.26, 0.62)),
    5: ((16, 34), (0.78, 1.0), (0.83, 0.99)),
    6: ((128, 168), (0.55, 0.97), (0.25, 0.64)),
    7: ((-22, 14), (0.50, 0.88), (0.28, 0.56)),
}
PINK = ((318, 346), (0.35, 0.62), (0.82, 0.96))
TAN = ((22, 38), (0.40, 0.65), (0.50, 0.76))


class Draw:
    """Uniform and yes/no draws of one shape on one device."""

    def __init__(self, device, seed):
        self.device = device
        self.rng = torch.Generator(device=device).manual_seed(seed)

    def uniform(self, shape, low=0.0, high=1.0):
        return low + (high - low) * torch.rand(shape, device=self.device, generator=self.rng)

    def normal(self, shape):
        return torch.randn(shape, device=self.device, generator=self.rng)

    def chance(self, shape, p):
        return torch.rand(shape, device=self.device, generator=self.rng) < p

    def pick(self, shape, n):
        return torch.randint(0, n, shape, device=self.device, generator=self.rng)


def linear(srgb):
    """sRGB to linear light."""
    return torch.where(srgb <= 0.04045, srgb / 12.92, ((srgb.clamp(min=0) + 0.055) / 1.055) ** 2.4)


def from_hsv(h_deg, s, v):
    """Hue in degrees, saturation and value to sRGB, last axis the channels."""
    k = torch.stack([(h_deg / 60.0 + n) % 6.0 for n in (5.0, 3.0, 1.0)], -1)
    f = torch.minimum(k, 4.0 - k).clamp(0, 1)
    return v[..., None] * (1.0 - s[..., None] * f)


def _paint(d, n, spread):
    (h0, h1), (s0, s1), (v0, v1) = spread
    return from_hsv(d.uniform((n,), h0, h1), d.uniform((n,), s0, s1), d.uniform((n,), v0, v1))


def _ball_sets(d, n):
    """Linear paints [n, 16, 3] and whether the set is in the usual colours [n]."""
    paint = torch.zeros(n, 16, 3, device=d.device)
    pink, tan = d.chance((n, 1), 0.07), d.chance((n, 1), 0.10)
    for number, spread in PAINT.items():
        paint[:, number] = _paint(d, n, spread)
    # Maroon is darker than the red of the same set.
    top = paint[:, 3].amax(-1, keepdim=True) * d.uniform((n, 1), 0.45, 0.74)
    paint[:, 7] *= (top / paint[:, 7].amax(-1, keepdim=True)).clamp(max=1.0)
    paint[:, 4] = torch.where(pink, _paint(d, n, PINK), paint[:, 4])
    paint[:, 7] = torch.where(tan, _paint(d, n, TAN), paint[:, 7])
    usual = ~d.chance((n,), 0.2)
    odd = from_hsv(d.uniform((n, 7), 0, 360), d.uniform((n, 7), 0.2, 1), d.uniform((n, 7), 0.15, 1))
    paint[:, 1:8] = torch.where(usual[:, None, None], paint[:, 1:8], odd)
    paint[:, 9:] = paint[:, 1:8] * d.uniform((n, 7, 1), 0.92, 1.08)
    paint[:, 8] = d.uniform((n, 1), 0.02, 0.15) * d.uniform((n, 3), 0.85, 1.15)
    return linear(paint.clamp(0, 1)), usual


def _lamps(d, n):
    """Lamps of five kinds of lighting: a dict of [n, LAMPS, ...] in the table frame (mm)."""
    dev = d.device
    kind = torch.multinomial(
        torch.tensor([0.34, 0.22, 0.14, 0.14, 0.16], device=dev), n, True, generator=d.rng
    )[:, None]
    i = torch.arange(LAMPS, device=dev)[None, :].expand(n, LAMPS)
    across = torch.zeros(n, LAMPS, 3, device=dev)

    count = torch.where(kind == 0, 1 + d.pick((n, 1), 3), 2 + d.pick((n, 1), 3))
    mid = (count - 1) / 2.0
    height = d.uniform((n, 1), 650, 1500)
    bar_at = torch.stack(
        [
            1270 + d.uniform((n, 1), -250, 250).expand(n, LAMPS),
            635 + d.uniform((n, 1), -200, 200) + (i - mid) * d.uniform((n, 1), 120, 420),
            height.expand(n, LAMPS),
        ],
        -1,
    )
    bar_a = d.uniform((n, 1), 500, 1400).expand(n, LAMPS)
    bar_b = d.uniform((n, 1), 15, 160).expand(n, LAMPS)

    row_at = torch.stack(
        [
            1270 + (i - mid) * d.uniform((n, 1), 500, 900),
            635 + d.uniform((n, 1), -150, 150).expand(n, LAMPS),
            height.expand(n, LAMPS),
        ],
        -1,
    )
    row_a = d.uniform((n, 1), 50, 260).expand(n, LAMPS)

    any_at = torch.stack(
        [
            d.uniform((n, LAMPS), -1500, 4000),
            d.uniform((n, LAMPS), -1500, 2800),
            d.uniform((n, 1), 1800, 3200).expand(n, LAMPS),
        ],
        -1,
    )
    point_a = d.uniform((n, 1), 25, 90).expand(n, LAMPS)
    panel_a, panel_b = d.uniform((n, LAMPS), 200, 900), d.uniform((n, LAMPS), 100, 500)

    side = d.uniform((n, 1), 0, 2 * math.pi) + (i - 0.5) * d.uniform((n, 1), 0.3, 0.9)
    away = d.uniform((n, 1), 2200, 4500)
    window_at = torch.stack(
        [
            1270 + away * side.cos(),
            635 + away * side.sin(),
            d.uniform((n, 1), 900, 2200).expand(n, LAMPS),
        ],
        -1,
    )
    window_a = d.uniform((n, LAMPS), 300, 1000)
    window_b = d.uniform((n, LAMPS), 400, 900)

    def choose(bar, row, point, panel, window):
        k = kind if bar.dim() == 2 else kind[..., None]
        out = torch.where(k == 0, bar, torch.where(k == 1, row, point))
        return torch.where(k == 3, panel, torch.where(k == 4, window, out))

    at = choose(bar_at, row_at, any_at, any_at, window_at)
    half_a = choose(bar_a, row_a, point_a, panel_a, window_a)
    half_b = choose(bar_b, row_a, point_a, panel_b, window_b)
    turn = choose(*[torch.where(d.chance((n, 1), 0.85), 0.0, math.pi / 2).expand(n, LAMPS)] * 5)
    flat = torch.stack([turn.cos(), turn.sin(), torch.zeros_like(turn)], -1)
    flat_b = torch.stack([-turn.sin(), turn.cos(), torch.zeros_like(turn)], -1)
    wall = torch.stack([-side.sin(), side.cos(), torch.zeros_like(side)], -1)
    up = across.clone()
    up[..., 2] = 1.0
    is_window = (kind == 4)[..., None]
    n_lit = torch.where(
        kind == 4, 1 + d.pick((n, 1), 2), torch.where(kind >= 2, 2 + d.pick((n, 1), 5), count)
    )
    warm = d.uniform((n, 1, 1), -0.25, 0.25) + d.uniform((n, LAMPS, 1), -0.06, 0.06)
    colour = torch.cat([1 + warm, torch.ones_like(warm), 1 - warm], -1)
    round_ = torch.where((kind == 1) | ((kind == 2) & d.chance((n, 1), 0.7)), 2.0, 8.0)
    return {
        "at": at,
        "a": half_a,
        "b": half_b,
        "axis_a": torch.where(is_window, wall, flat),
        "axis_b": torch.where(is_window, up, flat_b),
        "glow": colour * (i < n_lit)[..., None] * d.uniform((n, LAMPS, 1), 0.6, 1.0),
        "power": round_.expand(n, LAMPS),
    }


def _cloth(d, n):
    """Linear cloth colours [n, 3]: mostly the trade's, some of any hue."""
    hue = torch.tensor([150.0, 205.0, 222.0, 355.0, 35.0, 275.0, 165.0, 192.0], device=d.device)
    h = hue[d.pick((n,), 8)] + d.uniform((n,), -14, 14)
    h = torch.where(d.chance((n,), 0.15), d.uniform((n,), 0, 360), h)
    s, v = d.uniform((n,), 0.3, 0.92), d.uniform((n,), 0.22, 0.78)
    s = torch.where(d.chance((n,), 0.12), s * 0.2, s)
    return linear(from_hsv(h % 360, s, v))


def turns(d, n):
    """Random unit quaternions [n, 4]."""
    q = d.normal((n, 4))
    return q / q.norm(dim=-1, keepdim=True)


def rotate(q, v):
    """Turns vectors v (..., 3) by quaternions q (..., 4), scalar first."""
    w, x, y, z = q.unbind(-1)
    a, b, c = v.unbind(-1)
    tx, ty, tz = 2 * (y * c - z * b), 2 * (z * a - x * c), 2 * (x * b - y * a)
    return torch.stack(
        [a + w * tx + y * tz - z * ty, b + w * ty + z * tx - x * tz, c + w * tz + x * ty - y * tx],
        -1,
    )


def _pole_on(d, n, share):
    """Turns of which `share` have the ball's z axis (a stripe's pole) near the viewer."""
    q = turns(d, n)
    tilt = d.normal((n, 2)) * 0.22
    near = torch.stack(
        [torch.ones(n, device=d.device), tilt[:, 0], tilt[:, 1], torch.zeros(n, device=d.device)],
        -1,
    )
    near = near / near.norm(dim=-1, keepdim=True)
    spin = d.uniform((n,), 0, math.pi)
    # near * spin about z, as a quaternion product
    c, s = spin.cos(), spin.sin()
    w, x, y = near[:, 0], near[:, 1], near[:, 2]
    pole = torch.stack([w * c, x * c + y * s, y * c - x * s, w * s], -1)
    return torch.where(d.chance((n, 1), share), pole, q)


def _numbers(d, layouts):
    """Which ball each slot shows [layouts, SLOTS] and whether the slot is used."""
    dev = d.device
    order = torch.rand(layouts, 15, device=dev, generator=d.rng).argsort(-1) + 1
    cue = torch.where(d.chance((layouts, 1), 0.94), 0, NO_BALL)
    numbers = torch.cat([cue, order], 1)
    sizes = torch.tensor(
        [2, 2, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 16, 16], device=dev
    )
    used = sizes[d.pick((layouts, 1), len(sizes))]
    slot = torch.arange(SLOTS, device=dev)[None, :]
    extra = d.pick((layouts, 1), 4) * d.chance((layouts, 1), 0.6)
    numbers = torch.where(slot < used, numbers, NO_BALL)
    # A few slots of a full layout become things that are no ball.
    numbers = torch.where(d.chance((layouts, SLOTS), 0.05) & (slot > 1), NO_BALL, numbers)
    valid = slot < (used + extra)
    return numbers, valid


def draw(d, pairs):
    """All parameters of 2 * pairs layouts; crops in rows, N = 2 * pairs * SLOTS."""
    layouts, n = 2 * pairs, 2 * pairs * SLOTS

    def both(t):
        return t.repeat_interleave(2, 0)

    def each(t):
        return t.repeat_interleave(SLOTS, 0)

    paint, usual = _ball_sets(d, pairs)
    numbers, valid = _numbers(d, layouts)
    number = numbers.reshape(n)
    out = {"number": number, "valid": valid.reshape(n), "usual": each(both(usual))}
    _camera(d, pairs, out, both, each)
    lamps = {k: each(both(v)) for k, v in _lamps(d, pairs).items()}
    _light(d, pairs, out, lamps, both, each)
    out["cloth"] = each(both(_cloth(d, pairs)))
    out["rail"] = each(
        both(
            linear(
                from_hsv(
                    d.uniform((pairs,), 0, 40),
                    d.uniform((pairs,), 0, 0.8),
                    d.uniform((pairs,), 0.08, 0.8),
                )
            )
        )
    )
    white = from_hsv(
        d.uniform((pairs,), 30, 60), d.uniform((pairs,), 0, 0.14), d.uniform((pairs,), 0.86, 0.98)
    )
    out["white"] = each(both(linear(white)))
    ivory = from_hsv(
        d.uniform((pairs,), 35, 58),
        d.uniform((pairs,), 0, 1) ** 2 * 0.25,
        d.uniform((pairs,), 0.84, 0.98),
    )
    out["cue_white"] = each(both(linear(ivory)))
    spots = 1 + d.pick((pairs, 1), 6)
    spots = torch.where(d.chance((pairs, 1), 0.5), 0, spots)
    out["spots"] = each(both(spots * 1.0))[:, 0]
    out["spot_size"] = each(both(d.uniform((pairs, 1), 0.05, 0.17)))[:, 0]
    out["spot_paint"] = each(
        both(
            linear(
                from_hsv(
                    d.uniform((pairs,), -10, 10),
                    d.uniform((pairs,), 0.3, 0.95),
                    d.uniform((pairs,), 0.1, 0.85),
                )
            )
        )
    )
    _spheres(d, n, out, paint, both, each, pairs)
    _beside(d, n, out)
    return out


def _camera(d, pairs, out, both, each):
    """Camera over the table and balls on it: `view` [N, 3, 3], rows right, up, to the viewer."""
    n = out["number"].shape[0]
    oblique = d.chance((pairs, 1), 0.3)
    at = torch.cat(
        [
            d.uniform((pairs, 1), 700, 1850),
            d.uniform((pairs, 1), 200, 1100),
            d.uniform((pairs, 1), 1500, 3600),
        ],
        1,
    )
    side = torch.where(d.chance((pairs, 1), 0.5), -1.0, 1.0)
    out_y = 635 + side * d.uniform((pairs, 1), 700, 2200)
    at[:, 1:2] = torch.where(oblique, out_y, at[:, 1:2])
    at[:, 2:3] = torch.where(oblique, at[:, 2:3] * 0.85, at[:, 2:3])
    ball = torch.stack(
        [
            d.uniform((n,), 30, 2510),
            d.uniform((n,), 30, 1240),
            torch.full((n,), RADIUS_MM, device=d.device),
        ],
        -1,
    )
    to = each(both(at)) - ball
    view = to / to.norm(dim=-1, keepdim=True)
    roll = each(
        both(
            torch.where(
                d.chance((pairs, 1), 0.75),
                d.pick((pairs, 1), 4) * (math.pi / 2),
                d.uniform((pairs, 1), 0, 6.2832),
            )
            + d.normal((pairs, 1)) * 0.08
        )
    )
    right = torch.cat([roll.cos(), roll.sin(), torch.zeros_like(roll)], -1)
    ex = right - view * (view * right).sum(-1, keepdim=True)
    ex = ex / ex.norm(dim=-1, keepdim=True)
    ey = torch.linalg.cross(view, ex)
    out["view"] = torch.stack([ex, ey, view], 1)
    out["ball_mm"] = ball


def _light(d, pairs, out, lamps, both, each):
    """Lamps as each ball meets them, in its view frame; exposure so that white comes out right."""
    to = lamps["at"] - out["ball_mm"][:, None]
    view = out["view"]

    def seen(v):
        return torch.einsum("nij,nlj->nli", view, v)

    normal = torch.linalg.cross(lamps["axis_a"], lamps["axis_b"])
    dist = to.norm(dim=-1)
    w = to / dist[..., None]
    emit = (w * normal).sum(-1).abs()
    area = 4 * lamps["a"] * lamps["b"]
    out["lamp_to"] = seen(to)
    out["lamp_dir"] = seen(w)
    out["lamp_a"], out["lamp_b"] = seen(lamps["axis_a"]), seen(lamps["axis_b"])
    out["lamp_n"] = seen(normal)
    out["half_a"], out["half_b"], out["power"] = lamps["a"], lamps["b"], lamps["power"]
    out["lamp_dist"] = dist
    # Scaled so that the table's middle gets irradiance about pi from the lamps (white near 1).
    mid = lamps["at"] - torch.tensor([1270.0, 635.0, 0.0], device=d.device)
    mid_d = mid.norm(dim=-1)
    mid_e = (
        area * ((mid / mid_d[..., None]) * normal).sum(-1).abs() * (mid[..., 2] / mid_d) / mid_d**2
    )
    total = (mid_e * lamps["glow"].mean(-1)).sum(-1).clamp(min=1e-6)
    share = each(both(d.uniform((pairs, 1), 0.05, 0.75) ** 1.5))
    scale = (1 - share[:, 0]) * math.pi / total
    glow = lamps["glow"] * scale[:, None, None]
    out["glow"] = glow
    out["irradiance"] = glow * (area * emit / dist**2)[..., None]
    tint = each(both(1 + d.uniform((pairs, 3), -0.15, 0.15)))
    out["ambient"] = share * tint
    out["rough"] = each(both(d.uniform((pairs, 1), 0.004, 0.05)))[:, 0]
    out["fresnel"] = each(both(d.uniform((pairs, 1), 0.025, 0.06)))[:, 0]


def _spheres(d, n, out, paint, both, each, pairs):
    """Seven balls a crop, the first the crop's own: turn, paint, band, disc and number."""
    dev = d.device
    number = out["number"]
    others = d.pick((n, NEAR), 16)
    # A neighbour is another ball of the set.
    others = torch.where(others == number[:, None], (others + 1) % 16, others)
    balls = torch.cat([number.clamp(max=15)[:, None], others], 1)
    some = number == NO_BALL
    balls[:, 0] = torch.where(some, d.pick((n,), 16), balls[:, 0])
    count = n * (1 + NEAR)
    out["turn"] = _pole_on(d, count, 0.10).reshape(n, 1 + NEAR, 4)
    each_paint = each(both(paint))
    out["paint"] = torch.gather(each_paint, 1, balls[..., None].expand(-1, -1, 3))
    band = each(
        both(
            torch.where(
                d.chance((pairs, 1), 0.5),
                d.uniform((pairs, 1), 0.72, 0.9),
                d.uniform((pairs, 1), 0.42, 0.8),
            )
        )
    )
    disc = each(both(d.uniform((pairs, 1), 0.22, 0.44)))
    out["ring"] = each(both(d.uniform((pairs, 1), 0.0, 0.25) * d.chance((pairs, 1), 0.3)))[:, 0]
    out["disc"] = disc[:, 0]
    out["band"] = torch.where(balls > 8, band, torch.where(balls == 0, -1.0, 2.0))
    out["is_cue"] = (balls == 0).float()
    out["mark"] = balls
    out["style"] = each(both(d.pick((pairs, 1), 12)))[:, 0]
    spots = d.normal((n, 6, 3))
    out["spot_at"] = spots / spots.norm(dim=-1, keepdim=True)
    # Places: neighbours lie on the cloth around, some frozen, as a rack or at random.
    rack = d.chance((n, 1), 0.35)
    step = torch.arange(NEAR, device=dev)[None] * (math.pi / 3)
    angle = torch.where(rack, step + d.uniform((n, 1), 0, 6.2832), d.uniform((n, NEAR), 0, 6.2832))
    touch = d.chance((n, NEAR), 0.6)
    apart = torch.where(touch, 2.0 + 0.02 * d.uniform((n, NEAR)), d.uniform((n, NEAR), 2.0, 3.2))
    keep = torch.where(rack, 0.75, 0.18 * d.chance((n, 1), 0.7))
    here = d.chance((n, NEAR), 1.0) & (d.uniform((n, NEAR)) < keep)
    # Without a rack neighbours may overlap: only the first two are kept then.
    here = here & (rack | (torch.arange(NEAR, device=dev)[None] < 2))
    flat = torch.stack([angle.cos() * apart, angle.sin() * apart, torch.zeros_like(apart)], -1)
    centre = torch.einsum("nij,nkj->nki", out["view"], flat)
    first = torch.zeros(n, 1, 3, device=dev)
    size = torch.ones(n, 1, device=dev)
    out["thing"] = torch.where(some, d.pick((n,), 10), -1)
    # Kinds of no ball made of a ball: beside the middle (0, 1), of a wrong size (2).
    beside = some & (out["thing"] <= 1)
    a, r = d.uniform((n,), 0, 6.2832), d.uniform((n,), 0.55, 2.0)
    off = torch.stack([a.cos() * r, a.sin() * r, torch.zeros_like(r)], -1)
    off = torch.einsum("nij,nj->ni", out["view"], off)
    first[:, 0] = torch.where(beside[:, None], off, first[:, 0])
    small = some & (out["thing"] == 2)
    size[:, 0] = torch.where(small, d.uniform((n,), 0.3, 0.6), size[:, 0])
    gone = some & (out["thing"] > 2)
    first[:, 0, 0] = torch.where(gone, 50.0, first[:, 0, 0])
    keep_near = here & ~(beside[:, None] & (apart < 3))
    centre[..., 0] = torch.where(keep_near, centre[..., 0], 60.0)
    out["centre"] = torch.cat([first, centre], 1)
    out["size"] = torch.cat([size, torch.ones(n, NEAR, device=dev)], 1)


def _beside(d, n, out):
    """Cushion, pocket and flat things near the crop's middle, in the table frame (radii)."""
    some = out["number"] == NO_BALL
    thing = out["thing"]
    view = out["view"]

    def seen(a):
        flat = torch.stack([a.cos(), a.sin(), torch.zeros_like(a)], -1)
        return torch.einsum("nij,nj->ni", view, flat)

    edge = d.uniform((n,), 0, 6.2832)
    out["edge_dir"] = seen(edge)
    at = torch.where(d.chance((n,), 0.6), 0.97 + 0.02 * d.uniform((n,)), d.uniform((n,), 0.97, 2.2))
    at = torch.where(d.chance((n,), 0.80), 40.0, at)
    near = some & (thing == 3)
    at = torch.where(near, d.uniform((n,), -2.6, 1.0), at)
    sight = some & (thing == 4)
    at = torch.where(sight, d.uniform((n,), -3.8, -3.0), at)
    out["edge_at"] = at
    out["cushion_gain"] = d.uniform((n,), 0.55, 1.35)
    hole = d.uniform((n,), 0, 6.2832)
    away = d.uniform((n,), 2.3, 3.3)
    away = torch.where(d.chance((n,), 0.88), 40.0, away)
    rim = some & (thing == 5)
    away = torch.where(rim, d.uniform((n,), 0.0, 3.0), away)
    out["hole_at"] = seen(hole) * away[:, None]
    out["hole_size"] = d.uniform((n,), 1.8, 2.4)
    out["hole_dark"] = d.uniform((n,), 0.0, 0.05)
    # A flat thing: disc (spot, chalk mark, sight, coin), strip (cue, finger) or square (chalk).
    flat = some & ((thing == 4) | (thing >= 6)) | (~some & d.chance((n,), 0.05))
    shape = torch.where(sight, 0, d.pick((n,), 3))
    out["flat"] = flat.float()
    out["flat_shape"] = shape
    out["flat_dir"] = d.uniform((n,), 0, 6.2832)
    wide = torch.where(shape == 0, d.uniform((n,), 0.06, 1.15), d.uniform((n,), 0.15, 0.9))
    out["flat_size"] = torch.where(sight, d.uniform((n,), 0.1, 0.3), wide)
    spread = torch.where(some, 0.35, 0.9)
    out["flat_at"] = d.normal((n, 2)) * spread[:, None]
    out["flat_at"] = torch.where(
        some[:, None], out["flat_at"], out["flat_at"] + 1.2 * torch.sign(out["flat_at"])
    )
    h, s, v = d.uniform((n,), 0, 360), d.uniform((n,)) ** 1.5, d.uniform((n,), 0.1, 1.0)
    skin = d.chance((n,), 0.4)
    h, s, v = (
        torch.where(skin, d.uniform((n,), 10, 40), h),
        torch.where(skin, d.uniform((n,), 0.15, 0.6), s),
        torch.where(skin, d.uniform((n,), 0.3, 0.95), v),
    )
    pale = d.chance((n,), 0.3)
    out["flat_paint"] = linear(
        from_hsv(h, torch.where(pale, s * 0.15, s), torch.where(pale, 0.8 + 0.2 * v, v))
    )
    out["flat_round"] = d.uniform((n,), 0.0, 1.0)
    out["flat_high"] = torch.where(shape == 1, d.uniform((n,), -0.9, 2.0), -0.99)
    out["grain"] = d.uniform((n,), 0.0, 0.12)
