#!/usr/bin/env bash
# SPDX-License-Identifier: Apache-2.0
# check_aarch64.sh HERE BUILD: builds loop_numbers for aarch64 in the folder BUILD, runs it under emulation and compares
# what it prints with what HERE, the same program for this machine, prints. Needs g++-aarch64-linux-gnu, qemu-user, python3.
set -euo pipefail
here=${1:?usage: check_aarch64.sh HERE BUILD}
build=${2:?usage: check_aarch64.sh HERE BUILD}
tests=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)

python3 "$tests/compare_numbers.py" --self-test
mkdir -p "$build"
cmake -S "$tests" -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DCMAKE_TOOLCHAIN_FILE="$tests/toolchain.cmake" \
  >"$build/build.log" 2>&1 && cmake --build "$build" >>"$build/build.log" 2>&1 || { cat "$build/build.log"; exit 1; }
readelf -h "$build/loop_numbers" | grep -q AArch64 || { echo "$build/loop_numbers is not for aarch64"; exit 1; }

# Held to the plainest instruction set, the sibling of what is built for aarch64; whether the other sets of this machine
# agree with it is another test (tests/infer/instruction_sets_test.cpp).
HELMWATER_INSTRUCTIONS=baseline "$here" >"$build/here.txt"
qemu-aarch64 "$build/loop_numbers" >"$build/there.txt"
python3 "$tests/compare_numbers.py" "$build/here.txt" "$build/there.txt"
