"""Prints the licences of the crates that are linked into the program, and of what
they carry with them: each text once, under the names of those that it is for.

Reads what `cargo metadata` knows; fails where a crate names no licence."""

import json
import pathlib
import re
import subprocess
import sys

NAMES = re.compile(r"^(licen[cs]e|copying|copyright|notice|unlicense|ofl)", re.IGNORECASE)
# Sources of others that a crate brings along: the solver, the font.
DEEPER = ["HiGHS", "HiGHS/*", "fonts", "resources", "dejavu*", "src"]


def metadata():
    host = re.search(r"host: (\S+)", subprocess.check_output(["rustc", "-vV"], text=True)).group(1)
    command = ["cargo", "metadata", "--format-version=1", "--locked", "--offline"]
    return json.loads(subprocess.check_output([*command, f"--filter-platform={host}"]))


def linked(known):
    """The packages behind the program, those for its build and its tests aside."""
    packages = {package["id"]: package for package in known["packages"]}
    nodes = {node["id"]: node for node in known["resolve"]["nodes"]}
    waiting = [known["resolve"]["root"]]
    found = {}
    while waiting:
        place = waiting.pop()
        if place in found:
            continue
        found[place] = packages[place]
        for edge in nodes[place]["deps"]:
            target = packages[edge["pkg"]]["targets"]
            at_build = any("proc-macro" in part["kind"] for part in target)
            if not at_build and any(kind["kind"] is None for kind in edge["dep_kinds"]):
                waiting.append(edge["pkg"])
    outside = [package for package in found.values() if package["source"]]
    return sorted(outside, key=lambda package: (package["name"], package["version"]))


def texts(package):
    """The texts of licences that lie in a package."""
    root = pathlib.Path(package["manifest_path"]).parent
    folders = [root] + [found for inner in DEEPER for found in root.glob(inner)]
    files = [file for folder in folders if folder.is_dir() for file in folder.iterdir()]
    for file in sorted(set(files)):
        if NAMES.match(file.name) and file.is_file():
            yield file.read_text(encoding="utf-8", errors="replace").strip()


def main():
    by_text = {}
    print("The crates linked into perchline, each with the licence that it names:\n")
    for package in linked(metadata()):
        name = f"{package['name']} {package['version']}"
        licence = package["license"] or package["license_file"]
        if not licence:
            sys.exit(f"notices: {name} names no licence")
        print(f"  {name}: {licence}")
        own = list(texts(package))
        if not own:
            own = [f"No text lies in the package; it names {licence}. Source: {package['repository']}"]
        for text in own:
            # The same words in other lines are the same text.
            by_text.setdefault(" ".join(text.split()), (text, []))[1].append(name)
    for text, names in by_text.values():
        print("\n" + "=" * 78)
        print(", ".join(dict.fromkeys(names)) + ":\n")
        print(text)


main()
