"""Ray casting of made crops: one ball seen along its axis, what stands beside it, its light.

Input: the parameters of `world.draw`; output: linear light [N, 3, GRID, GRID] over a square of
half side REACH ball radii. The view is orthographic (a ball is small against its distance).
Balls: diffuse paint under gloss (Schlick, "An inexpensive BRDF model", 1994), lamps as bright
rectangles or ellipses met by the mirrored ray exactly, diffuse light of a lamp from its middle
only. Shadows on the cloth: soft from the closest approach of the ray to the lamp's middle, plus
the share of the sky that a ball hides. Not modelled: balls mirrored in balls, shadows on balls.
"""

import math

import torch

from world import LAMPS, NEAR, rotate

GRID = 80
REACH = 1.55


def _dot(a, b):
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _split(v):
    """A vector a row [N, 3] as three [N, 1, 1]."""
    return tuple(v[:, i, None, None] for i in range(3))


def _step(x):
    x = x.clamp(0, 1)
    return x * x * (3 - 2 * x)


def _rgb(scalar, colour):
    """A picture [N, S, S] times a colour [N, 3]."""
    return scalar[:, None] * colour[:, :, None, None]


def _sky_hidden(p, n, w, u, v):
    """Share of the sky over a point p with normal n that the balls hide."""
    hidden = torch.zeros_like(u)
    for j in range(1 + NEAR):
        c = w["centre"][:, j]
        m = tuple(c[:, i, None, None] - p[i] for i in range(3))
        d2 = _dot(m, m).clamp(min=1.0)
        facing = (_dot(m, n) / d2.sqrt()).clamp(0, 1)
        size2 = (w["size"][:, j] ** 2)[:, None, None]
        hidden = hidden + facing * size2 / d2
    return hidden.clamp(0, 0.95)


def _lit_cloth(p, w, u, v):
    """Irradiance on the cloth (rgb) at its points p, with shadows."""
    up = _split(w["view"][:, :, 2])
    total = torch.zeros(u.shape[0], 3, *u.shape[1:], device=u.device)
    for k in range(LAMPS):
        to = _split(w["lamp_dir"][:, k])
        soft = (torch.maximum(w["half_a"], w["half_b"])[:, k] / w["lamp_dist"][:, k])[:, None, None]
        light = torch.ones_like(u)
        balls = 1 + NEAR if k < 2 else 1
        for j in range(balls):
            c = w["centre"][:, j]
            m = tuple(c[:, i, None, None] - p[i] for i in range(3))
            along = _dot(m, to)
            miss = (_dot(m, m) - along * along).clamp(min=0).sqrt() / w["size"][:, j, None, None]
            blur = 0.04 + soft * along.clamp(min=0)
            shade = (1 - _step((miss - 1 + blur) / (2 * blur))) * (along > 0.0)
            # A lamp much wider than the ball is never wholly hidden.
            light = light * (1 - shade * (1.0 / (0.2 + blur)).clamp(max=1.0))
        facing = _dot(to, up).clamp(min=0)
        total = total + _rgb(light * facing, w["irradiance"][:, k])
    sky = 1 - _sky_hidden(p, up, w, u, v)
    return total + _rgb(sky, w["ambient"]) * math.pi


def _paint_of(hit, normal, w, digits):
    """Albedo [N, 3, S, S] of the balls met: `hit` the index of the ball, `normal` in view."""
    n, s = hit.shape[0], hit.shape[-1]
    flat = hit.reshape(n, -1)

    def take(values):
        return torch.gather(values, 1, flat)

    quats = torch.stack([take(w["turn"][:, :, i]) for i in range(4)], -1)
    local = rotate(quats, torch.stack(normal, -1).reshape(n, -1, 3))
    x, y, z = local.unbind(-1)
    band, cue = take(w["band"]), take(w["is_cue"])
    in_band = torch.sigmoid((band - z.abs()) * 60.0)
    paint = torch.stack([take(w["paint"][:, :, i]) for i in range(3)], 1)
    white = w["white"][:, :, None]
    out = white + (paint - white) * in_band[:, None]
    # The number's disc on both sides, its ring and its digits.
    disc = w["disc"][:, None]
    lie = (y * y + z * z).sqrt()
    inside = torch.sigmoid((disc - lie) * 60.0) * (1 - cue)
    ring = torch.sigmoid((disc * (1 - w["ring"][:, None]) - lie) * 60.0)
    ring = torch.where(w["ring"][:, None] > 0.01, ring, torch.ones_like(ring))
    side = torch.sign(x)
    size = digits.shape[-1]
    col = ((y * side / disc * 0.5 + 0.5) * size).long().clamp(0, size - 1)
    row = ((0.5 - z / disc * 0.5) * size).long().clamp(0, size - 1)
    mark = take(w["mark"])
    ink = digits[w["style"][:, None].expand_as(col), mark, row, col] * inside
    face = white * (0.12 + 0.88 * ring[:, None])
    out = out + (face - out) * inside[:, None]
    out = out * (1 - 0.95 * ink[:, None])
    # The cue ball: its own white and its spots.
    cue_white = w["cue_white"][:, :, None]
    spot = torch.zeros_like(x)
    for k in range(6):
        at = w["spot_at"][:, k]
        near = x * at[:, 0:1] + y * at[:, 1:2] + z * at[:, 2:3]
        away = (2 - 2 * near).clamp(min=1e-8).sqrt()
        on = (w["spots"] > k + 0.5).float()[:, None]
        spot = torch.maximum(spot, torch.sigmoid((w["spot_size"][:, None] - away) * 60.0) * on)
    cue_paint = cue_white + (w["spot_paint"][:, :, None] - cue_white) * spot[:, None]
    out = out + (cue_paint - out) * cue[:, None]
    return out.reshape(n, 3, s, s)


