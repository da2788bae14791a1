"""Trains the namer on crops made as it goes and writes its weights.

    python train.py OUT.pt MINUTES [PAIRS] [SEED]

No picture is stored: every step draws new layouts. The learning rate falls along a cosine over
the minutes given; the weights written are a running mean. Progress goes to standard output.
"""

import copy
import math
import sys
import time

import torch
import torch.nn.functional as F

from crops import make, picture
from digits import atlas
from net import Namer
from world import NO_BALL, SLOTS, Draw

LOOK_WEIGHT = 0.5


def look_loss(look, batch):
    """Prototype loss: a ball of one layout against the balls of the pair's other layout."""
    pairs = look.shape[0] // (2 * SLOTS)
    e = look.reshape(pairs, 2, SLOTS, -1)
    number = batch["number"].reshape(pairs, 2, SLOTS)
    real = (batch["valid"].reshape(pairs, 2, SLOTS)) & (number != NO_BALL)
    total, count = 0.0, 0.0
    for a, b in ((0, 1), (1, 0)):
        d2 = ((e[:, a, :, None] - e[:, b, None]) ** 2).sum(-1)
        d2 = d2.masked_fill(~real[:, b, None], 1e4)
        same = (number[:, a, :, None] == number[:, b, None]) & real[:, b, None]
        usable = same.any(-1) & real[:, a]
        loss = F.cross_entropy(
            -d2.reshape(-1, SLOTS), same.float().argmax(-1).reshape(-1), reduction="none"
        )
        total = total + (loss * usable.reshape(-1)).sum()
        count = count + usable.sum()
    return total / count.clamp(min=1)


def name_loss(logits, batch):
    """Cross entropy over the crops of usual sets; the cue ball and what is like it weigh more."""
    number = batch["number"]
    counts = (batch["valid"] & batch["usual"]).float()
    weight = torch.where(number == 0, 2.5, 1.0) * counts
    loss = F.cross_entropy(logits, number, reduction="none", label_smoothing=0.01)
    return (loss * weight).sum() / weight.sum().clamp(min=1)


def scores(logits, batch):
    """Share right, share of cue balls right, share of others not taken for it."""
    counts = batch["valid"] & batch["usual"]
    got, number = logits.argmax(-1), batch["number"]
    cue, other = counts & (number == 0), counts & (number != 0)
    return [
        ((got == number) & counts).sum() / counts.sum(),
        ((got == 0) & cue).sum() / cue.sum().clamp(min=1),
        ((got != 0) & other).sum() / other.sum().clamp(min=1),
    ]


def main():
    out, minutes = sys.argv[1], float(sys.argv[2])
    pairs = int(sys.argv[3]) if len(sys.argv) > 3 else 64
    seed = int(sys.argv[4]) if len(sys.argv) > 4 else 1
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(seed)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    d = Draw(device, seed)
    digits = atlas().to(device)
    net = Namer().to(device)
    mean = copy.deepcopy(net)
    best = torch.optim.AdamW(net.parameters(), lr=2e-3, weight_decay=0.02)
    pictured = torch.compile(picture) if device == "cuda" else picture
    start, step, shown = time.time(), 0, 0.0
    while True:
        done = (time.time() - start) / (minutes * 60)
        if done >= 1:
            break
        for group in best.param_groups:
            group["lr"] = (
                3e-3 * min(1.0, (step + 1) / 200) * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-5
            )
        with torch.no_grad():
            batch = make(d, pairs, digits, pictured)
        logits, look = net(batch["patch"], batch["valid"].float(), SLOTS)
        loss_name, loss_look = name_loss(logits, batch), look_loss(look, batch)
        best.zero_grad(set_to_none=True)
        (loss_name + LOOK_WEIGHT * loss_look).backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        best.step()
        step += 1
        with torch.no_grad():
            keep = min(0.998, 1 - 1 / (step + 1))
            for m, p in zip(mean.state_dict().values(), net.state_dict().values()):
                m.lerp_(p, 1 - keep) if m.is_floating_point() else m.copy_(p)
        if time.time() - shown > 15:
            shown = time.time()
            said = " ".join(f"{float(s):.4f}" for s in scores(logits, batch))
            print(
                f"{done:.3f} step {step} name {loss_name:.4f} look {loss_look:.4f} right/cue/not-cue {said}",
                flush=True,
            )
            torch.save(mean.state_dict(), out)
    torch.save(mean.state_dict(), out)
    print(f"{step} steps of {2 * pairs * SLOTS} crops in {time.time() - start:.0f} s", flush=True)


if __name__ == "__main__":
    main()
