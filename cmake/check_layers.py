#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Holds src/ to its layers: who may include and link whom.

usage: check_layers.py ROOT          names every breach, exit 1 if there is one
       check_layers.py --self-test   plants breaches in a scratch tree and expects to find each

Add a folder here together with its line in src/README.md.
"""
import pathlib
import re
import sys
import tempfile

# folder: the folders whose headers it may include
ARROWS = {
    "units": set(),
    "chem": {"units"},
    "handbook": {"units", "chem"},
    "records": {"units", "handbook"},
    "loop": {"units", "chem", "handbook"},
    "infer": {"units", "chem", "handbook", "records", "loop"},
    "steer": {"units", "chem", "handbook", "records", "loop", "infer"},
    "server": {"units", "handbook", "records", "infer", "steer"},
}
# Slow to compile: a header that includes one makes every reader pay.
HEAVY = ("toml++/", "nlohmann/json.hpp", "CLI/", "boost/beast", "boost/asio", "spdlog/")
# The model is a pure function of its inputs: nothing in these folders reads a clock, a file or a socket.
PURE = {"units", "chem", "loop"}
IMPURE_HEADERS = {"chrono", "fstream", "filesystem", "ctime", "time.h", "sys/socket.h"}

INCLUDE = re.compile(r'^\s*#\s*include\s*([<"])([^>"]+)[>"]', re.MULTILINE)
LINK = re.compile(r"\bhelmwater_(\w+)")


def line_of(text, offset):
    return text.count("\n", 0, offset) + 1


def breaches_in_source(folder, path, text):
    for match in INCLUDE.finditer(text):
        quote, header = match.groups()
        where = f"{path}:{line_of(text, match.start())}"
        first = header.split("/")[0]
        if quote == '"':
            if "/" not in header or first not in ARROWS:
                yield f'{where}: "{header}" must begin with a folder of src/, known to check_layers.py'
            elif first != folder and first not in ARROWS[folder]:
                allowed = ", ".join(sorted(ARROWS[folder])) or "nothing"
                yield f'{where}: {folder} may not include "{header}"; it may include {allowed}'
        if path.suffix == ".hpp" and header.startswith(HEAVY):
            yield f"{where}: <{header}> is slow to compile; include it in a .cpp file"
        if folder in PURE and header in IMPURE_HEADERS:
            yield f"{where}: {folder} knows no clock and no file; pass in what <{header}> would fetch"


def breaches_in_cmake(folder, path, text):
    code = re.sub(r"#.*", "", text)
    for match in LINK.finditer(code):
        other = match.group(1)
        if other in ARROWS and other != folder and other not in ARROWS[folder]:
            yield f"{path}:{line_of(code, match.start())}: {folder} may not link helmwater_{other}"


def breaches(root):
    src = root / "src"
    for folder in sorted(p for p in src.iterdir() if p.is_dir()):
        if folder.name not in ARROWS:
            yield f"{folder}: check_layers.py does not know this folder"
            continue
        for path in sorted(folder.rglob("*")):
            if path.suffix in (".hpp", ".cpp"):
                yield from breaches_in_source(folder.name, path, path.read_text(encoding="utf-8"))
            elif path.name == "CMakeLists.txt":
                yield from breaches_in_cmake(folder.name, path, path.read_text(encoding="utf-8"))


PLANTED = [
    # file, text, part of the breach's message; None: must pass
    ("src/units/a.hpp", '#include "chem/b.hpp"\n', 'units may not include "chem/b.hpp"'),
    ("src/chem/a.cpp", '#include "units/a.hpp"\n#include "loop/a.hpp"\n', 'a.cpp:2: chem may not include'),
    ("src/loop/a.cpp", '  #  include "records/entry.hpp"\n', "loop may not include"),
    ("src/infer/a.cpp", '#include "a.hpp"\n', "must begin with a folder"),
    ("src/infer/a.cpp", '#include "../loop/a.hpp"\n', "must begin with a folder"),
    ("src/loop/a.hpp", "#include <fstream>\n", "knows no clock and no file"),
    ("src/records/a.hpp", "#include <toml++/toml.h>\n", "slow to compile"),
    ("src/chem/CMakeLists.txt", "helmwater_library(chem LINKS helmwater_infer)\n", "may not link helmwater_infer"),
    ("src/common/a.hpp", "\n", "does not know this folder"),
    ("src/infer/a.cpp", '#include "loop/a.hpp"\n#include <vector>\n', None),
    ("src/records/a.cpp", "#include <toml++/toml.h>\n", None),
    ("src/chem/CMakeLists.txt", "helmwater_library(chem LINKS helmwater_units) # helmwater_infer\n", None),
]


def self_test():
    wrong = 0
    for name, text, expected in PLANTED:
        with tempfile.TemporaryDirectory() as scratch:
            path = pathlib.Path(scratch) / name
            path.parent.mkdir(parents=True)
            path.write_text(text, encoding="utf-8")
            found = list(breaches(pathlib.Path(scratch)))
        fits = not found if expected is None else len(found) == 1 and expected in found[0]
        if not fits:
            wrong += 1
            print(f"self-test: {name} with {text!r}: expected {expected!r}, found {found}")
    return wrong


def main(arguments):
    if arguments == ["--self-test"]:
        return 1 if self_test() else 0
    if len(arguments) != 1:
        print(__doc__, file=sys.stderr)
        return 2
    found = list(breaches(pathlib.Path(arguments[0])))
    for breach in found:
        print(breach)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
