#!/usr/bin/env bash
# A campaign of captures on a real scheduler, whose node dies in the middle.
set -euo pipefail
cd "$(dirname "$0")/../.."
command -v deno >/dev/null || deno() { npx -y deno@2.9.6 "$@"; }
deno run -A .ci/outside/scheduler.ts