def _mirrored(normal, w, cloth_glow, u):
    """Light that the gloss mirrors (rgb), Fresnel factor included."""
    nz = normal[2].clamp(0, 1)
    mirror = (2 * nz * normal[0], 2 * nz * normal[1], 2 * nz * normal[2] - 1)
    f0 = w["fresnel"][:, None, None]
    fresnel = f0 + (1 - f0) * (1 - nz) ** 5
    up = _split(w["view"][:, :, 2])
    rise = _dot(mirror, up)
    # Toward the horizon the room is darker or brighter than its ceiling; below lies the cloth.
    room = _rgb(_step(rise * 6 + 0.5), w["ambient"])
    cloth = cloth_glow * (1 - _step(rise * 6 + 0.5))[:, None]
    out = room + cloth
    for k in range(LAMPS):
        normal_k = _split(w["lamp_n"][:, k])
        to = _split(w["lamp_to"][:, k])
        facing = _dot(mirror, normal_k)
        facing = torch.where(facing.abs() < 1e-4, torch.full_like(facing, 1e-4), facing)
        reach = _dot(to, normal_k) / facing
        hit = tuple(mirror[i] * reach - to[i] for i in range(3))
        a = (
            (_dot(hit, _split(w["lamp_a"][:, k])) / w["half_a"][:, k, None, None])
            .abs()
            .clamp(max=50)
        )
        b = (
            (_dot(hit, _split(w["lamp_b"][:, k])) / w["half_b"][:, k, None, None])
            .abs()
            .clamp(max=50)
        )
        power = w["power"][:, k, None, None]
        edge = ((a + 1e-4) ** power + (b + 1e-4) ** power) ** (1.0 / power)
        small = torch.minimum(w["half_a"], w["half_b"])[:, k]
        soft = (w["rough"] * w["lamp_dist"][:, k] / small)[:, None, None]
        # A rough gloss spreads a small lamp over a larger, dimmer spot.
        dim = 1.0 / (1.0 + soft * soft)
        inside = torch.sigmoid((1 - edge) * 3.0 / (0.15 + soft)) * (reach > 0)
        out = out + _rgb(inside * dim, w["glow"][:, k])
    return out * fresnel[:, None]


def _flat_thing(w, u, v, up):
    """Opacity, light and height of the flat thing beside or under the middle."""
    a = w["flat_dir"][:, None, None]
    du, dv = u - w["flat_at"][:, 0, None, None], v - w["flat_at"][:, 1, None, None]
    x, y = du * a.cos() + dv * a.sin(), dv * a.cos() - du * a.sin()
    size = w["flat_size"][:, None, None]
    shape = w["flat_shape"][:, None, None]
    disc = (x * x + y * y).sqrt() / size
    strip = torch.where(x > -0.2, y.abs() / size, ((x + 0.2) ** 2 + y * y).sqrt() / size)
    square = torch.maximum(x.abs(), y.abs()) / size
    q = torch.where(shape == 0, disc, torch.where(shape == 1, strip, square))
    inside = torch.sigmoid((1 - q) * size * 40) * w["flat"][:, None, None]
    across = torch.where(
        shape == 1, (1 - (y / size) ** 2).clamp(min=0.05).sqrt(), torch.ones_like(y)
    )
    dark_mid = torch.where((shape == 2) & (disc < 0.6), 0.5, 1.0)
    fall = w["flat_round"][:, None, None]
    return inside, (1 - fall + fall * across) * dark_mid


