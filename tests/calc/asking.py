"""Asking ``ndi compute`` in a test: a result, a refusal, or a message that names a key."""

import json

from ndi.calc.computations.table import COMPUTATIONS
from ndi.calc.computations.table import answer as run


def ask(name, **inputs):
    code, out, err = run(name, json.dumps(inputs))
    assert (code, err) == (0, ""), err or out
    return json.loads(out)["result"]


def refused(name, **inputs):
    code, out, err = run(name, json.dumps(inputs))
    assert (code, err) == (1, ""), err or out
    found = json.loads(out)["refusal"]
    assert list(found) == ["rule", "found", "limit", "ways_out"] and found["ways_out"]
    return found


def wrong(name, key, **inputs):
    code, out, err = run(name, json.dumps(inputs))
    assert (code, out) == (2, "") and f"{key}: " in err, (code, out, err)


def example(name, **change):
    return {k: v for k, v in (json.loads(COMPUTATIONS[name].example) | change).items() if v is not None}
