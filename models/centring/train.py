"""Trains both networks on made crops: `python train.py OUT.pt SECONDS [SEED]`.

Crops are made without end on the device beside the training and live in a ring from which batches
are drawn, turned and mirrored, so each is seen a few times in different guises. Ends after the time
given; the factor of the scales is set on crops made with another seed.
"""

import math
import sys
import time

import torch
import torch.nn.functional as F

import frames
from digits import atlas
from regressor import CentreNet, SpotNet, loss, whitened
from world import Draw

# Radii in the frame's pixels and crops a batch, so that a batch has about as many rays each.
SIZES = [((8.3, 10.3), 768), ((10.3, 13.2), 768), ((13.2, 16.5), 512), ((16.5, 19.8), 384)]
RING = 400_000
BATCH = 2048
# Steps for every batch made: how often a crop is seen is STEPS * BATCH / crops made.
STEPS = 6


class Ring:
    def __init__(self, device):
        side = frames.PATCH
        self.patch = torch.zeros(RING, 3, side, side, dtype=torch.uint8, device=device)
        self.target = torch.zeros(RING, 2, device=device)
        self.flags = torch.zeros(RING, 2, dtype=torch.bool, device=device)
        self.made = 0

    def add(self, b):
        n = b["patch"].shape[0]
        at = torch.arange(self.made, self.made + n, device=self.target.device) % RING
        self.patch[at] = torch.round(b["patch"] * 255).to(torch.uint8)
        self.target[at] = b["target"]
        self.flags[at] = torch.stack([b["ball"], b["known"]], -1)
        self.made += n

    def batch(self):
        full = min(self.made, RING)
        at = torch.randint(0, full, (BATCH,), device=self.target.device)
        x, t, f = self.patch[at].float() / 255, self.target[at], self.flags[at]
        turn = int(torch.randint(0, 4, (1,)))
        x = torch.rot90(x, turn, (2, 3))
        for _ in range(turn):
            t = torch.stack([t[:, 1], -t[:, 0]], -1)
        if torch.rand(1) < 0.5:
            x, t = x.flip(3), t * torch.tensor([-1.0, 1.0], device=t.device)
        return x[:, torch.randperm(3)], t, f[:, 0], f[:, 1]


def shrunk(net, patch):
    """The crop at the size that a network takes."""
    return F.avg_pool2d(patch, net.shrink) if net.shrink > 1 else patch


class Learner:
    """A network, its optimiser and the exponential mean of its weights."""

    def __init__(self, net, device):
        self.net = net.to(device)
        mean = torch.optim.swa_utils.get_ema_multi_avg_fn(0.999)
        self.mean = torch.optim.swa_utils.AveragedModel(self.net, multi_avg_fn=mean)
        self.opt = torch.optim.AdamW(self.net.parameters(), 2e-3, weight_decay=1e-4)
        self.steps = 0

    def step(self, batch, gone):
        """One step, `gone` of the time being over; the two parts of the loss."""
        x, target, ball, known = batch
        warm = min(1.0, (self.steps + 1) / 300)
        for group in self.opt.param_groups:
            group["lr"] = 2.5e-3 * warm * (0.5 + 0.5 * math.cos(math.pi * min(gone, 1.0)))
        value, place, there = loss(self.net(shrunk(self.net, x)), target, ball.float(), known.float())
        self.opt.zero_grad(set_to_none=True)
        value.backward()
        torch.nn.utils.clip_grad_norm_(self.net.parameters(), 2.0)
        self.opt.step()
        self.mean.update_parameters(self.net)
        self.steps += 1
        return place, there

    def finish(self, tests):
        """The mean's weights, with the scales set on crops held back."""
        final = self.mean.module.eval()
        factor = judge(final, tests) / 2
        final.log_factor[2:4] += math.log(factor)
        judge(final, tests)
        return {k: v.cpu() for k, v in final.state_dict().items()}


def judge(net, batches):
    """Figures on made crops: errors in radii, share within two scales, logit's rights."""
    out, target, ball, known = [], [], [], []
    with torch.no_grad():
        for b in batches:
            out.append(net(shrunk(net, b["patch"])))
            target.append(b["target"])
            ball.append(b["ball"])
            known.append(b["known"])
    out, target, ball, known = map(torch.cat, (out, target, ball, known))
    z, _ = whitened(out[ball], target[ball])
    m = z.norm(dim=-1)
    e = (out[ball, :2] - target[ball]).norm(dim=-1)
    near = target[ball].norm(dim=-1) < frames.NEAR
    right = ((out[:, 5] > 0) == ball)[known].float().mean()
    q = torch.tensor([0.5, 0.9, 0.98], device=e.device)
    print(
        "rms %.4f near %.4f quantiles %s within2 %.3f m86 %.3f ball %.4f bias %s"
        % (e.square().mean().sqrt(), e[near].square().mean().sqrt(), e[near].quantile(q).tolist(),
           (m < 2).float().mean(), m.quantile(1 - math.exp(-2)), right, (out[ball, :2] - target[ball]).mean(0).tolist()),
        flush=True,
    )
    return m.quantile(1 - math.exp(-2)).item()


def main():
    path, seconds = sys.argv[1], float(sys.argv[2])
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(seed)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    d, digits = Draw(device, seed), atlas().to(device)
    shrink = 1 if device == "cuda" else 24
    began = time.time()
    with torch.no_grad():
        held = Draw(device, 90001)
        tests = [frames.make(held, n // shrink, digits, r) for r, n in SIZES * 4]
    print("first crops after %.0f s" % (time.time() - began), flush=True)
    learners = {"centre": Learner(CentreNet(), device), "spot": Learner(SpotNet(), device)}
    ring = Ring(device)
    began, told = time.time(), 0.0
    while (gone := (time.time() - began) / seconds) < 1:
        with torch.no_grad():
            for r, n in SIZES:
                ring.add(frames.make(d, n // shrink, digits, r))
        for _ in range(STEPS * len(SIZES)):
            batch = ring.batch()
            parts = {name: learner.step(batch, gone) for name, learner in learners.items()}
        if gone > told:
            told += 0.1
            for name, (place, there) in parts.items():
                print("%.0f s made %d %s: place %.3f there %.4f" % (time.time() - began, ring.made, name, place.item(), there.item()), flush=True)
                judge(learners[name].net, tests)
    torch.save({name: learner.finish(tests) for name, learner in learners.items()}, path)


if __name__ == "__main__":
    main()
