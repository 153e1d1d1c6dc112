"""How long photographs take to read, against Pillow's plain full decode of the same files.

    python benchmarks/reading.py [PHOTOS]

Makes that many (default 40) 12-megapixel JPEGs of scraps on tables in a temporary folder, reads
them wholly (decode, find, correct, measure, cut swatches) on both cores, and prints the ratios of
wall time and of processor time (second process included) for one photo to the median full decode's,
and the peak memory of both processes.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).parent.parent))

from sequencer.reading.photos import read
from tests.made.scenes import TABLES, make_scene

SCENES = 8
NOISE, QUALITY = 5.0, 94
"""Sensor noise in 8-bit steps, each channel its own, and JPEG quality: files as large as a phone's,
3 to 6 MB."""


def make_photos(folder: Path, count: int) -> list[Path]:
    """A few scenes at full size, each saved often with sensor noise of its own."""
    rng = np.random.default_rng(7)
    scenes = [
        Image.fromarray(make_scene(900 + k, TABLES[k % 4], scraps=6 + k).picture).resize(
            (4000, 3000), Image.Resampling.BICUBIC
        )
        for k in range(min(SCENES, count))
    ]
    noise = rng.normal(0, NOISE, (3000, 4000, 3)).round().astype(np.int16)
    paths = []
    for k in range(count):
        picture = np.asarray(scenes[k % len(scenes)]).astype(np.int16) + np.roll(noise, 31 * k, 1)
        path = folder / f"table{k}.jpg"
        Image.fromarray(picture.clip(0, 255).astype(np.uint8)).save(path, quality=QUALITY)
        paths.append(path)
    return paths


def plain_decode(path: Path) -> tuple[float, float]:
    """Wall and processor seconds."""
    start, before = time.perf_counter(), time.process_time()
    with Image.open(path) as image:
        image.load()
    return time.perf_counter() - start, time.process_time() - before


def read_timed(folder: str) -> None:
    """Read a folder and print seconds, prints and peak memory: run as a process of its own."""
    paths = sorted(Path(folder).glob("*.jpg"))
    read(paths[:2])
    start, before = time.perf_counter(), time.process_time()
    reading = read(paths)
    spent = time.perf_counter() - start
    used = sum(resource.getrusage(resource.RUSAGE_CHILDREN)[:2]) + time.process_time() - before
    print(spent, len(reading.prints), peak_memory(), used)


def peak_memory() -> float:
    """Megabytes at the most, as the system has counted them, of this process and its second."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    status = Path("/proc/self/status")
    if status.exists():
        lines = status.read_text().splitlines()
        line = next(one for one in lines if one.startswith("VmHWM"))
        return int(line.split()[1]) / 1024 + children
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 + children


def main() -> None:
    if sys.argv[1:2] == ["--timed"]:
        read_timed(sys.argv[2])
        return
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    with tempfile.TemporaryDirectory() as name:
        paths = make_photos(Path(name), count)
        size = sum(path.stat().st_size for path in paths) / count / 1e6
        decodes = [plain_decode(path) for path in paths]
        plain, plain_used = (statistics.median(column) for column in zip(*decodes, strict=True))
        told = subprocess.run(
            [sys.executable, __file__, "--timed", name], check=True, capture_output=True, text=True
        ).stdout.split()
    spent, prints, peak = float(told[0]) / count, int(told[1]), float(told[2])
    used = float(told[3]) / count
    print(f"{count} photos of 12 megapixels, {size:.1f} MB each, {prints} prints")
    print(f"Pillow's full decode   {plain * 1000:7.1f} ms a photo (median)")
    print(f"read wholly            {spent * 1000:7.1f} ms a photo, both cores")
    print(f"processor time         {used * 1000:7.1f} ms a photo, the second process included")
    print(f"ratio, wall            {spent / plain:7.2f}")
    print(f"ratio, processor       {used / plain_used:7.2f}")
    print(f"peak memory            {peak:7.0f} MB, both processes")


if __name__ == "__main__":
    main()
