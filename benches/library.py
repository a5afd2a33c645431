"""A library of 5,000 protocols, checked as one process, beside a linter over as much Python.

    cargo build --release
    python3 -m pip install ruff==0.17.6
    python3 benches/library.py [number of protocols]

The protocols are the six demos over and over, each under a name, a version and a target of its
own, so that nothing can be known from the one before; in every other one the first rule
that compares a temperature compares it with another. `ruff check` gets files of the standard library
of the Python that runs this, as many bytes of them, with all of its rules that need no other files.
Whole processes on all cores, once each; the most memory is that of the process.
"""

import os
import pathlib
import re
import shutil
import subprocess
import sys
import sysconfig
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
WORK = ROOT / "target" / "library"


def protocols(count):
    folder = WORK / "protocols"
    shutil.rmtree(WORK, ignore_errors=True)
    folder.mkdir(parents=True)
    shutil.copytree(ROOT / "protocols" / "shared", folder / "shared")
    demos = sorted((ROOT / "protocols").glob("*.protocol"))
    size = 0
    for at in range(count):
        demo = demos[at % len(demos)]
        text = demo.read_text()
        name = demo.stem
        text = re.sub(rf"^(protocol|scenario .* for) {name}\b", rf"\1 {name}-{at}", text, flags=re.M)
        text = re.sub(r"^(\s*version\s+)\S+", rf"\g<1>2.{at}.0", text, count=1, flags=re.M)
        if at % 2:
            text = re.sub(
                r"^(\s*when .*?\b(?:below|above) )(\d\d)\.(\d)(?= °C)",
                lambda found: f"{found[1]}{found[2]}.{(int(found[3]) + at) % 10}",
                text,
                count=1,
                flags=re.M,
            )
        (folder / f"{name}-{at}.protocol").write_text(text)
        size += len(text.encode())
    return folder, size


def python(size):
    folder = WORK / "python"
    folder.mkdir(parents=True)
    sources = sorted(pathlib.Path(sysconfig.get_path("stdlib")).rglob("*.py"))
    done, at = 0, 0
    while done < size:
        text = sources[at % len(sources)].read_bytes()
        (folder / f"m{at}.py").write_bytes(text)
        done += len(text)
        at += 1
    return folder, done, at


def run(command):
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, own = os.wait4(process.pid, 0)
    wall = time.perf_counter() - began
    return wall, own.ru_utime + own.ru_stime, own.ru_maxrss / 1024, status >> 8


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    folder, size = protocols(count)
    other, other_size, files = python(size)
    print(f"load {pathlib.Path('/proc/loadavg').read_text().split()[0]}")
    for said, command, amount in [
        (f"tempwright check, {count} protocols", [ROOT / "target/release/tempwright", "check", folder], size),
        (f"ruff check, {files} files", ["ruff", "check", "--isolated", "--no-cache", "--select", "ALL", other], other_size),
    ]:
        wall, processor, memory, code = run([str(part) for part in command])
        print(
            f"{said}: {amount / 1e6:.1f} MB in {wall:.1f} s ({amount / 1e6 / wall:.2f} MB/s),"
            f" processor {processor:.1f} s, most memory {memory:.0f} MB, exit {code}"
        )


main()