def shade(w, digits, noise):
    """Linear light of every crop; `noise` [N, 1, GRID, GRID] is the cloth's grain, about N(0,1)."""
    n = w["number"].shape[0]
    dev = w["view"].device
    axis = (torch.arange(GRID, device=dev) + 0.5) / GRID * 2 - 1
    u = (axis[None, None, :] * REACH).expand(n, GRID, GRID)
    v = (-axis[None, :, None] * REACH).expand(n, GRID, GRID)
    up = _split(w["view"][:, :, 2])
    high = -1e3 * torch.ones_like(u)
    hit = torch.zeros(n, GRID, GRID, dtype=torch.long, device=dev)
    for j in range(1 + NEAR):
        cx, cy, cz = _split(w["centre"][:, j])
        size = w["size"][:, j, None, None]
        d2 = size * size - (u - cx) ** 2 - (v - cy) ** 2
        z = torch.where(d2 > 0, cz + d2.clamp(min=1e-12).sqrt(), torch.full_like(u, -1e3))
        hit = torch.where(z > high, j, hit)
        high = torch.maximum(high, z)
    at = torch.gather(w["centre"], 1, hit.reshape(n, -1, 1).expand(-1, -1, 3)).reshape(
        n, GRID, GRID, 3
    )
    size = torch.gather(w["size"], 1, hit.reshape(n, -1)).reshape(n, GRID, GRID)
    nx, ny = (u - at[..., 0]) / size, (v - at[..., 1]) / size
    on_ball = high > -500
    nz = (1 - nx * nx - ny * ny).clamp(min=0).sqrt()
    norm = (nx * nx + ny * ny + nz * nz).clamp(min=1e-8).sqrt()
    normal = (nx / norm, ny / norm, nz / norm)

    ground = (-1.0 - u * up[0] - v * up[1]) / up[2].clamp(min=0.2)
    p = (u, v, ground)
    lit = _lit_cloth(p, w, u, v)
    cloth = (
        lit * w["cloth"][:, :, None, None] / math.pi * (1 + w["grain"][:, None, None, None] * noise)
    )
    open_glow = (
        w["cloth"]
        * (
            torch.einsum(
                "nlc,nl->nc",
                w["irradiance"],
                (w["lamp_dir"] * w["view"][:, :, 2][:, None]).sum(-1).clamp(min=0),
            )
            + w["ambient"] * math.pi
        )
        / math.pi
    )

    back = cloth
    back_high = ground
    # Cushion: the part past the nose line, seen at the nose's height; then the rail.
    top = (0.27 - u * up[0] - v * up[1]) / up[2].clamp(min=0.2)
    edge = _split(w["edge_dir"])
    past = _dot((u, v, top), edge) - w["edge_at"][:, None, None]
    under = _dot((u, v, ground), edge) - w["edge_at"][:, None, None]
    back = back * (1 - 0.75 * _step(under * 1.5 + 1.0))[:, None]
    gain = w["cushion_gain"][:, None, None, None]
    cushion = open_glow[:, :, None, None] * gain * (0.8 + 0.4 * _step(past)[:, None])
    rail = _rgb(torch.ones_like(u), w["rail"] * 0.9)
    cushion = torch.where((past > 1.8)[:, None], rail, cushion)
    mask = torch.sigmoid(past * 50)[:, None]
    back = back + (cushion - back) * mask
    back_high = torch.where(past > 0, top, back_high)
    # Pocket.
    hole = w["hole_at"]
    plane = torch.where(past > 0, top, ground)
    q = tuple(x - h for x, h in zip((u, v, plane), _split(hole)))
    level = _dot(q, up)
    away = (_dot(q, q) - level * level).clamp(min=0).sqrt()
    dark = torch.sigmoid((w["hole_size"][:, None, None] - away) * 25)[:, None]
    back = back + (w["hole_dark"][:, None, None, None] - back) * dark
    # Flat thing.
    inside, level = _flat_thing(w, u, v, up)
    thing = (
        w["flat_paint"][:, :, None, None]
        * (open_glow / w["cloth"].clamp(min=0.01))[:, :, None, None]
        * level[:, None]
    )
    back = back + (thing - back) * inside[:, None]
    thing_high = torch.where(
        inside > 0.5, w["flat_high"][:, None, None].expand_as(u), torch.full_like(u, -1e3)
    )
    back_high = torch.maximum(back_high, thing_high)

    albedo = _paint_of(hit, normal, w, digits)
    point = (u, v, high.clamp(min=-3))
    hidden = _sky_hidden(point, normal, w, u, v)
    # The ball's own sphere is in that sum: a surface point sees it edge on, which adds nothing.
    rise = _dot(normal, up)
    light = torch.zeros(n, 3, GRID, GRID, device=dev)
    for k in range(LAMPS):
        facing = _dot(_split(w["lamp_dir"][:, k]), normal)
        wide = (torch.maximum(w["half_a"], w["half_b"])[:, k] / w["lamp_dist"][:, k]).clamp(
            max=0.6
        )[:, None, None] * 0.5
        light = light + _rgb(((facing + wide) / (1 + wide)).clamp(min=0), w["irradiance"][:, k])
    sky = (1 - hidden) * (0.5 + 0.5 * rise)
    light = light + _rgb(sky * math.pi, w["ambient"])
    bounce = (0.5 - 0.5 * rise) * math.pi * 0.7
    light = light + _rgb(bounce, open_glow)
    ball = albedo * light / math.pi
    ball = ball + _mirrored(normal, w, open_glow[:, :, None, None] * 0.8, u)
    front = on_ball & (high >= back_high)
    return torch.where(front[:, None], ball, back), open_glow
