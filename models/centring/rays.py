"""Ray casting of made crops: perspective, soft shadows, gloss. Linear light out.

Input: the parameters of `scene.draw` and rays [N, P, 3] from the eye. Balls: diffuse paint under
gloss (Schlick, "An inexpensive BRDF model", 1994) that mirrors lamps, room, cloth and other balls.
Each point of light is a disc, and a ball hides the part of it that two overlapping discs give, so
shadows are soft as the lamp is wide. The sky's part is cut by the solid angle of the balls. Not
modelled: light from ball to ball beyond the mirror, the lamp's own fittings.
"""

import torch

from scene import CUSHIONS, LIGHTS, NOSE, SPECKS
from world import rotate


def _fused(f):
    """One kernel for a small piece of work where there is a device for it."""
    return torch.compile(f, dynamic=True) if torch.cuda.is_available() else f


def _dot(a, b):
    return (a * b).sum(-1)


def _step(x):
    x = x.clamp(0, 1)
    return x * x * (3 - 2 * x)


def _unit(v):
    return v / v.norm(dim=-1, keepdim=True).clamp(min=1e-9)


@_fused
def _first_sphere(centre, eye, rays):
    """Distance to the nearest ball along each ray and which it is; far where none."""
    m = (centre - eye[:, None])[:, None]
    along = (m * rays[:, :, None]).sum(-1)
    d2 = 1.0 - (m - rays[:, :, None] * along[..., None]).square().sum(-1)
    t = torch.where(d2 > 0, along - d2.clamp(min=0).sqrt(), 1e6)
    return t.min(-1)


def _on_cushion(w, k, p):
    """How far past the nose a point is, and whether the cushion reaches there along the rail."""
    along = torch.stack([-w["cushion_dir"][:, k, 1], w["cushion_dir"][:, k, 0]], -1)
    past = torch.einsum("npc,nc->np", p[..., :2], w["cushion_dir"][:, k]) - w["cushion_at"][:, k, None]
    s = torch.einsum("npc,nc->np", p[..., :2], along)
    return past, s < w["cushion_end"][:, k, None] + w["cushion_cut"][:, k, None] * past.clamp(min=0)


def _cushions(w, rays, t_cloth):
    """Nearest cushion surface: distance, its outward normal, and paint (0 cloth, 1 rail)."""
    eye = w["eye"][:, None]
    best = t_cloth
    normal = torch.zeros_like(rays)
    normal[..., 2] = 1.0
    rail = torch.zeros_like(t_cloth)
    hit = torch.zeros_like(t_cloth, dtype=torch.bool)
    for k in range(CUSHIONS):
        out = torch.cat([w["cushion_dir"][:, k], torch.zeros_like(w["cushion_dir"][:, k, :1])], -1)[:, None]
        at = w["cushion_at"][:, k, None]
        # The top rises backward from the nose; the face goes down and back from it.
        for sign, slope in ((1.0, w["cushion_rise"][:, k, None]), (-1.0, w["cushion_back"][:, k, None])):
            # plane: z - NOSE = slope * past (top); past = slope * (NOSE - z) (face)
            if sign > 0:
                n = torch.cat([-slope[..., None] * out[..., :2], torch.ones_like(slope)[..., None]], -1)
                level = _dot(n, eye) - NOSE + slope * at
            else:
                n = torch.cat([-out[..., :2], -slope[..., None]], -1)
                level = _dot(n, eye) + at + slope * NOSE
            n = n.expand_as(rays)
            drop = _dot(n, rays)
            t = -level / torch.where(drop.abs() < 1e-6, torch.full_like(drop, -1e-6), drop)
            p = eye + rays * t[..., None]
            past, there = _on_cushion(w, k, p)
            if sign > 0:
                ok = (past > 0) & there
            else:
                ok = (p[..., 2] < NOSE) & (p[..., 2] > 0) & there
            ok = ok & (t < best) & (t > 0)
            best = torch.where(ok, t, best)
            normal = torch.where(ok[..., None], _unit(n), normal)
            rail = torch.where(ok, (past > w["rail_from"][:, k, None]).float(), rail)
            hit = hit | ok
    return best, normal, rail, hit


def _hidden(separation, size, soft):
    """Part of a disc of angular radius `soft` behind one of radius `size`, centres apart."""
    low, high = (size - soft).abs(), size + soft
    part = 1 - _step((separation - low) / (high - low).clamp(min=1e-4))
    return part * (size / soft.clamp(min=1e-4)).square().clamp(max=1.0)


