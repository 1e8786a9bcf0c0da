"""A drawn relief to be photographed: its landmarks, and a scale of 20 mm."""

import io

from PIL import Image, ImageDraw

LANDMARKS = [(200, 60), (110, 150), (290, 150), (300, 330), (100, 330), (200, 210)]


def photograph(scale):
    """Return a drawn relief with a scale of 20 mm, as bytes; its landmarks are the list above."""

    def at(*numbers):
        return [number * scale for number in numbers]

    image = Image.new("RGB", (int(400 * scale), int(400 * scale)), "#cdb398")
    draw = ImageDraw.Draw(image)
    draw.rectangle(at(80, 40, 320, 350), fill="#b9936f", outline="#7d5a3d", width=int(4 * scale))
    draw.arc(at(110, 60, 290, 240), 180, 360, fill="#6b4a30", width=int(5 * scale))
    for i in range(5):
        draw.line(at(100 + 8 * i, 330 - 14 * i, 300 - 8 * i, 330 - 14 * i), fill="#8f6a48", width=3)
    draw.polygon(at(190, 250, 200, 140, 225, 205), fill="#7d5a3d")
    draw.line(at(100, 380, 200, 380), fill="black", width=int(5 * scale))
    written = io.BytesIO()
    image.save(written, "PNG")
    return {"name": "p.png", "mimeType": "image/png", "buffer": written.getvalue()}
