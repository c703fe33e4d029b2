#!/usr/bin/env bash
# SPDX-License-Identifier: Apache-2.0
# Builds the page into web/dist. Does nothing when dist is newer than everything it is made of. Needs Node 18 or later.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")"
command -v npm >/dev/null || { echo "web: npm is missing; install the packages nodejs and npm" >&2; exit 1; }
if [[ -f dist/index.html && -z $(find src tools index.html package-lock.json package.json tsconfig.json vite.config.ts -newer dist/index.html -print -quit) ]]; then
  echo "web: dist is up to date"
  exit 0
fi
if [[ ! -f node_modules/.package-lock.json || package-lock.json -nt node_modules/.package-lock.json ]]; then
  npm ci --no-audit --no-fund
  touch node_modules/.package-lock.json
fi
npm run --silent build
