"""A small ext4 disk of its own in a file: to be filled, turned read-only, or copied while in use as a power cut
would leave it.
"""

import os
import shutil
import subprocess
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest


@contextmanager
def mounted(image, folder, *options):
    if os.geteuid() != 0:
        pytest.fail("this needs root: it mounts a small disk of its own (mount -o loop)")
    Path(folder).mkdir()
    run("mount", "-o", ",".join(["loop", *options]), image, folder)
    try:
        yield Path(folder)
        run("umount", folder)
    except BaseException:
        run("umount", "--lazy", folder)  # somebody is still on it: do not leave it behind for the next run
        raise


def formatted(image, megabytes):
    with open(image, "wb") as file:
        file.truncate(megabytes * 1024 * 1024)
    run("mkfs.ext4", "-q", "-F", "-m", "0", image)
    return image


def fill(disk):
    """Take every free byte; what to delete for some air."""
    ballast = disk / "ballast"
    with ballast.open("wb", buffering=0) as file:
        for size in [65_536, 4096, 512, 1] * 10:  # a few blocks are only given free a moment later
            with suppress(OSError):
                while True:
                    file.write(b"\x01" * size)
            os.fsync(file.fileno())
    assert os.statvfs(disk).f_bavail < 16
    return ballast


def copied(image, to):
    """What lies on the disk this moment, without asking its file system to write anything out first."""
    shutil.copyfile(image, to)
    return to


def run(*words):
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{words}: {done.stderr}"
