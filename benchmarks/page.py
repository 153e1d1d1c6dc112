"""How quickly the page follows a hand: headless Chromium on the page of a made piece.

Run: ``python benchmarks/page.py`` (``--only drag,line`` for some of it, ``--uploads`` for 40
photographs of 12 megapixels as well). Medians and 95th percentiles in milliseconds of wall time, so
run it on an idle machine; the machine's load is printed above. ``cpu`` is the mean of processor
time alone, of the page's main thread or of the program, which a busy machine changes less.
``painted`` ends when the canvas holds the pixels (one is read back), before the screen's refresh.
"""

from __future__ import annotations

import argparse
import gzip
import io
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from sequencer.models import PaletteColour, Print, Swatch
from sequencer.ordering.sequence import order
from sequencer.piece import Piece, save
from sequencer.planning import plan_columns

ROOT = Path(__file__).parents[1]
SAMPLES = sorted(one for one in (ROOT / "sample_images").iterdir()
                 if one.suffix in {".jpg", ".webp"})  # fmt: skip
USE = """async () => {
  const all = ['store', 'wall', 'api'].map((one) => import(`/static/${one}.js`));
  const [{ store }, wall, api] = await Promise.all(all);
  const pen = document.getElementById('piece').getContext('2d');
  Object.assign(window, { store, wall, api, flush: () => pen.getImageData(0, 0, 1, 1) });
}"""
CALM = "() => document.getElementById('piece')?.dataset.shows === 'rest'"
DRAG = """async (times) => {
  const order = store.piece.plan.prints.slice(), took = [];
  for (let i = 0; i < times; i += 1) {
    const [one] = order.splice(i % order.length, 1);
    order.splice((i * 7 + 3) % order.length, 0, one);
    await new Promise(requestAnimationFrame);
    const start = performance.now();
    wall.preview(order.slice());
    flush();
    took.push(performance.now() - start);
  }
  wall.preview(null);
  return took;
}"""
FAN = """async () => {
  window.bodies = [];
  for (let v = 2; v < 26; v += 1) bodies.push({ wishes: { curve_height: v / 2 } });
  await wall.fanOut(bodies);
}"""
SLIDE = """async () => {
  const took = [];
  for (let i = 0; i < 100; i += 1) {
    await new Promise(requestAnimationFrame);
    const start = performance.now();
    wall.tryOut(bodies[(i * 5) % bodies.length]);
    flush();
    took.push(performance.now() - start);
  }
  wall.stopTrials(); wall.preview(null); store.put({});
  return took;
}"""


def told(name: str, took: Sequence[float], goal: str, cpu: float | None = None) -> None:
    """One row: median and p95, and mean processor time where it was taken."""
    middle, high = statistics.median(took), sorted(took)[max(0, int(0.95 * len(took)) - 1)]
    own = "" if cpu is None else f"{cpu:.1f}"
    print(f"{name:<44} {middle:8.1f} {high:8.1f} {own:>8}   {goal}", flush=True)


def busied(page: Any, script: str, *given: Any) -> tuple[list[float], float]:
    """What the script answers, and the main thread's mean processor time for each of it."""
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})

    def spent() -> float:
        found = session.send("Performance.getMetrics")["metrics"]
        return next(float(one["value"]) for one in found if one["name"] == "TaskDuration")

    before = spent()
    took = page.evaluate(script, *given)
    return took, 1000 * (spent() - before) / len(took)


def used(pid: int) -> float:
    """Milliseconds of processor time that a process has used (Linux; else not a number)."""
    try:
        parts = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return float("nan")
    return 1000 * (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


def family(pid: int) -> list[int]:
    """A process and those that it started (Linux)."""
    below = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [pid, *(one for child in below for one in family(int(child)))]


@contextmanager
def served(folder: Path) -> Iterator[tuple[str, float, int]]:
    """`passalong page` on a folder: its link, when it was started, its process."""
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "passalong", "page", str(folder), "--port", "0", "--no-browser"],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env={**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{ROOT / 'cli'}"},
    )  # fmt: skip
    assert process.stdout
    try:
        link = next(found[0] for line in process.stdout if (found := re.search(r"http\S+", line)))
        rest = process.stdout
        threading.Thread(target=lambda: list(rest), daemon=True).start()
        yield link, start, process.pid
    finally:
        process.terminate()
        process.wait(10)


