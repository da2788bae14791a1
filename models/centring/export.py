"""Writes the trained networks as ONNX: `python export.py IN.pt FOLDER`.

The batch is free; the output is checked against the network in another runtime.
"""

import os
import sys

import numpy as np
import onnxruntime
import torch

from frames import PATCH
from regressor import CentreNet, SpotNet

NETWORKS = {"centre": (CentreNet, "ball_centring.onnx"), "spot": (SpotNet, "ball_spotting.onnx")}


def main():
    source, folder = sys.argv[1:3]
    weights = torch.load(source, map_location="cpu")
    for name, (network, file) in NETWORKS.items():
        write(network(), weights[name], os.path.join(folder, file))


def write(net, weights, path):
    net.load_state_dict(weights)
    net.eval()
    side = PATCH // net.shrink
    sample = torch.rand(3, 3, side, side)
    torch.onnx.export(
        net, (sample,), path, input_names=["patch"], output_names=["reading"],
        dynamic_axes={"patch": {0: "n"}, "reading": {0: "n"}}, opset_version=17, dynamo=False,
    )
    run = onnxruntime.InferenceSession(path, providers=["CPUExecutionProvider"])
    with torch.no_grad():
        want = net(sample).numpy()
    got = run.run(None, {"patch": sample.numpy()})[0]
    assert np.abs(got - want).max() < 1e-3, np.abs(got - want).max()
    print(path, "largest difference", np.abs(got - want).max())


if __name__ == "__main__":
    main()
