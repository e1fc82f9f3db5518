"""Objects from photos: one picture, and a ring of 24 pictures of 12 megapixels, against their targets.

Run as `python benchmarks/photos.py [--pictures 24]`. The pictures are rendered first, which takes longer than
measuring in them and is left out of the times; so is compiling. Targets on two cores: 3 s and 60 s.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from claybed.photos.camera import Camera, Lens  # noqa: E402
from claybed.photos.picture import open_picture  # noqa: E402
from claybed.photos.ring import Source, read_ring, ring_object  # noqa: E402
from claybed.photos.shot import aim, print_scale  # noqa: E402
from claybed.photos.turned import turned_object  # noqa: E402
from tests.photos.rendering import looking_at  # noqa: E402
from tests.photos.rings import as_jpeg, mug, taken  # noqa: E402

SMALL = (1336, 1002)
FULL = (4008, 3006)


def picture(camera: Camera) -> bytes:
    """A picture of 12 megapixels: rendered at a third and enlarged, as fine pixels of a soft lens are."""
    import cv2

    rgb = taken(mug(), camera, SMALL)
    return as_jpeg(cv2.resize(rgb, FULL, interpolation=cv2.INTER_CUBIC))


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds that some work took on the clock, and of processors: what else runs here changes the first."""
    start, used = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - start, time.process_time() - used


def main() -> None:
    """Render, measure and print one line for each target."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pictures", type=int, default=24)
    count = parser.parse_args().pictures
    lens = Lens(1300.0, 667.5, 500.5, -0.06, 0.01)
    cameras = [
        looking_at(lens, 360.0 * k / count + 3.0, (10.0, 24.0, 34.0)[k % 3], 500.0, (0.0, 0.0, 42.0))
        for k in range(count)
    ]
    pictures = [picture(camera) for camera in cameras]
    scale = print_scale(150.0, None)
    sources = [Source(f"p{k:02d}.jpg", lambda data=data: data) for k, data in enumerate(pictures)]  # type: ignore[misc]

    def one() -> None:
        turned_object(aim(open_picture(pictures[0], "p00.jpg"), scale), scale, name="mug")

    def ring() -> None:
        found = read_ring(sources, scale, lambda phase, done: None)
        made = ring_object(found, scale, name="mug", progress=lambda phase, done: None)
        print(f"  used {len(found.shots)} of {count}, {made.volume_ml:.0f} ml")

    ring()  # compiles
    (one_s, one_cpu_s), (ring_s, ring_cpu_s) = min(timed(one) for _ in range(3)), timed(ring)
    print(f"one photo of 12 MP        {one_s:6.2f} s   of processors {one_cpu_s:6.2f} s   target 3 s")
    print(
        f"ring of {count} photos of 12 MP {ring_s:6.2f} s   of processors {ring_cpu_s:6.2f} s   target 60 s"
    )
    print(f"memory                    {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:6.0f} MB")


if __name__ == "__main__":
    main()
