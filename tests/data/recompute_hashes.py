"""Recompute the hashes of example entries by the written rule alone; uses nothing of the project.

    python recompute_hashes.py entry-examples.json

The rule: all fields of an entry but ``hash`` and ``signature``, as one JSON object;
UTF-8, text in NFC, keys sorted by code point, no spaces, null keys left out, no
floats; SHA-256 of those bytes, in hexadecimal.  Each entry names the hash of the
one before it, the first one 64 zeros.
"""

import hashlib
import json
import sys
import unicodedata


def quoted(text):
    out = ['"']
    for char in unicodedata.normalize("NFC", text):
        short = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\f": "\\f", "\n": "\\n", "\r": "\\r", "\t": "\\t"}.get(char)
        out.append(short or (f"\\u{ord(char):04x}" if ord(char) < 32 else char))
    return "".join(out) + '"'


def written(value):
    if value is True or value is False:
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, list):
        return "[" + ",".join(written(item) for item in value) + "]"
    if isinstance(value, dict):
        present = {unicodedata.normalize("NFC", key): item for key, item in value.items() if item is not None}
        return "{" + ",".join(quoted(key) + ":" + written(present[key]) for key in sorted(present)) + "}"
    raise SystemExit(f"{value!r} has no canonical form")


def main(path):
    with open(path, encoding="utf-8") as file:
        entries = json.load(file)["entries"]
    wrong, before = 0, "0" * 64
    for entry in entries:
        content = {key: value for key, value in entry.items() if key not in ("hash", "signature")}
        found = hashlib.sha256(written(content).encode("utf-8")).hexdigest()
        good = found == entry["hash"] and entry["prev_hash"] == before
        wrong += not good
        before = entry["hash"]
        sys.stdout.write(f"{entry['position']} {found} {'same' if good else 'DIFFERENT'}\n")
    return 1 if wrong or len(entries) < 10 else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
