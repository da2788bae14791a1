"""Makes the small pictures of this folder. Needs Pillow, OpenCV and numpy, and ImageMagick's
`convert` for YCCK. Run in this folder: python3 make.py

Each shows the same upright scene, 64 x 48 pixels in four fields: red, green over blue, yellow.
Grey ones show 40, 110 over 180, 240.
"""

import subprocess
import cv2
import numpy as np
from PIL import Image

W, H = 64, 48
scene = np.zeros((H, W, 3), np.uint8)
scene[: H // 2, : W // 2] = (200, 30, 30)
scene[: H // 2, W // 2 :] = (30, 160, 40)
scene[H // 2 :, : W // 2] = (30, 50, 190)
scene[H // 2 :, W // 2 :] = (230, 210, 30)
grey = np.zeros((H, W), np.uint8)
grey[: H // 2, : W // 2], grey[: H // 2, W // 2 :] = 40, 110
grey[H // 2 :, : W // 2], grey[H // 2 :, W // 2 :] = 180, 240
rgb, l = Image.fromarray(scene), Image.fromarray(grey)
bgr = cv2.cvtColor(scene, cv2.COLOR_RGB2BGR)

rgb.save("rgb.jpg", quality=92, subsampling=0)
rgb.save("subsampled.jpg", quality=92, subsampling=2, optimize=True)
rgb.save("progressive.jpg", quality=92, progressive=True)
cv2.imwrite("restarts.jpg", bgr, [cv2.IMWRITE_JPEG_RST_INTERVAL, 2])
l.save("grey.jpg", quality=92)
rgb.convert("CMYK").save("cmyk.jpg", quality=92)
subprocess.run(["convert", "rgb.jpg", "-colorspace", "CMYK", "-quality", "92", "-sampling-factor",
                "4:4:4", "ycck.jpg"], check=True)

# What the camera stored, so that turning it as the tag says gives the scene.
stored = {
    1: lambda p: p,
    2: lambda p: p.transpose(Image.Transpose.FLIP_LEFT_RIGHT),
    3: lambda p: p.transpose(Image.Transpose.ROTATE_180),
    4: lambda p: p.transpose(Image.Transpose.FLIP_TOP_BOTTOM),
    5: lambda p: p.transpose(Image.Transpose.TRANSPOSE),
    6: lambda p: p.transpose(Image.Transpose.ROTATE_90),
    7: lambda p: p.transpose(Image.Transpose.TRANSVERSE),
    8: lambda p: p.transpose(Image.Transpose.ROTATE_270),
}
for tag, turn in stored.items():
    exif = Image.Exif()
    exif[0x0112] = tag
    turn(rgb).save(f"turned-{tag}.jpg", quality=92, subsampling=0, exif=exif.tobytes())
exif = Image.Exif()
exif[0x0112] = 6
stored[6](rgb).save("turned-6.png", exif=exif.tobytes())
stored[6](rgb).save("turned-6.webp", lossless=True, exif=exif.tobytes())

rgb.save("rgb.png")
l.save("grey.png")
rgb.quantize(16).save("palette.png")
alpha = Image.new("L", (W, H), 255)
alpha.putpixel((3, 3), 0)
rgba = rgb.copy()
rgba.putalpha(alpha)
rgba.save("rgba.png")
la = Image.merge("LA", (l, alpha))
la.save("grey-alpha.png")
cv2.imwrite("rgb-16bit.png", bgr.astype(np.uint16) * 257)
cv2.imwrite("grey-16bit.png", grey.astype(np.uint16) * 257)
subprocess.run(["convert", "rgb.png", "-interlace", "PNG", "interlaced.png"], check=True)

rgb.save("lossy.webp", quality=90)
rgb.save("lossless.webp", lossless=True)
rgba.save("alpha.webp", lossless=True)
