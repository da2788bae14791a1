"""Writes the trained network as ONNX, with a stored test vector beside it.

    python export.py WEIGHTS.pt OUT.onnx [VECTOR.json]

The vector is a made layout of seven crops and what onnxruntime says of it.
"""

import json
import sys

import onnx
import onnxruntime
import torch

from crops import make
from digits import atlas
from net import Namer, OneLayout
from world import Draw


def main():
    net = Namer().eval()
    net.load_state_dict(torch.load(sys.argv[1], map_location="cpu"))
    one = OneLayout(net).eval()
    with torch.no_grad():
        batch = make(Draw("cpu", 77), 1, atlas())
        x = batch["patch"][batch["valid"]][:7].contiguous()
        torch.onnx.export(
            one, (x,), sys.argv[2], input_names=["crops"], output_names=["logits", "look"],
            dynamic_axes={"crops": {0: "balls"}, "logits": {0: "balls"}, "look": {0: "balls"}},
            opset_version=17, dynamo=False,
        )
        want = one(x)[0]
    model = onnx.load(sys.argv[2])
    onnx.checker.check_model(model)
    x = torch.round(x * 255) / 255
    got = onnxruntime.InferenceSession(sys.argv[2]).run(None, {"crops": x.numpy()})
    print("ops", sorted({n.op_type for n in model.graph.node}))
    print("export differs by", float((torch.tensor(got[0]) - one(x)[0]).abs().max()))
    if len(sys.argv) > 3:
        bytes_ = (x * 255).round().int().flatten().tolist()
        vector = {
            "balls": x.shape[0],
            "crops": bytes_,
            "logits": [[round(float(v), 5) for v in row] for row in got[0]],
            "look": [[round(float(v), 5) for v in row] for row in got[1]],
        }
        json.dump(vector, open(sys.argv[3], "w"))
        print("vector written for", x.shape[0], "crops")


if __name__ == "__main__":
    main()
