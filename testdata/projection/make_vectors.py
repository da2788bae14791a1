"""Makes vectors.json: pictures of points by OpenCV's projectPoints, for cameras like ours.

Run in this folder with numpy and OpenCV for Python installed:

    python3 make_vectors.py

Places are millimetres in the table frame, rotations are Rodrigues vectors (camera from table), and
pixels are as OpenCV counts them: (0, 0) is the first pixel's centre. The cameras are a fixed list,
so the file comes out the same every time, whatever the version.
"""

import json

import cv2
import numpy as np

# Name, focal length, principal point, k1, k2, camera's place, point looked at, roll (degrees).
CAMERAS = [
    ("straight down", 1750.0, (959.5, 539.5), 0.0, 0.0, (1270.0, 635.0, 3190.0), (1270.0, 635.0), 0.0),
    ("barrel", 980.25, (641.2, 357.9), -0.12, 0.015, (1400.0, 500.0, 2480.0), (1270.0, 635.0), 171.0),
    ("pincushion", 1320.0, (950.0, 545.0), 0.04, -0.006, (1000.0, 700.0, 2900.0), (1200.0, 600.0), 90.0),
    ("oblique", 795.4, (639.5, 359.5), -0.02, 0.0, (989.0, -247.0, 1687.0), (1000.0, 495.0), -4.0),
    ("phone upright", 2900.5, (1511.5, 2015.5), 0.03, -0.05, (-300.0, 635.0, 2100.0), (1100.0, 640.0), 88.5),
]

LENGTH_MM, WIDTH_MM = 2540.0, 1270.0
POINTS = [
    (x * LENGTH_MM, y * WIDTH_MM, z)
    for x in (0.0, 0.31, 0.77, 1.0)
    for y in (0.0, 0.42, 1.0)
    for z in (0.0, 28.575, 36.29025)
]


def pose(place, target, roll_deg):
    """Rotation and translation of a camera at a place that looks at a point of the cloth."""
    place = np.array(place)
    forward = np.array([target[0], target[1], 0.0]) - place
    forward /= np.linalg.norm(forward)
    up = np.array([0.0, 1.0, 0.0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    level = np.stack([right, down, forward])
    turn, _ = cv2.Rodrigues(np.array([0.0, 0.0, np.deg2rad(roll_deg)]))
    rotation = turn @ level
    vector, _ = cv2.Rodrigues(rotation)
    exact, _ = cv2.Rodrigues(vector)
    return vector.ravel(), -exact @ place


def main():
    cameras = []
    for name, focal, (cx, cy), k1, k2, place, target, roll in CAMERAS:
        rotation, translation = pose(place, target, roll)
        matrix = np.array([[focal, 0.0, cx], [0.0, focal, cy], [0.0, 0.0, 1.0]])
        distortion = np.array([k1, k2, 0.0, 0.0])
        pixels, _ = cv2.projectPoints(np.array(POINTS), rotation, translation, matrix, distortion)
        cameras.append(
            {
                "name": name,
                "focal_px": focal,
                "centre_opencv_px": [cx, cy],
                "k1": k1,
                "k2": k2,
                "rotation_rodrigues": rotation.tolist(),
                "translation_mm": translation.tolist(),
                "pictures_opencv_px": pixels.reshape(-1, 2).tolist(),
            }
        )
    with open("vectors.json", "w", encoding="utf-8") as file:
        json.dump({"points_mm": POINTS, "cameras": cameras}, file, indent=1)
        file.write("\n")


if __name__ == "__main__":
    main()