@_fused
def _reaching(p, normal, own, past, there, centre, cushion_dir, light_at, light_soft):
    """What a point of light gives at points [N, P], as a part of what it gives the open cloth.

    `past`, `there` [N, P, CUSHIONS]; the rest is one row a crop.
    """
    to = light_at[:, None] - p
    dist = to.norm(dim=-1).clamp(min=1.0)
    to = to / dist[..., None]
    soft = light_soft[:, None] / dist
    index = torch.arange(centre.shape[1], device=p.device)
    m = centre[:, None] - p[:, :, None]
    d = m.square().sum(-1).clamp(min=1.0).sqrt()
    size = torch.asin(1.0 / d)
    apart = torch.acos(((m * to[:, :, None]).sum(-1) / d).clamp(-1, 1))
    hidden = _hidden(apart, size, soft[..., None])
    clear = torch.where(index[None, None] != own[..., None], 1 - hidden, 1.0).prod(-1)
    rise = (NOSE - p[..., 2:]).clamp(min=0)
    lead = (to[:, :, None, :2] * cushion_dir[:, None]).sum(-1)
    steep = to[..., 2:].clamp(min=0.05)
    blur = (rise * soft[..., None] / steep).clamp(min=0.02)
    shade = _step((past + rise * lead / steep) / (2 * blur) + 0.5)
    clear = clear * torch.where(there & (rise > 0.01), 1 - shade, 1.0).prod(-1)
    wrap = soft.clamp(max=0.8) * 0.5
    facing = (((to * normal).sum(-1) + wrap) / (1 + wrap)).clamp(min=0)
    return clear * facing * (light_at.square().sum(-1)[:, None] / dist.square())


@_fused
def _ambient(p, normal, own, past, there, centre):
    """Parts of the sky and of the cloth's bounce that points meet [N, P] each."""
    m = centre[:, None] - p[:, :, None]
    d = m.square().sum(-1).clamp(min=1.0).sqrt()
    index = torch.arange(centre.shape[1], device=p.device)
    facing = ((m * normal[:, :, None]).sum(-1) / d).clamp(0, 1)
    cover = torch.where(index[None, None] != own[..., None], facing / d.square(), 0.0)
    cover = cover.sum(-1).clamp(max=0.95)
    rise = 0.5 + 0.5 * normal[..., 2]
    low = ((NOSE - p[..., 2:]) / NOSE).clamp(0, 1)
    near = torch.where(there, 1 - 0.5 * low * torch.exp(past.clamp(max=0) / 0.9), 1.0).prod(-1)
    bounce = (1 - rise) * (1 - 0.7 * cover) * 0.75 * (own >= 0)
    return rise * (1 - cover) * near, bounce


def _light(w, p, normal, own):
    """Irradiance [N, P, 3] at points, shadows included; `own` is the ball a point lies on or -1."""
    cushions = [_on_cushion(w, k, p) for k in range(CUSHIONS)]
    past = torch.stack([c[0] for c in cushions], -1)
    there = torch.stack([c[1] for c in cushions], -1)
    sky, bounce = _ambient(p, normal, own, past, there, w["centre"])
    total = sky[..., None] * w["sky"][:, None] + bounce[..., None] * w["cloth"][:, None]
    for k in range(LIGHTS):
        part = _reaching(
            p, normal, own, past, there, w["centre"], w["cushion_dir"],
            w["light_at"][:, k].contiguous(), w["light_soft"][:, k].contiguous(),
        )
        total = total + part[..., None] * w["light"][:, None, k]
    return total


def _paint(w, which, normal, digits):
    """Albedo [N, P, 3] of the balls met."""
    n, count = which.shape

    def take(v):
        return torch.gather(v, 1, which)

    q = torch.stack([take(w["orient"][..., i]) for i in range(4)], -1)
    x, y, z = rotate(q, normal).unbind(-1)
    number = take(w["number"])
    paint = torch.stack([take(w["paint"][..., i]) for i in range(3)], -1)
    white = w["white"][:, None]
    edge = 45.0
    band = torch.where(number > 8, torch.sigmoid((w["band"][:, None] - z.abs()) * edge), torch.ones_like(z))
    band = torch.where(number == 0, torch.zeros_like(z), band)
    out = white + (paint - white) * band[..., None]
    disc = w["disc"][:, None].clamp(min=1e-3)
    lie = (y * y + z * z).sqrt()
    inside = torch.sigmoid((w["disc"][:, None] - lie) * edge) * (number > 0)
    inside = inside * (w["disc"][:, None] > 0.01)
    size = digits.shape[-1]
    col = ((y * torch.sign(x) / disc * 0.5 + 0.5) * size).long().clamp(0, size - 1)
    row = ((0.5 - z / disc * 0.5) * size).long().clamp(0, size - 1)
    ink = digits[w["style"][:, None].expand_as(col), number, row, col] * inside
    out = out + (white - out) * inside[..., None]
    out = out * (1 - 0.95 * ink[..., None])
    spot = torch.zeros_like(x)
    local = torch.stack([x, y, z], -1)
    for k in range(6):
        away = (2 - 2 * _dot(local, w["spot_at"][:, None, k])).clamp(min=1e-8).sqrt()
        on = (w["spots"] > k).float()[:, None] * (number == 0)
        spot = torch.maximum(spot, torch.sigmoid((w["spot_size"][:, None] - away) * edge) * on)
    return out + (w["spot_paint"][:, None] - out) * spot[..., None]


