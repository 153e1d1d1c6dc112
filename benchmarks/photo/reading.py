"""How long photographs take to read, against Pillow's plain full decode of the same files.

    python benchmarks/photo/reading.py [PHOTOS]

Makes that many (default 40) 12-megapixel JPEGs of scraps on tables in a temporary folder, and reads
them wholly (decode, find, correct, measure, cut and pack swatches) in two ways. Like with like: one
process, decode and reading of each photo in turn, processor time over processor time. As it is
used: on both cores, what the photos prove of each other and the second process included; wall and
processor time, and the peak memory of both processes.
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

sys.path.insert(0, str(Path(__file__).parents[2]))

from sequencer.reading.both_cores import Job, read_job
from sequencer.reading.photos import read, wishes_from
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


def read_alone(folder: str) -> None:
    """Decode and read each photo in turn, here, and print the medians' and the sums' processor
    seconds of both: run as a process of its own, so that nothing is warm but what one photo warms.
    """
    paths, wishes = sorted(Path(folder).glob("*.jpg")), wishes_from({})
    read_job(Job(paths[0], wishes, paths[0].name))
    decodes, reads = [], []
    for path in paths:
        decodes.append(plain_decode(path)[1])
        before = time.process_time()
        read_job(Job(path, wishes, path.name))
        reads.append(time.process_time() - before)
    print(statistics.median(decodes), statistics.median(reads), sum(decodes), sum(reads))


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


def told_by(which: str, folder: str) -> list[float]:
    """What another run of this script prints."""
    asked = [sys.executable, __file__, which, folder]
    told = subprocess.run(asked, check=True, capture_output=True, text=True).stdout
    return [float(one) for one in told.split()]


def main() -> None:
    if sys.argv[1:2] == ["--alone"]:
        return read_alone(sys.argv[2])
    if sys.argv[1:2] == ["--timed"]:
        return read_timed(sys.argv[2])
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    with tempfile.TemporaryDirectory() as name:
        paths = make_photos(Path(name), count)
        size = sum(path.stat().st_size for path in paths) / count / 1e6
        decode, one, decodes, reads = told_by("--alone", name)
        plain = statistics.median(plain_decode(path)[0] for path in paths)
        spent, prints, peak, used = told_by("--timed", name)
    print(f"{count} photos of 12 megapixels, {size:.1f} MB each, {prints:.0f} prints")
    print("one process, processor time")
    print(f"  Pillow's full decode {decode * 1000:7.1f} ms a photo (median)")
    print(f"  read wholly          {one * 1000:7.1f} ms a photo (median)")
    print(f"  ratio of the sums    {reads / decodes:7.2f}")
    print("both cores, the photos' agreement and the second process's start included")
    print(f"  processor time       {used / count * 1000:7.1f} ms a photo")
    print(f"  ratio, processor     {used / decodes:7.2f}")
    print(f"  ratio, wall          {spent / count / plain:7.2f}")
    print(f"  peak memory          {peak:7.0f} MB, both processes")


if __name__ == "__main__":
    main()
