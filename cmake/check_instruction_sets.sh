#!/usr/bin/env bash
# SPDX-License-Identifier: Apache-2.0
# check_instruction_sets.sh BUILD: every function that the object files for AVX2 and AVX-512 share with the rest of the
# program must carry its instruction set in its name. The linker keeps one copy of a shared function, and a copy compiled
# for AVX-512 would stop the program on a processor without it. Needs an optimised build.
set -euo pipefail

objects() { find "$1" -name 'member_block_avx*.o' -path '*src/infer*'; }

# Shared code symbols (T: global, W: weak, i: indirect; u, V: unique and weak data, which take code's vtables along) of
# object $1 whose name says nothing of set $2.
leaks() { nm --defined-only "$1" | awk -v set="$2" '$2 ~ /^[TWiuV]$/ && $3 !~ set { print $3 }'; }

build=${1:?usage: check_instruction_sets.sh BUILD}
found=0
status=0
while read -r object; do
  found=$((found + 1))
  set=$(basename "$object" | sed -E 's/^member_block_(avx[0-9]+)\..*/\1/')
  [[ -n $(nm --defined-only "$object" | grep -E " [TW] .*$set") ]] || { echo "$object: no function of $set in it"; status=1; }
  while read -r symbol; do
    [[ -n $symbol ]] || continue
    echo "$object: $(c++filt "$symbol") is compiled for $set and shared"
    status=1
  done < <(leaks "$object" "$set")
done < <(objects "$build")

if ((found == 0)) && [[ $(uname -m) == x86_64 ]]; then
  echo "$build holds no object files for AVX2 or AVX-512; build it first" >&2
  exit 1
fi
exit $status
