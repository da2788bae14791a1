"""Draws a sheet of made crops to be looked at: `python sheet.py OUT.png [SEED] [LOW HIGH]`."""

import sys

import torch

import frames
from digits import atlas
from world import Draw


def main():
    import cv2

    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    radius = (float(sys.argv[3]), float(sys.argv[4])) if len(sys.argv) > 4 else (10.0, 12.0)
    with torch.no_grad():
        b = frames.make(Draw("cpu", seed), 96, atlas(), radius)
    x = (b["patch"] * 255).byte().permute(0, 2, 3, 1).numpy()[..., ::-1]
    tiles = []
    for img, t, ball in zip(x, b["target"].tolist(), b["ball"].tolist()):
        big = cv2.resize(img, None, fx=2, fy=2, interpolation=cv2.INTER_NEAREST)
        if ball and len(sys.argv) > 5:
            c = [int(round((frames.PATCH / 2 + frames.EDGE * v) * 2 * 16 - 8)) for v in t]
            cv2.circle(big, c, int(frames.EDGE * 2 * 16), (0, 255, 255), 1, cv2.LINE_AA, 4)
        tiles.append(big)
    rows = [cv2.hconcat(tiles[i : i + 12]) for i in range(0, 96, 12)]
    cv2.imwrite(sys.argv[1], cv2.vconcat(rows))


if __name__ == "__main__":
    main()
