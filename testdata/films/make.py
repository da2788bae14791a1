"""Makes the small films of this folder with ffmpeg. Run in this folder: python3 make.py

The scripted reader of the tests (tests/it/staging.rs) obeys the first pixel: red says what to do
(0 read, 4 see a player over the table), green how many balls there are. FFV1 keeps pixels exact.
"""

import subprocess

FPS, W, H = 10, 64, 48
# Seconds, script, balls; None: another number of balls in each frame, as while they roll.
STORY = [
    (1.6, 0, 5),
    (0.6, 0, None),
    (1.6, 0, 4),
    (1.2, 4, 3),
    (1.6, 0, 4),
    (1.6, 0, 3),
]

frames = bytearray()
shown = 0
for seconds, script, balls in STORY:
    for _ in range(round(seconds * FPS)):
        count = 6 + shown % 9 if balls is None else balls
        shown += 1
        frames += bytes((script, count, 0)) + bytes((90, 90, 90)) * (W * H - 1)

subprocess.run(
    ["ffmpeg", "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{W}x{H}",
     "-r", str(FPS), "-i", "-", "-c:v", "ffv1", "-pix_fmt", "bgr0", "rests.mkv"],
    input=bytes(frames), check=True)