@contextmanager
def opened(browser: Any, folder: Path, slower: int = 1) -> Iterator[Any]:
    """The page of a folder with the piece at rest; the processor slowed ``slower`` times."""
    with served(folder) as (link, start, pid):
        page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
        page.goto(link)
        page.wait_for_function("() => document.getElementById('piece')?.dataset.shows")
        page.started, page.program, page.pid = time.perf_counter() - start, used(pid), pid
        page.wait_for_function(CALM)
        page.evaluate(USE)
        if slower > 1:
            session = page.context.new_cdp_session(page)
            session.send("Emulation.setCPUThrottlingRate", {"rate": slower})
        yield page
        page.context.close()


def box_of_60(folder: Path) -> None:
    """A piece of 60 prints with cloth of their own, 1 repeat of 1/2 in strips, 24 in wide."""
    rng, prints = np.random.default_rng(1), []
    for number in range(60):
        colour = rng.integers(40, 220, 3)
        cloth = np.clip(colour + rng.normal(0, 14, (500, 700, 3)), 0, 255).astype(np.uint8)
        lab = (float(colour.mean()) / 2.55, float(number % 9) * 4 - 16, float(number % 7) * 5 - 15)
        prints.append(Print(f"p{number}", f"p{number}", "a.jpg", ((0, 0), (1, 0), (1, 1)), lab,
                            (PaletteColour(lab, 1.0),), swatch=Swatch(cloth, 80.0)))  # fmt: skip
    piece = Piece(prints=tuple(prints))
    ids = [one.id for one in prints]
    piece, _ = order(piece, {"loop": True, "sequence": ids})
    piece, _ = plan_columns(piece, {"size": "24x30", "strip": "1/2", "repeats": 1})
    save(piece, folder, "make")


def start_up(browser: Any, small: Path) -> None:
    took, cpu = [], []
    for _ in range(5):
        with opened(browser, small) as page:
            took.append(page.started * 1000)
            cpu.append(page.program)
    told("command → picture on the wall, 13 prints", took, "1500", statistics.mean(cpu))


def drag(browser: Any, small: Path, big: Path) -> None:
    for folder, name in ((small, "13"), (big, "60")):
        for slower in (1, 4):
            with opened(browser, folder, slower) as page:
                goal = {1: "8, p95 16", 4: "p95 33"}[slower]
                took, cpu = busied(page, DRAG, 120)
                told(f"reorder → painted, {name} prints, CPU/{slower}", took, goal, cpu)


def slide(browser: Any, small: Path, big: Path) -> None:
    for folder, name in ((small, "13"), (big, "60")):
        for slower in (1, 4):
            with opened(browser, folder, slower) as page:
                page.evaluate(FAN)
                took, cpu = busied(page, SLIDE)
                told(f"slider → painted from the fan, {name}, CPU/{slower}", took, "p95 16", cpu)


def line(browser: Any, small: Path, big: Path) -> None:
    for folder, name in ((small, "13"), (big, "60")):
        for slower in (1, 4):
            with opened(browser, folder, slower) as page:
                rate = _drawn(page)
                print(f"{f'line: repaints a second, {name} prints, CPU/{slower}':<44} "
                      f"{rate:8.1f}                      30 or more", flush=True)  # fmt: skip


