"""Writes the trained network as ONNX: `python export.py IN.pt ../ball_centring.onnx`.

The batch is free; the output is checked against the network in another runtime.
"""

import sys

import numpy as np
import onnxruntime
import torch

from frames import PATCH
from regressor import CentreNet


def main():
    source, path = sys.argv[1:3]
    net = CentreNet()
    net.load_state_dict(torch.load(source, map_location="cpu"))
    net.eval()
    sample = torch.rand(3, 3, PATCH, PATCH)
    torch.onnx.export(
        net, (sample,), path, input_names=["patch"], output_names=["reading"],
        dynamic_axes={"patch": {0: "n"}, "reading": {0: "n"}}, opset_version=17, dynamo=False,
    )
    run = onnxruntime.InferenceSession(path, providers=["CPUExecutionProvider"])
    with torch.no_grad():
        want = net(sample).numpy()
    got = run.run(None, {"patch": sample.numpy()})[0]
    assert np.abs(got - want).max() < 1e-3, np.abs(got - want).max()
    print("largest difference", np.abs(got - want).max())


if __name__ == "__main__":
    main()
