#!/usr/bin/env bash
# Interrupts of the installed kernel, in every function that takes a capture.
set -euo pipefail
cd "$(dirname "$0")/../.."
command -v deno >/dev/null || deno() { npx -y deno@2.9.6 "$@"; }
export -f deno 2>/dev/null || true
exec bash .ci/outside/with_kernel bash -c 'deno run -A .ci/outside/interrupts.ts "$@"' interrupts "$@"
