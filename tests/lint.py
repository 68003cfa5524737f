#!/usr/bin/python3
"""clang-tidy over the program's sources, by the compile commands of a build. A source in which it found nothing is not looked at
again before something changes that the answer depends on: the source, a header, the compile command, the checks, clang-tidy.

Usage: lint.py BUILD_FOLDER"""
import functools
import hashlib
import json
import multiprocessing.pool
import os
import pathlib
import shlex
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[1]
BUILD = pathlib.Path(sys.argv[1]).resolve()
PASSED = BUILD / "lint"  # an empty file for each answer, named by what the answer depends on


def output(*command, folder=ROOT):
    return subprocess.run(command, cwd=folder, stdout=subprocess.PIPE, text=True, check=True).stdout


def sources():
    listed = output("git", "ls-files", "-z", "--cached", "--others", "--exclude-standard", "--", "src/*.c", "sim/*.c")
    paths = [ROOT / name for name in listed.split("\0") if name]
    return sorted((path for path in paths if path.exists()), key=lambda path: -path.stat().st_size)


def compile_commands():
    with open(BUILD / "compile_commands.json", encoding="utf-8") as file:
        return {pathlib.Path(entry["file"]): entry for entry in json.load(file)}


@functools.lru_cache(maxsize=None)
def digest_of_file(path):
    return hashlib.sha256(pathlib.Path(path).read_bytes()).hexdigest()


def files_read(entry):
    """The source and all that it includes, the system's headers too, as clang finds them."""
    words = shlex.split(entry["command"])
    words = words[next(i for i, word in enumerate(words) if word.startswith("-")):]
    words[words.index("-o") : words.index("-o") + 2] = []
    rule = output("clang", "-M", "-w", *words, folder=entry["directory"])
    names = rule.split(":", 1)[1].replace("\\\n", " ").split()
    return [os.path.join(entry["directory"], name) for name in names]


def key(judge, entry):
    parts = [judge, entry["directory"], entry["command"]]
    for path in files_read(entry):
        parts += [path, digest_of_file(path)]
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def lint(judge, source, entry):
    """The name of the answer's file if there is nothing to tell, else None."""
    passed = PASSED / key(judge, entry)
    if passed.exists():
        return passed.name
    done = subprocess.run(["clang-tidy", "--quiet", "-p", BUILD, source], cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        print(done.stdout + done.stderr, end="", flush=True)
        return None
    passed.touch()
    return passed.name


def main():
    entries = compile_commands()
    judge = output("clang-tidy", "--version") + (ROOT / ".clang-tidy").read_text(encoding="utf-8")
    PASSED.mkdir(exist_ok=True)
    work = [(judge, source, entries[source]) for source in sources() if source in entries]
    strangers = [str(source.relative_to(ROOT)) for source in sources() if source not in entries]
    if strangers:
        print("not built, so not looked at:", *strangers)
    with multiprocessing.pool.ThreadPool(len(os.sched_getaffinity(0))) as pool:
        answers = pool.starmap(lint, work, chunksize=1)
    for old in set(os.listdir(PASSED)) - set(answers):
        (PASSED / old).unlink()
    return 0 if all(answers) and not strangers else 1


if __name__ == "__main__":
    sys.exit(main())
