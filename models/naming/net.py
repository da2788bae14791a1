"""The network: a few convolutions a crop, then two rounds of sharing over the layout.

Input: the crops of one layout [balls, 3, 32, 32], sRGB in 0..1. Outputs: `logits` [balls, 17] for
the cue ball (0), the numbers 1 to 15 and no ball (16), and `look` [balls, 16], a signature of the
ball's paint and pattern that does not depend on the other balls. Sharing is a mean and a maximum
over the layout's crops ("Deep Sets", Zaheer et al., 2017): it is how the light's colour and the
set's own tones reach each ball's decision. Only Conv, Relu, ReduceMean, ReduceMax, Concat, Add
and MatMul are left after export.
"""

import torch
from torch import nn

CLASSES = 17
LOOK = 16


def _conv(a, b, size, stride):
    return nn.Sequential(
        nn.Conv2d(a, b, size, stride, size // 2, bias=False), nn.BatchNorm2d(b), nn.ReLU()
    )


class Namer(nn.Module):
    def __init__(self, wide=80, shared=64):
        super().__init__()
        self.body = nn.Sequential(
            _conv(3, 16, 5, 2),
            _conv(16, 32, 3, 1),
            _conv(32, 48, 3, 2),
            _conv(48, 48, 3, 1),
            _conv(48, 96, 3, 2),
        )
        self.own = nn.Linear(192, wide)
        self.look = nn.Linear(wide, LOOK)
        self.ctx1 = nn.Linear(2 * wide, shared)
        self.mix1a, self.mix1b = nn.Linear(wide, wide), nn.Linear(shared, wide, bias=False)
        self.ctx2 = nn.Linear(2 * wide, shared)
        self.mix2a, self.mix2b = nn.Linear(wide, wide), nn.Linear(shared, wide, bias=False)
        self.out = nn.Linear(wide, CLASSES)

    def crops(self, x):
        """Each crop for itself: [N, 3, 32, 32] to [N, wide]."""
        f = self.body(x * 4.0 - 2.0)
        pooled = torch.cat([f.mean((2, 3)), f.amax((2, 3))], 1)
        return torch.relu(self.own(pooled))

    def share(self, e, valid):
        """Layouts [L, S, wide] with which slots count [L, S, 1] to logits [L, S, 17]."""
        count = valid.sum(1, keepdim=True).clamp(min=1)
        h = e
        for ctx, a, b in ((self.ctx1, self.mix1a, self.mix1b), (self.ctx2, self.mix2a, self.mix2b)):
            seen = h * valid
            pool = torch.cat([seen.sum(1, keepdim=True) / count, seen.amax(1, keepdim=True)], 2)
            h = torch.relu(a(h) + b(torch.relu(ctx(pool))))
        return self.out(h)

    def forward(self, x, valid, slots):
        e = self.crops(x)
        logits = self.share(e.reshape(-1, slots, e.shape[1]), valid.reshape(-1, slots, 1))
        return logits.reshape(-1, CLASSES), self.look(e)


class OneLayout(nn.Module):
    """The network as the program runs it: one layout, every crop counts, one batch of crops."""

    def __init__(self, net):
        super().__init__()
        self.net = net
        self.body = nn.Sequential()
        for i, block in enumerate(net.body):
            self.body.append(torch.nn.utils.fusion.fuse_conv_bn_eval(block[0], block[1]))
            self.body.append(nn.ReLU())

    def forward(self, x):
        net = self.net
        f = self.body(x * 4.0 - 2.0)
        e = torch.relu(net.own(torch.cat([f.mean((2, 3)), f.amax((2, 3))], 1)))
        h = e
        for ctx, a, b in ((net.ctx1, net.mix1a, net.mix1b), (net.ctx2, net.mix2a, net.mix2b)):
            pool = torch.cat([h.mean(0, keepdim=True), h.amax(0, keepdim=True)], 1)
            h = torch.relu(a(h) + b(torch.relu(ctx(pool))))
        return net.out(h), net.look(e)
