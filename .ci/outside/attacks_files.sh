#!/usr/bin/env bash
# Hostile files: forged notebooks and results, bombs, pipes, strangers at the
# kernel's door, a disk that fills up. Each is held against the real readers.
set -euo pipefail
cd "$(dirname "$0")/../.."
command -v deno >/dev/null || deno() { npx -y deno@2.9.6 "$@"; }
deno run -A .ci/outside/attacks_files.ts "$@"