@_fused
def _lamp_in_mirror(p, mirror, light_at, light_soft, rough):
    """How much of a lamp's face the mirrored ray meets [N, P]."""
    to = light_at[:, None] - p
    dist = to.norm(dim=-1)
    off = (2 - 2 * (to * mirror).sum(-1) / dist).clamp(min=1e-8).sqrt()
    soft = light_soft[:, None] / dist
    wide = rough[:, None] + 0.15 * soft
    return torch.sigmoid((soft - off) / wide * 3.0) / (1.0 + (rough[:, None] / soft).square())


@_fused
def _ball_in_mirror(p, mirror, centre):
    """How much of a ball the mirrored ray meets [N, P]."""
    m = centre[:, None] - p
    along = (m * mirror).sum(-1)
    return torch.sigmoid((1.0 - (m.square().sum(-1) - along * along)) * 8.0) * (along > 0)


@_fused
def _cloth_in_mirror(p, mirror, centre):
    """Light of the cloth where the mirrored ray meets it, the balls' shadow taken off [N, P]."""
    drop = p[..., 2] / (-mirror[..., 2]).clamp(min=0.02)
    foot = p + mirror * drop[..., None]
    m2 = (centre[:, None] - foot[:, :, None]).square().sum(-1).clamp(min=1.0)
    return 1 - (1.0 / m2.square()).sum(-1).clamp(max=0.9)


def _mirrored(w, p, normal, rays, which):
    """What the gloss adds: lamps, room, cloth with the ball's shadow, and the other balls."""
    facing = -_dot(rays, normal)
    mirror = rays + 2 * facing[..., None] * normal
    f0 = w["fresnel"][:, None]
    fresnel = f0 + (1 - f0) * (1 - facing.clamp(0, 1)) ** 5
    up = _step(mirror[..., 2] * 5 + 0.5)
    low = (1 - up) * _cloth_in_mirror(p, mirror, w["centre"])
    out = up[..., None] * w["sky"][:, None] + low[..., None] * w["cloth"][:, None]
    for k in range(LIGHTS):
        part = _lamp_in_mirror(
            p, mirror, w["light_at"][:, k].contiguous(), w["light_soft"][:, k].contiguous(), w["rough"]
        )
        out = out + part[..., None] * w["face"][:, None, k]
    low = 0.35 + 0.4 * _step(p[..., 2] * 0.5)
    for j in range(w["centre"].shape[1]):
        met = _ball_in_mirror(p, mirror, w["centre"][:, j].contiguous()) * (which != j)
        far = (w["number"][:, j] == 0).float()[:, None]
        paint = w["paint"][:, j] * (1 - far) + w["white"] * far
        out = out + (paint[:, None] * low[..., None] - out) * met[..., None]
    return out * fresnel[..., None]


def shade(w, rays, grain, digits):
    """Linear light [N, P, 3] along the rays; `grain` [N, P] is the cloth's, about N(0, 1)."""
    eye = w["eye"][:, None]
    t_ball, which = _first_sphere(w["centre"], w["eye"], rays)
    t_cloth = -w["eye"][:, None, 2] / rays[..., 2].clamp(max=-1e-3)
    t_back, back_normal, rail, on_cushion = _cushions(w, rays, t_cloth)
    ball = t_ball < t_back
    p = eye + rays * torch.minimum(t_ball, t_back)[..., None]
    centre = torch.gather(w["centre"], 1, which[..., None].expand(-1, -1, 3))
    normal = torch.where(ball[..., None], _unit(p - centre), back_normal)
    own = torch.where(ball, which, torch.full_like(which, -1))
    light = _light(w, p, normal, own)

    cloth = w["cloth"][:, None] * (1 + w["grain"][:, None] * grain)[..., None]
    gain = torch.where(on_cushion, w["cushion_gain"][:, :1], torch.ones_like(rail))
    back = torch.where(rail[..., None] > 0.5, w["rail"][:, None], cloth * gain[..., None])
    on_cloth = ~on_cushion
    for k in range(SPECKS):
        r = (p[..., :2] - w["speck_at"][:, None, k]).norm(dim=-1)
        inside = torch.sigmoid((w["speck_size"][:, k, None] - r) * 40) * on_cloth
        back = back + (w["speck_paint"][:, None, k] - back) * inside[..., None]
    hole = (p[..., :2] - w["hole_at"][:, None]).norm(dim=-1)
    inside = torch.sigmoid((w["hole_size"][:, None] - hole) * 30) * on_cloth
    back = back + (w["hole_dark"][:, None, None] - back) * inside[..., None]
    albedo = torch.where(ball[..., None], _paint(w, which, normal, digits), back)
    out = albedo * light
    gloss = _mirrored(w, p, normal, rays, which)
    return (out + torch.where(ball[..., None], gloss, torch.zeros_like(gloss))).clamp(max=60.0)
