#!/usr/bin/env bash
# Attacks on the marker and on what must not be lost: hostile hand-ins, odd
# files, a loaded machine, a kill in the middle, a full disk.
set -euo pipefail
cd "$(dirname "$0")/../.."
command -v deno >/dev/null || deno() { npx -y deno@2.9.6 "$@"; }
deno run -A .ci/outside/attacks_marking.ts
