"""What 500 records cost a plan: with and without by turns, so that both meet the same machine. Run this file as it is."""

from __future__ import annotations

import re
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

import numpy as np

from scribeline.job import Measured, parse_job, recorded
from scribeline.plan import plan
from scribeline.scenario import demo_jobs

RECORDS, ROUNDS = 500, 15


def main() -> None:
    text = demo_jobs()["marram.toml"]
    text = re.sub(r"\[\[tunnels\]\]\n(?:[^\[\n].*\n|\n)*", "", text)
    random = np.random.default_rng(1)
    document = parse_job(text).job.document
    one = recorded(document, Measured(["1.3"] * len(document.strings), "0.25 mm"), before=None, today=None)
    head, block = one.split("[[instruments]]", 1)
    usual = np.array([1.2, 2.2, 3.6, 2.5, 3.2, 4.5])
    blocks = []
    for n in range(RECORDS):
        places = iter(usual + random.normal(0, 0.3, len(usual)))
        with_places = re.sub(r'saddle = "[^"]*"', lambda _, p=places: f'saddle = "{next(p):.2f} mm"', block)  # type: ignore[misc]
        blocks.append(f'[[instruments]]\nserial = "{n}"' + with_places)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "shop.toml").write_text(head + "\n".join(blocks), encoding="utf-8")
        taught = re.sub(r"\[bench\]\n", '[bench]\nrecords = "shop.toml"\n', text)
        if taught == text:
            taught = text + '\n[bench]\nrecords = "shop.toml"\n'
        start = time.process_time()
        plan(*parse_job(taught, folder=folder))
        sys.stdout.write(f"first time, weighed: {time.process_time() - start:.1f} s of the processor\n")
        took: dict[str, list[float]] = {text: [], taught: []}
        for turn in range(2 * ROUNDS):
            which = (text, taught)[turn % 2]
            start = time.process_time()
            plan(*parse_job(which, folder=folder))
            took[which].append(time.process_time() - start)
        without, with_records = (median(each) for each in took.values())
        sys.stdout.write(
            f"without {without:.3f} s, with {RECORDS} records {with_records:.3f} s: {with_records / without:.3f} times\n"
        )


if __name__ == "__main__":
    main()
