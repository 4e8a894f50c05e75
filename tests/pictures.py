"""The pictures of README and guide, made from the sample: ``python tests/pictures.py``.

They are taken in a real Chromium from what a person sees after ``leatline demo`` and on the page,
so that they can be made anew after a change of a face. Look at them before they are committed.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "web" / "guide" / "pictures"
QUALITY = 82


def shoot(page: Any, out: Path) -> None:
    page.screenshot(path=str(out), type="jpeg", quality=QUALITY, animations="disabled")


def page_pictures(browser: Any, out: Path, data: Path) -> None:
    """The planning page with the sample, as on a laptop and on a phone."""
    from api_service import running
    from plan_page import settled

    with running(data) as client:
        for name, size in (("page", (1440, 900)), ("page-phone", (390, 844))):
            context = browser.new_context(
                viewport={"width": size[0], "height": size[1]}, service_workers="block"
            )
            page = context.new_page()
            page.goto(str(client.base_url))
            page.locator("#sample").click()
            page.wait_for_function("() => leatline.state.model !== null")
            settled(page)
            page.wait_for_timeout(1500)  # the relief comes tile by tile
            shoot(page, out / f"{name}.jpg")
            context.close()


def file_pictures(browser: Any, out: Path, demo: Path) -> None:
    """What a study writes: the map, the profile, the field sheet on a phone."""
    for name, file, size in (
        ("map", "map.html", (1280, 800)),
        ("profile", "profile.svg", (1400, 830)),
        ("field", "field.html", (390, 844)),
    ):
        context = browser.new_context(viewport={"width": size[0], "height": size[1]}, offline=True)
        page = context.new_page()
        page.goto((demo / file).as_uri())
        page.wait_for_timeout(800)
        shoot(page, out / f"{name}.jpg")
        context.close()


def sheet_picture(out: Path, demo: Path) -> None:
    """The first plan and profile sheet."""
    import pypdfium2

    document = pypdfium2.PdfDocument(demo / "sheets.pdf")
    pages = [document[number] for number in range(len(document))]
    plan = next(page for page in pages if "0+100" in page.get_textpage().get_text_bounded())
    image = plan.render(scale=1.6).to_pil().convert("RGB")
    image.save(out / "sheet.jpg", "JPEG", quality=QUALITY)


def make_pictures(browser: Any, out: Path) -> list[Path]:
    """Make all pictures into a folder and return their paths."""
    import subprocess

    with tempfile.TemporaryDirectory() as scratch:
        demo = Path(scratch) / "demo"
        command = [sys.executable, "-m", "api.cli", "demo", "--out", str(demo)]
        subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
        page_pictures(browser, out, Path(scratch) / "data")
        file_pictures(browser, out, demo)
        sheet_picture(out, demo)
    return sorted(out.glob("*.jpg"))


if __name__ == "__main__":
    sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "support")]
    from conftest import running_chromium

    asked = argparse.ArgumentParser(description="Make the pictures of README and guide.")
    asked.add_argument("--out", type=Path, default=PICTURES, help="folder for them")
    given = asked.parse_args()
    with running_chromium() as chromium:
        for path in make_pictures(chromium, given.out):
            print(path, path.stat().st_size)
