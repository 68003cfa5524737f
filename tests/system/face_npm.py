#!/usr/bin/python3
"""The face asked by jsmodbus, an npm package pinned by version and checksum. Installs it into a folder of the build; ends with
77, which ctest shows as skipped, if npm is not there or can't install it.

Usage: face_npm.py FACE_HOST BUILD_FOLDER"""
import os
import shutil
import subprocess
import sys

from face_server import Host

SKIPPED = 77
SOURCE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "face_npm")


def install(folder):
    os.makedirs(folder, exist_ok=True)
    for name in (".npmrc", "package.json", "package-lock.json", "ask.js"):
        shutil.copy(os.path.join(SOURCE, name), folder)
    done = subprocess.run(["npm", "ci", "--ignore-scripts"], cwd=folder, capture_output=True, text=True, timeout=120,
                          check=False)
    if done.returncode != 0:
        print(f"skipped: npm can't install the client:\n{done.stderr}")
        sys.exit(SKIPPED)


def main():
    host_program, folder = sys.argv[1:3]
    if shutil.which("npm") is None or shutil.which("node") is None:
        print("skipped: npm is not installed")
        return SKIPPED
    install(folder)
    with Host(host_program) as host:
        return subprocess.run(["node", "ask.js", str(host.port)], cwd=folder, timeout=60, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
