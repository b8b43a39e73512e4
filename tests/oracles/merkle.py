#!/usr/bin/env python3
"""Merkle roots and inclusion paths by pymerkle, to compare with.

Reads one JSON object a line: {"leaves": [hex of leaf data, ...]}, at least one leaf. Answers each with one line:
{"root": hex, "inclusion": [path of leaf 0, path of leaf 1, ...]}, a path being hex hashes, lowest first, without the
leaf itself (RFC 9162 section 2.1.3.1). `merkle.py --selftest` checks the library against the published roots first.
"""
import json
import sys

from pymerkle import InmemoryTree

# Leaves and root of size 8: transparency-dev/merkle, testonly/constants.go.
PUBLISHED_LEAVES = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"]
PUBLISHED_ROOT = "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"


def answer(leaves):
    tree = InmemoryTree(algorithm="sha256")
    for leaf in leaves:
        tree.append_entry(bytes.fromhex(leaf))
    size = tree.get_size()
    # The library counts leaves from 1, and puts the leaf's own hash first in the path.
    paths = [[node.hex() for node in tree.prove_inclusion(n + 1, size).path[1:]] for n in range(size)]
    return {"root": tree.get_root(size).hex(), "inclusion": paths}


if __name__ == "__main__":
    if sys.argv[1:] == ["--selftest"]:
        sys.exit(0 if answer(PUBLISHED_LEAVES)["root"] == PUBLISHED_ROOT else "pymerkle does not give the published root")
    for line in sys.stdin:
        print(json.dumps(answer(json.loads(line)["leaves"])), flush=True)
