"""Measures the namer on labelled frames: crops cut as the program cuts them, centres jittered.

    python evaluate.py MODEL.onnx FOLDER [SHEET.png]

FOLDER holds NAME.jpg and NAME.json (exact camera and ball centres). For measuring only: no frame
is ever trained on. Places that are no ball are cut beside the balls. The sheet shows each error.
"""

import glob
import json
import os
import sys

import cv2
import numpy as np
import onnxruntime
from scipy.optimize import linear_sum_assignment

PATCH, MARGIN, RADIUS_MM = 32, 1.25, 28.575


def outline(camera, place):
    """Affine map of the ball's outline: centre and matrix in pixels, from its contour cone."""
    f, up = np.array(camera["forward"]), np.array(camera["up"])
    right = np.cross(f, up) / np.linalg.norm(np.cross(f, up))
    rotation = np.stack([right, np.cross(f, right), f])
    c = rotation @ (np.array([*place, RADIUS_MM]) - np.array(camera["position_mm"]))
    far = np.linalg.norm(c)
    ray = c / far
    e1 = np.array([1.0, 0, 0]) - ray * ray[0]
    e1 /= np.linalg.norm(e1)
    e2 = np.cross(ray, e1)
    mid = c * (1 - (RADIUS_MM / far) ** 2)
    rho = RADIUS_MM * np.sqrt(1 - (RADIUS_MM / far) ** 2)
    a = np.arange(16) * 2 * np.pi / 16
    p = mid + rho * (np.cos(a)[:, None] * e1 + np.sin(a)[:, None] * e2)
    x, y = p[:, 0] / p[:, 2], p[:, 1] / p[:, 2]
    s = camera["f_px"] * (1 + camera["k1"] * (x * x + y * y))
    px = np.stack([x * s + camera["width"] / 2, y * s + camera["height"] / 2], 1)
    matrix = np.stack(
        [2 * (px * np.cos(a)[:, None]).mean(0), 2 * (px * np.sin(a)[:, None]).mean(0)], 1
    )
    # Its symmetric part: the patch is stretched as the outline, not turned.
    square = matrix @ matrix.T
    root = np.sqrt(np.linalg.det(square))
    return px.mean(0), (square + root * np.eye(2)) / np.sqrt(np.trace(square) + 2 * root)


def cut(picture, centre, matrix):
    """A patch [3, PATCH, PATCH] in 0..1: means of bilinear samples, as many as it shrinks by."""
    step = np.abs(np.linalg.eigvals(matrix)).max() * MARGIN * 2 / PATCH
    parts = max(1, int(np.ceil(step)))
    fine = PATCH * parts
    axis = ((np.arange(fine) + 0.5) / fine * 2 - 1) * MARGIN
    gx, gy = np.meshgrid(axis, axis)
    at = np.stack([gx, gy], -1) @ matrix.T + centre - 0.5
    got = cv2.remap(
        picture,
        at[..., 0].astype(np.float32),
        at[..., 1].astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    got = got.reshape(PATCH, parts, PATCH, parts, 3).mean((1, 3))
    return got.transpose(2, 0, 1)[::-1]


def assign(logits):
    """Numbers for a layout: each at most once, no ball as often as needed."""
    logp = logits - np.logaddexp.reduce(logits, 1, keepdims=True)
    n = len(logp)
    cost = np.full((n, 16 + n), 1e3)
    cost[:, :16] = -logp[:, :16]
    cost[np.arange(n), 16 + np.arange(n)] = -logp[:, 16]
    return [int(c) if c < 16 else 16 for c in linear_sum_assignment(cost)[1]]


def main():
    run = onnxruntime.InferenceSession(sys.argv[1])
    rng = np.random.default_rng(3)
    total, wrong = {}, []
    for path in sorted(glob.glob(os.path.join(sys.argv[2], "**", "*.json"), recursive=True)):
        truth = json.load(open(path))
        if "camera" not in truth:
            continue
        picture = cv2.imread(path.replace(".json", ".jpg")).astype(np.float32) / 255
        kind = truth["profile"] + ("/player" if "player" in path else "")
        for jitter in range(4):
            crops = []
            for ball in truth["balls"]:
                centre, matrix = outline(truth["camera"], (ball["x_mm"], ball["y_mm"]))
                crops.append(cut(picture, centre + rng.normal(0, 0.5, 2), matrix))
            crops = np.ascontiguousarray(np.stack(crops), dtype=np.float32)
            crops = np.round(crops * 255) / 255
            logits = run.run(None, {"crops": crops.astype(np.float32)})[0]
            got, plain = assign(logits), logits.argmax(1)
            for i, ball in enumerate(truth["balls"]):
                row = total.setdefault(
                    kind, {"n": 0, "right": 0, "plain": 0, "cue": 0, "cue_right": 0, "false_cue": 0}
                )
                row["n"] += 1
                row["right"] += got[i] == ball["number"]
                row["plain"] += plain[i] == ball["number"]
                row["cue"] += ball["number"] == 0
                row["cue_right"] += ball["number"] == 0 and got[i] == 0
                row["false_cue"] += ball["number"] != 0 and got[i] == 0
                if got[i] != ball["number"] or plain[i] != ball["number"]:
                    p = np.exp(logits[i] - logits[i].max())
                    p /= p.sum()
                    wrong.append(
                        (
                            os.path.basename(path),
                            jitter,
                            ball["number"],
                            got[i],
                            int(plain[i]),
                            p,
                            crops[i],
                        )
                    )
    for kind, row in sorted(total.items()):
        print(
            f"{kind:12} balls {row['n']:4} right {row['right'] / row['n']:.4f} alone {row['plain'] / row['n']:.4f} "
            f"cue {row['cue_right']}/{row['cue']} taken for cue {row['false_cue']}"
        )
    for name, jitter, number, got, plain, p, _ in wrong:
        best = np.argsort(-p)[:3]
        print(
            f"  {name} #{jitter}: {number} read as {got} (alone {plain}) "
            + " ".join(f"{k}:{p[k]:.2f}" for k in best)
        )
    if len(sys.argv) > 3 and wrong:
        tiles = [
            cv2.resize(
                (w[6].transpose(1, 2, 0)[:, :, ::-1] * 255).astype(np.uint8),
                (96, 96),
                interpolation=cv2.INTER_CUBIC,
            )
            for w in wrong
        ]
        for tile, w in zip(tiles, wrong):
            cv2.putText(tile, f"{w[2]}>{w[3]}", (2, 12), 0, 0.4, (255, 255, 255), 1)
        while len(tiles) % 12:
            tiles.append(np.zeros_like(tiles[0]))
        cv2.imwrite(
            sys.argv[3], np.vstack([np.hstack(tiles[i : i + 12]) for i in range(0, len(tiles), 12)])
        )


if __name__ == "__main__":
    main()
