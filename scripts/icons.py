"""Draws the icons of the app for home screens out of the one drawing: python scripts/icons.py."""

from pathlib import Path

import vl_convert

FOLDER = Path(__file__).parents[1] / "src" / "fairsmoke" / "app" / "static" / "icons"


def main() -> None:
    """Write each size anew."""
    drawing = (FOLDER / "icon.svg").read_text(encoding="utf-8")
    sized = drawing.replace("viewBox", 'width="64" height="64" viewBox', 1)
    for size in (192, 512):
        (FOLDER / f"icon-{size}.png").write_bytes(vl_convert.svg_to_png(sized, scale=size / 64))


if __name__ == "__main__":
    main()
