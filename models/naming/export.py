"""Writes the trained network as ONNX and checks it against onnxruntime.

python export.py WEIGHTS.pt OUT.onnx
"""

import sys

import onnx
import onnxruntime
import torch

from net import Namer, OneLayout


def main():
    net = Namer().eval()
    net.load_state_dict(torch.load(sys.argv[1], map_location="cpu"))
    one = OneLayout(net).eval()
    x = torch.rand(7, 3, 32, 32, generator=torch.Generator().manual_seed(7))
    with torch.no_grad():
        torch.onnx.export(
            one,
            (x,),
            sys.argv[2],
            input_names=["crops"],
            output_names=["logits", "look"],
            dynamic_axes={"crops": {0: "balls"}, "logits": {0: "balls"}, "look": {0: "balls"}},
            opset_version=17,
            dynamo=False,
        )
        want = one(x)
    model = onnx.load(sys.argv[2])
    onnx.checker.check_model(model)
    got = onnxruntime.InferenceSession(sys.argv[2]).run(None, {"crops": x.numpy()})
    apart = max(float(abs(g - w.numpy()).max()) for g, w in zip(got, want))
    print("operators:", ", ".join(sorted({n.op_type for n in model.graph.node})))
    print(f"differs from the trained network by at most {apart:.1e}")
    assert apart < 1e-3, "the export is not the trained network"


if __name__ == "__main__":
    main()
