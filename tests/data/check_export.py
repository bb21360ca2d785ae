"""Check an exported record book by its README alone; uses nothing of the project.

    python check_export.py FOLDER_OR_ZIP [POSITION:FIRST 16 CHARACTERS OF A PRINTED HEAD]

Written from the text that lies in the export, with the standard library and an
Ed25519 implementation.  Exit 0 when everything holds, 1 with the first thing
that does not.
"""

import hashlib
import json
import sys
import unicodedata
import zipfile
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

SHORT = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\f": "\\f", "\n": "\\n", "\r": "\\r", "\t": "\\t"}


class Wrong(Exception):
    pass


def canonical(value):
    if value is True or value is False:
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, str):
        text = unicodedata.normalize("NFC", value)
        return '"' + "".join(SHORT.get(c) or (f"\\u{ord(c):04x}" if ord(c) < 32 else c) for c in text) + '"'
    if isinstance(value, list):
        return "[" + ",".join(canonical(item) for item in value) + "]"
    if isinstance(value, dict):
        return "{" + ",".join(f"{canonical(key)}:{canonical(value[key])}" for key in sorted(value)) + "}"
    raise Wrong(f"{value!r} has no canonical form")


def reader(place):
    if Path(place).is_dir():
        return lambda name: (Path(place) / name).read_bytes()
    return zipfile.ZipFile(place).read


def signed(public, entry):
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public))
        key.verify(bytes.fromhex(entry["signature"]), bytes.fromhex(entry["hash"]))
    except (InvalidSignature, ValueError):
        return False
    return True


def check_files(read, manifest):
    for each in manifest["files"]:
        content = read(each["path"])
        if len(content) != each["bytes"] or hashlib.sha256(content).hexdigest() != each["sha256"]:
            raise Wrong(f"{each['path']} is not what the manifest says")
    for line in read("photographs.sha256").decode("ascii").splitlines():
        sha256, path = line.split("  ")
        if hashlib.sha256(read(path)).hexdigest() != sha256:
            raise Wrong(f"{path} is not what its name says")


def check_entry(entry, line):
    rest = {key: value for key, value in entry.items() if key not in ("hash", "signature")}
    if canonical(entry) != line or hashlib.sha256(canonical(rest).encode()).hexdigest() != entry["hash"]:
        raise Wrong(f"entry {entry['position']}: its hash does not fit its content")


def check_chain(lines, manifest, printed):
    keys, before, position = {}, "0" * 64, 0
    entries = [(json.loads(line), line) for line in lines]
    for entry, line in entries:
        position += 1
        if entry["position"] != position or entry["prev_hash"] != before:
            raise Wrong(f"entry {position} does not follow from the one before it")
        check_entry(entry, line)
        if position == 1:
            second = entries[1][0]
            keys[second["body"]["station"]] = second["body"]["public_key"]
        if not signed(keys.get(entry["station"], ""), entry):
            raise Wrong(f"entry {position} was not signed by station {entry['station']}")
        if entry["kind"] == "StationKeyEntered":
            new = entry["body"]
            if keys.setdefault(new["station"], new["public_key"]) != new["public_key"]:
                raise Wrong(f"entry {position} gives a second key to station {new['station']}")
        if printed and position == int(printed.split(":")[0]) and not entry["hash"].startswith(printed.split(":")[1]):
            raise Wrong(f"entry {position} has not the printed hash")
        before = entry["hash"]
    if {"position": position, "hash": before} != manifest["head"] or manifest["stations"] != keys:
        raise Wrong("the entries do not end with the head of the manifest")
    if printed and position < int(printed.split(":")[0]):
        raise Wrong("the entries end before the printed head")
    return position


def main(place, printed=""):
    try:
        read = reader(place)
        manifest = json.loads(read("manifest.json"))
        check_files(read, manifest)
        text = read("entries.jsonl").decode("utf-8")
        count = check_chain(text.split("\n")[:-1], manifest, printed)
    except Wrong as wrong:
        sys.stdout.write(f"WRONG: {wrong}\n")
        return 1
    sys.stdout.write(f"{count} entries hold, up to {count}:{manifest['head']['hash'][:16]}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
