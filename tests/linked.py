"""Tidies the list of what is linked (CycloneDX) on standard input: nothing of the
machine that made it, no time and no addresses of people, a component a line.
`make supply` writes it to docs/linked.cdx.json."""

import json
import os
import sys

text = sys.stdin.read().replace("file://" + os.getcwd(), "file:///perchline")
listed = json.loads(text)
listed.pop("serialNumber", None)
listed["metadata"].pop("timestamp", None)
for component in listed["components"]:
    for field in ("author", "description", "externalReferences"):
        component.pop(field, None)


def line(value):
    return json.dumps(value, separators=(",", ":"))


parts = []
for name, value in listed.items():
    if isinstance(value, list):
        parts.append(f'"{name}":[\n' + ",\n".join(line(entry) for entry in value) + "\n]")
    else:
        parts.append(f'"{name}":{line(value)}')
sys.stdout.write("{\n" + ",\n".join(parts) + "\n}\n")