def _drawn(page: Any, seconds: float = 3.0) -> float:
    """Repaints a second while a real pointer draws."""
    surface = page.locator("#draw").bounding_box()
    before = page.evaluate("wall.hanging().painted")
    x, y = surface["x"] + 5, surface["y"] + surface["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    start, step = time.perf_counter(), 0
    while (passed := time.perf_counter() - start) < seconds:
        page.mouse.move(x + (surface["width"] - 10) * passed / seconds,
                        y + surface["height"] / 6 * np.sin(passed * 2))  # fmt: skip
        step += 1
    count = page.evaluate("wall.hanging().painted") - before
    page.mouse.up()
    return float(count / seconds)


LOOK = """async () => {
  const one = store.piece.photos.find((photo) => photo.prints.length > 4);
  await (await fetch(one.screen)).blob(); }"""
CORRECT = """async (turn) => {
  const all = store.piece.photos.find((photo) => photo.prints.length > 4).prints;
  const one = store.piece.prints.find((print) => print.id === all[turn % all.length]);
  const line = one.handles.map(([x, y], k) => (k ? [x, y] : [x + 3, y + 3]));
  const old = store.piece.revision, start = performance.now();
  const body = { op: 'redraw', ids: [one.id], line };
  if (!await api.job('POST', '/api/scraps', body).done) return -1;
  const { dataset } = document.getElementById('piece');
  const there = () => store.piece.revision !== old && dataset.revision === store.piece.revision;
  while (!there() && performance.now() - start < 30000) {
    await new Promise((done) => setTimeout(done, 5));
  }
  return performance.now() - start; }"""


def settled(pid: int) -> None:
    """Wait until the program and its child have nothing left to do: she looks at the photograph."""
    before = -1.0
    while (now := sum(map(used, family(pid)))) != before:
        before = now
        time.sleep(1)


def correction(browser: Any, small: Path) -> None:
    """A corner of one outline after the other, in a photograph of eight scraps."""
    took, cpu = [], []
    with opened(browser, small) as page:
        page.evaluate(LOOK)
        settled(page.pid)
        for turn in range(6):
            before = sum(map(used, family(page.pid)))
            took.append(page.evaluate(CORRECT, turn))
            cpu.append(sum(map(used, family(page.pid))) - before)
            assert took[-1] >= 0, "the correction was refused"
    told("outline → new picture, the first", took[:1], "", cpu[0])
    told("outline → new picture, every further one", took[1:], "1000", statistics.mean(cpu[1:]))


def uploads(browser: Any, folder: Path) -> None:
    """40 photographs of 12 megapixels, four at a time, until the last is accepted."""
    import httpx

    rng, photos = np.random.default_rng(2), []
    coarse = rng.integers(60, 200, (300, 400, 3), dtype=np.uint8)
    for number in range(40):
        picture = Image.fromarray(np.roll(coarse, number, axis=1)).resize((4000, 3000))
        data = io.BytesIO()
        picture.save(data, "JPEG", quality=92)
        photos.append(data.getvalue())
    with opened(browser, folder) as page:
        origin = re.match(r"http://[^/]+", page.url)[0]  # type: ignore[index]
        cookies = {one["name"]: one["value"] for one in page.context.cookies()}
        start, before = time.perf_counter(), used(page.pid)

        def send(some: Sequence[int]) -> None:
            with httpx.Client(cookies=cookies, timeout=120) as client:
                for number in some:
                    headers = {"origin": origin, "sec-fetch-site": "same-origin"}
                    address = f"{origin}/api/photos?name=photo-{number}.jpg&later=1"
                    with client.stream("POST", address, content=photos[number],
                                       headers=headers) as answer:
                        answer.raise_for_status()

        hands = [threading.Thread(target=send, args=(range(k, 40, 4),)) for k in range(4)]
        for hand in hands:
            hand.start()
        for hand in hands:
            hand.join()
        told("40 photographs of 12 megapixels taken in", [1000 * (time.perf_counter() - start)],
             "10000", used(page.pid) - before)  # fmt: skip
        print(f"  of {sum(map(len, photos)) / 1e6:.0f} MB; the child that reads used "
              f"{sum(map(used, family(page.pid)[1:])):.0f} ms meanwhile", flush=True)


def code_size() -> None:
    files = [one for one in (ROOT / "sequencer/web/static").rglob("*") if one.is_file()]
    data = [one.read_bytes() for one in files]
    plain, packed = sum(map(len, data)), sum(len(gzip.compress(one)) for one in data)
    print(f"page code: {plain / 1000:.0f} kB in {len(files)} files, {packed / 1000:.0f} kB packed")


def main() -> None:
    from playwright.sync_api import sync_playwright

    parts = ("start", "drag", "slide", "line", "correction")
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--only", default=",".join(parts))
    parser.add_argument("--uploads", action="store_true")
    asked = parser.parse_args()
    chosen = set(asked.only.split(","))
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    code_size()
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        small, big = Path(name, "harbour"), Path(name, "sixty")
        subprocess.run([sys.executable, "-m", "passalong", "make", *map(str, SAMPLES), "--out",
                        str(small)], check=True, capture_output=True)  # fmt: skip
        if chosen & {"drag", "slide", "line"}:
            box_of_60(big)
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium") or shutil.which("chromium-browser"),
            args=["--no-sandbox"],
        )
        print(f"{'':<44} {'median':>8} {'p95':>8} {'cpu':>8}   goal")
        if "start" in chosen:
            start_up(browser, small)
        for part, work in (("drag", drag), ("slide", slide), ("line", line)):
            if part in chosen:
                work(browser, small, big)
        if "correction" in chosen:
            correction(browser, small)
        if asked.uploads:
            uploads(browser, small)
        browser.close()


if __name__ == "__main__":
    main()
