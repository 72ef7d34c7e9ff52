"""Keeps what takes minutes to simulate, under a hash of the scripts and packages that it was made by; beside the environment."""

from __future__ import annotations

import hashlib
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent


def place(kind: str, inputs: Iterable[str], prefix: str = "") -> Path:
    """Returns where the results of these scripts are kept; `kind` tells them from others, `prefix` one extent from another."""
    digest = hashlib.sha256()
    for name in inputs:
        digest.update(name.encode() + b"\0" + (HERE / name).read_bytes() + b"\0")
    environment = Path(os.environ.get("CELLTRIAGE_REFERENCE_ENV") or HERE.parent.parent / "target" / "reference-env")
    return environment / kind / f"{prefix}{digest.hexdigest()[:20]}"


def fill(cache: Path, older: str, make: Callable[..., str], jobs: Iterable[tuple[Any, ...]]) -> None:
    """Makes everything in two processes and puts it in place only when all is there; `older` matches what it takes the place of.

    `make` gets what stands in a job and the folder to write to, and returns lines about what it made.
    """
    cache.parent.mkdir(parents=True, exist_ok=True)
    started = time.monotonic()
    with tempfile.TemporaryDirectory(dir=cache.parent, prefix="unfinished ") as temporary:
        unfinished = Path(temporary) / cache.name
        unfinished.mkdir()
        with ProcessPoolExecutor(max_workers=min(2, os.cpu_count() or 1)) as pool:
            for job in as_completed([pool.submit(make, *job, unfinished) for job in jobs]):
                for line in job.result().splitlines():
                    print(f"[{time.monotonic() - started:4.0f} s] {line}", file=sys.stderr, flush=True)
        for other in cache.parent.glob(older):
            if other.name != Path(temporary).name:
                shutil.rmtree(other)
        unfinished.rename(cache)


def deliver(cache: Path, folder: Path) -> None:
    """Lets a folder stand for what is kept."""
    if folder.is_symlink():
        folder.unlink()
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.symlink_to(cache.resolve(), target_is_directory=True)
