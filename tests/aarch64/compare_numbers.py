#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Compares two outputs of loop_numbers, made on different processors.

usage: compare_numbers.py HERE THERE     says how far apart they are, exit 1 if too far
       compare_numbers.py --self-test    plants deviations and expects to find each

Both programs run the same given members. A state may be apart by 1e-3 of itself or 1e-4. A quantile may be apart by
0.5 % of its band from p05 to p95, or by 1e-4 where there is no band.
"""
import math
import sys

STATE_SHARE, STATE_FLOOR = 1e-3, 1e-4
BAND_SHARE, BAND_FLOOR = 5e-3, 1e-4


def read(text):
    """{(kind, name): numbers} of the lines that are compared."""
    numbers = {}
    for line in text.splitlines():
        kind, name, *rest = line.split()
        if kind in ("state", "band"):
            numbers[kind, name] = [float(word) for word in rest]
    return numbers


def compare(here, there):
    """What is wrong, as lines, and the worst deviation of each kind as a share of what is allowed."""
    wrong, worst = [], {"state": 0.0, "band": 0.0}
    for name in sorted(here.keys() ^ there.keys()):
        wrong.append(f"{' '.join(name)}: only one of the two has it")
    for (kind, name), mine in here.items():
        theirs = there.get((kind, name))
        if theirs is None:
            continue
        for place, (a, b) in enumerate(zip(mine, theirs, strict=True)):
            if kind == "state":
                allowed = max(STATE_SHARE * abs(a), STATE_FLOOR)
            else:
                allowed = max(BAND_SHARE * (mine[4] - mine[0]), BAND_FLOOR)
            apart = abs(a - b) / allowed
            if not apart <= 1:  # a number that is none is apart too
                wrong.append(f"{kind} {name} [{place}]: {a:.7g} here, {b:.7g} there, {allowed:.2g} allowed")
            worst[kind] = max(worst[kind], math.inf if math.isnan(apart) else apart)
    for kind in worst:
        if not any(key[0] == kind for key in here):
            wrong.append(f"no {kind} to compare")
    return wrong, worst


def self_test():
    plain = "with x SSE2\nstate a 2.0\nstate b 0.01\nband c 1 2 3 4 5\nband d 1 1 1 1 1\n"
    planted = [
        # from, to, how many breaches
        ("SSE2", "another", 0),
        ("a 2.0", "a 2.0019", 0),
        ("a 2.0", "a 2.0021", 1),
        ("a 2.0", "a nan", 1),
        ("b 0.01", "b 0.01009", 0),
        ("b 0.01", "b 0.01011", 1),
        ("c 1 2 3", "c 1 2 3.019", 0),
        ("c 1 2 3", "c 1 2 3.021", 1),
        ("d 1 1 1 1 1", "d 1 1 1 1 1.0002", 1),
        ("state b 0.01\n", "", 1),
        ("band c 1 2 3 4 5\nband d 1 1 1 1 1\n", "", 2),
    ]
    failed = 0
    for old, new, expected in planted:
        found = compare(read(plain), read(plain.replace(old, new)))[0]
        if len(found) != expected:
            failed += 1
            print(f"self-test: {old!r} -> {new!r}: expected {expected} breaches, found {found}")
    if not compare(read(""), read(""))[0]:
        failed += 1
        print("self-test: nothing at all passed")
    return failed


def main(arguments):
    if arguments == ["--self-test"]:
        return 1 if self_test() else 0
    if len(arguments) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    texts = []
    for path in arguments:
        with open(path, encoding="utf-8") as file:
            texts.append(read(file.read()))
    wrong, worst = compare(*texts)
    for line in wrong[:20]:
        print(line)
    if len(wrong) > 20:
        print(f"… and {len(wrong) - 20} more")
    print(f"{len(texts[0])} lines; worst state at {100 * worst['state']:.1f} %, worst quantile at "
          f"{100 * worst['band']:.1f} % of what is allowed")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
