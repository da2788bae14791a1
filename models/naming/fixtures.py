"""Makes testdata/naming/: patches as pictures, with what they are and what the network says.

    python fixtures.py MODEL.onnx FRAMES OUT NAME...

For each labelled frame NAME of the folder FRAMES: OUT/NAME.png, its balls' patches side by side,
and OUT/NAME.json, their numbers and the outputs of onnxruntime for exactly these 8-bit patches.
"""

import json
import os
import sys

import cv2
import numpy as np
import onnxruntime

from evaluate import cut, outline


def main():
    model, frames, out = sys.argv[1:4]
    run = onnxruntime.InferenceSession(model)
    for name in sys.argv[4:]:
        truth = json.load(open(os.path.join(frames, name + ".json")))
        picture = cv2.imread(os.path.join(frames, name + ".jpg")).astype(np.float32) / 255
        balls = truth["balls"]
        crops = [cut(picture, *outline(truth["camera"], (b["x_mm"], b["y_mm"]))) for b in balls]
        crops = np.round(np.stack(crops) * 255).astype(np.uint8)
        strip = np.hstack(list(crops.transpose(0, 2, 3, 1)))
        cv2.imwrite(os.path.join(out, name + ".png"), strip[:, :, ::-1])
        logits, look = run.run(None, {"crops": crops.astype(np.float32) / 255})
        said = {
            "numbers": [b["number"] for b in balls],
            "logits": [[round(float(v), 4) for v in row] for row in logits],
            "look": [[round(float(v), 4) for v in row] for row in look],
        }
        with open(os.path.join(out, name + ".json"), "w") as file:
            json.dump(said, file)
            file.write("\n")


if __name__ == "__main__":
    main()
