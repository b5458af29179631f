#!/usr/bin/env bash
# Hostile notebooks against the installed kernel: each attack in a cell and in a
# worker, and what the documents say of permissions.
set -euo pipefail
cd "$(dirname "$0")/../.."
command -v deno >/dev/null || deno() { npx -y deno@2.9.6 "$@"; }
export -f deno 2>/dev/null || true
exec bash .ci/outside/with_kernel bash -c 'deno run -A .ci/outside/attacks.ts "$@"' attacks "$@"
