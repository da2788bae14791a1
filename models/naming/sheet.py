"""Draws a sheet of made crops, one layout a row, sorted by number, to be looked at.

python sheet.py OUT.png [SEED]
"""

import sys

import numpy as np
import torch
import torch.nn.functional as F

from crops import make
from digits import atlas
from world import SLOTS, Draw


def main():
    d = Draw("cpu", int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    with torch.no_grad():
        batch = make(d, 5, atlas())
    x = F.interpolate(batch["patch"], scale_factor=3, mode="bilinear")
    x = (x.clamp(0, 1) * 255).byte().permute(0, 2, 3, 1).numpy()
    rows = []
    for layout in range(x.shape[0] // SLOTS):
        part = slice(layout * SLOTS, (layout + 1) * SLOTS)
        row = [np.zeros_like(x[0])] * (17 + 4)
        spare = 17
        for img, number, valid in zip(
            x[part], batch["number"][part].tolist(), batch["valid"][part].tolist()
        ):
            if valid and number < 16:
                row[number] = img
            elif valid and spare < len(row):
                row[spare] = img
                spare += 1
        rows.append(np.hstack(row))
    sheet = np.vstack(rows)[:, :, ::-1]
    import cv2

    cv2.imwrite(sys.argv[1], sheet)


if __name__ == "__main__":
    main()
